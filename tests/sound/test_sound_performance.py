"""Time and articulation: what a player does with a score."""

from fractions import Fraction as F
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.analysis import analyse
from builder.counterpoint import said
from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, notated
from builder.sound import LEGATO, STRICT, Breathing, TempoMap, perform, tempo_map
from builder.source import read

CONTENT = Path(__file__).parents[2] / "content" / "versets"
SOURCES = sorted(CONTENT.glob("*.md"))
SECOND = TempoMap(((F(0), 500_000),))


def score(*lines: str, metre: str = "C", bars: int = 2) -> Score:
    """Lines such as `D4/2 A4/4~ A4/4`, value as denominator, `~` for a tie, `R` for a rest."""
    parts = []
    for voice, line in zip(("cantus", "altus", "tenor", "bassus"), lines):
        now, notes = F(0), []
        for word in line.split():
            name, _, value = word.partition("/")
            length = F(4, int(value.rstrip("~")))
            notes.append(Note(now, length, None if name == "R" else Pitch.parse(name), word.endswith("~")))
            now += length
        parts.append(Part(voice, tuple(notes)))
    signed = Metre.parse(metre)
    return notated(
        Score(
            "",
            "plain",
            signed,
            Signature(),
            tuple(Bar(n + 1, n * signed.bar, signed.bar) for n in range(bars)),
            tuple(parts),
        )
    )


def gaps(played: object, voice: str = "cantus") -> list[float]:
    notes = [n for n in played.notes if n.voice == voice]  # type: ignore[attr-defined]
    return [round(b.start - a.end, 6) for a, b in pairwise(notes)]


def test_good_notes_are_set_off_more_than_bad_ones() -> None:
    weak, beat, middle = gaps(perform(score("D4/8 E4/8 F4/4 G4/2 A4/1"), SECOND))[:3]
    assert weak < beat < middle


def test_the_same_key_is_let_go_long_enough_to_speak_again() -> None:
    assert gaps(perform(score("D4/8 D4/8 D4/4 D4/2 D4/1"), SECOND))[0] >= 0.05


def test_a_suspension_is_bound_to_its_resolution() -> None:
    held, plain = (
        gaps(perform(score(line), SECOND))[1] for line in ("D4/2 D5/2~ D5/2 C#5/2", "D4/2 D5/2 D5/2 C#5/2")
    )
    assert held <= 0.012 < plain


def test_legato_holds_every_key_for_its_written_length() -> None:
    played = perform(score("D4/4 D4/8 F4/8 G4/2 A4/1"), SECOND, articulation=LEGATO)
    assert gaps(played) == [0.0] * 4


def test_the_last_sonority_ends_together_at_the_end() -> None:
    played = perform(score("D5/1 F#5/1", "A4/1 A4/2 A4/2", "D3/1 D3/1"), SECOND)
    assert {n.end for n in played.notes if n.onset + n.duration == 8} == {played.end}


def test_tied_pieces_sound_once_and_keep_their_ids_with_their_own_times() -> None:
    played = perform(score("D4/1~ D4/2 E4/2"), SECOND)
    assert len(played.notes) == 2
    assert played.notes[0].pieces == (("plain-cantus-1-1", 0.0), ("plain-cantus-2-1", 2.0))


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: p.stem)
def test_every_written_note_of_the_course_is_played_once_in_its_time(path: Path) -> None:
    verset = read(path)
    written = notated(verset.score())
    tempo = tempo_map(verset, analyse(verset))
    played = perform(written, tempo)
    ids = [name for n in played.notes for name, _ in n.pieces]
    assert sorted(ids) == sorted(n.id for p in written.parts for n in p.notes if n.pitch)
    for note in played.notes:
        assert note.start == tempo.seconds(note.onset)
        assert note.start < note.end <= tempo.seconds(note.onset + note.duration)


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: p.stem)
def test_strict_time_is_the_written_beat(path: Path) -> None:
    verset = read(path)
    value, beats = verset.tempo
    tempo = tempo_map(verset, breathing=STRICT)
    assert tempo.seconds(verset.end) == pytest.approx(float(verset.end / value * 60 / beats), abs=1e-3)
    assert len(tempo.steps) == 1


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: p.stem)
def test_time_breathes_before_entries_broadens_into_the_cadence_and_holds_the_final(path: Path) -> None:
    verset = read(path)
    found = analyse(verset)
    played, strict = tempo_map(verset, found), tempo_map(verset, breathing=STRICT)

    def ratio(start: F, end: F) -> float:
        return (played.seconds(end) - played.seconds(start)) / (strict.seconds(end) - strict.seconds(start))

    beat, final = verset.metre.beat, found.cadences[-1]
    assert ratio(F(0), beat) == pytest.approx(1.0, abs=0.001)
    for entry in found.entries[1:]:
        assert ratio(entry.onset - beat, entry.onset) == pytest.approx(1 + Breathing().entry, abs=0.01)
    assert 1.05 < ratio(final.start, final.onset) < 1.2 < ratio(final.onset, verset.end) < 1.6


def test_bars_and_beats_are_counted_in_the_same_time() -> None:
    verset = read(CONTENT / "sixth.md")
    tempo = tempo_map(verset, analyse(verset))
    bars, beats = tempo.bars(verset.bars), tempo.beats(verset.bars, verset.metre)
    assert [n for n, _ in bars] == [b.number for b in verset.bars]
    assert {s for _, s in bars} <= set(beats)
    assert len(beats) == 3 * len(bars)


@given(st.lists(st.integers(300_000, 1_500_000), min_size=1, max_size=8), st.fractions(0, 40))
def test_a_tempo_map_goes_forward_and_can_be_read_back(lengths: list[int], quarter: F) -> None:
    tempo = TempoMap(tuple((F(3 * n), length) for n, length in enumerate(lengths)))
    assert tempo.quarters(tempo.seconds(quarter)) == pytest.approx(float(quarter), abs=1e-6)
    assert tempo.seconds(quarter + F(1, 8)) > tempo.seconds(quarter)


def test_notes_the_tuning_lacks_are_told_with_bar_beat_and_advice() -> None:
    played = perform(score("B4/1 D#4/1", "B3/1 B3/1"), SECOND)
    warning = said(*played.warnings)
    assert warning.startswith(
        "bar 2, beat 1, cantus: Quarter-comma meantone has no D♯; E♭ sounds, 41 cents too high"
    )
    assert "quarter-comma, split D#" in warning
    assert perform(score("B4/1 D#4/1", "B3/1 B3/1"), SECOND, "quarter-comma, split D#").warnings == ()


def test_a_written_consonance_that_howls_is_told() -> None:
    warning = said(*perform(score("A4/1 A4/1", "R/1 D4/1"), SECOND, "just").warnings)
    assert "bar 2, beat 1, cantus and altus: D4–A4 (P5) is 22 cents too narrow in Just" in warning


def test_an_unknown_tuning_or_pitch_is_refused() -> None:
    with pytest.raises(ValueError, match="known are"):
        perform(score("D4/1"), SECOND, "somehow")
    with pytest.raises(ValueError, match="392"):
        perform(score("D4/1"), SECOND, a4=300)


def test_a_short_octave_sounds_the_octave_of_what_it_lacks_and_says_so() -> None:
    music = score("D4/1 D4/1", "F#2/2 G2/2 G#2/1")
    short = perform(music, SECOND, short_octave=True)
    assert [n.pitch.name for n in short.notes if n.voice == "altus"] == ["F#3", "G2", "G#3"]
    assert said(short.warnings[0]).startswith("bar 1, beat 1, altus: a short octave has no F♯2; F♯3 sounds")
    assert [n.pitch.name for n in perform(music, SECOND).notes if n.voice == "altus"] == ["F#2", "G2", "G#2"]
    assert perform(music, SECOND).warnings == ()


def test_a_note_off_the_keyboard_is_told() -> None:
    warning = said(*perform(score("D6/1 C6/1"), SECOND).warnings)
    assert warning.startswith("bar 1, beat 1, cantus: D6 lies off the keyboard")
