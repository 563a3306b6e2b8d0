"""What a diminution does to the versets of the course."""

from __future__ import annotations

import itertools
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from course import course_setting

from builder.analysis import Analysis
from builder.counterpoint import Realisation
from builder.diminution import Diminution, diminish, diminutions, patterns, skeleton
from builder.music import Note, Part, Score, read_tuning
from builder.source import Verset
from builder.source.verset import GivenNote

Plain = tuple[Verset, Analysis, Realisation]

NAMES = ("first", "sixth")
LEVELS = (1, 2, 3)


def sung(part: Part) -> list[tuple[Fraction, Fraction, object]]:
    return [(n.onset, n.duration, n.pitch) for n in part.sounding()]


def count(score: Score) -> int:
    return sum(len(part.sounding()) for part in score.parts)


_GRACED: dict[tuple[str, int], Mapping[int, Diminution]] = {}


def graced(args: Plain, seed: int = 0) -> Mapping[int, Diminution]:
    """All levels of a verset of the course; made once."""
    name = Path(args[0].path).stem
    if not seed:
        return course_setting(name).diminutions
    if (name, seed) not in _GRACED:
        _GRACED[name, seed] = diminutions(*args, seed=seed)
    return _GRACED[name, seed]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("level", LEVELS)
def test_the_plain_voices_can_be_taken_out_again(name: str, level: int, plain) -> None:  # type: ignore[no-untyped-def]
    realisation = plain(name)[2]
    result = graced(plain(name))[level]
    for old, new in zip(realisation.score.parts, skeleton(result).parts, strict=True):
        assert sung(old) == sung(new)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("level", LEVELS)
def test_the_theme_is_plain_at_its_entries(name: str, level: int, plain) -> None:  # type: ignore[no-untyped-def]
    _, analysis, realisation = plain(name)
    result = graced(plain(name))[level]
    for entry in analysis.entries:
        old, new = (s.part(entry.voice) for s in (realisation.score, result.score))
        inside = [x for x in sung(old) if entry.onset <= x[0] < entry.end]
        assert inside and inside == [x for x in sung(new) if entry.onset <= x[0] < entry.end]


@pytest.mark.parametrize("name", NAMES)
def test_each_level_is_denser(name: str, plain) -> None:  # type: ignore[no-untyped-def]
    counts = [count(d.score) for d in graced(plain(name)).values()]
    assert counts == sorted(set(counts))


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("level", LEVELS)
def test_the_check_finds_no_error_that_the_plain_did_not_have(name, level, plain) -> None:  # type: ignore[no-untyped-def]
    realisation = plain(name)[2]
    had = {(f.rule, f.voices, f.place.bar) for f in realisation.findings if f.severity == "error"}
    for seed in (0, 1):
        errors = [
            f for f in graced(plain(name), seed)[level].findings if f.severity == "error" and not f.allowed
        ]
        assert not [f for f in errors if (f.rule, f.voices, f.place.bar) not in had]


@pytest.mark.parametrize("name", NAMES)
def test_in_voices_nothing_is_shorter_than_an_eighth(name: str, plain) -> None:  # type: ignore[no-untyped-def]
    score = graced(plain(name))[1].score
    assert all(n.duration >= Fraction(1, 2) for part in score.parts for n in part.sounding())


@pytest.mark.parametrize("name", NAMES)
def test_what_is_there_at_a_level_is_heard_in_the_next(name: str, plain) -> None:  # type: ignore[no-untyped-def]
    """Three of four notes of a level stand on their onset in the next (D. Ortiz, Trattado de glosas, 1553: 79
    to 84 of a hundred), and all of the given line's."""
    verset = plain(name)[0]
    given = {(g.voice, g.note.onset) for g in verset.given}
    levels = graced(plain(name))
    for one, two in ((1, 2), (2, 3)):
        kept = total = 0
        for part in levels[one].score.parts:
            new = {(n.onset, n.pitch) for n in levels[two].score.part(part.voice).sounding()}
            for note in part.sounding():
                stands = (note.onset, note.pitch) in new
                total += 1
                kept += stands
                if one == 1 and (part.voice, note.onset) in given:
                    assert stands
        assert kept >= 0.75 * total


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("level", LEVELS)
def test_a_suspension_sounds_before_it_is_broken(name: str, level: int, plain) -> None:  # type: ignore[no-untyped-def]
    """The held note keeps its pitch from the stroke of the dissonance for at least half of what is
    left of it."""
    realisation = plain(name)[2]
    result = graced(plain(name))[level]
    for voice, note, struck in suspended(realisation.score):
        until = struck + (note.end - struck) / 2
        heard = result.score.part(voice).at(struck)
        assert heard is not None and heard.pitch == note.pitch and heard.end >= until


def suspended(score: Score) -> list[tuple[str, Note, Fraction]]:
    """Notes held into a second or seventh that another voice strikes and holds, or into a fourth that the
    lowest strikes, and falling by step."""
    found = []
    for part in score.parts:
        for note, after in itertools.pairwise(part.sounding()):
            if after.onset != note.end or note.pitch.diatonic - after.pitch.diatonic != 1:  # type: ignore[union-attr]
                continue
            for other in score.parts:
                for struck in other.sounding():
                    if other.voice == part.voice or not note.onset < struck.onset < note.end <= struck.end:
                        continue
                    steps = note.pitch.diatonic - struck.pitch.diatonic  # type: ignore[union-attr]
                    sounding = [n.pitch.midi for p in score.parts if (n := p.at(struck.onset))]  # type: ignore[union-attr]
                    lowest = struck.pitch.midi == min(sounding)  # type: ignore[union-attr]
                    if abs(steps) % 7 in (1, 6) or (lowest and steps % 7 == 3):
                        found.append((part.voice, note, struck.onset))
    return found


def test_a_voice_is_suspended_rests_and_imitates(plain) -> None:  # type: ignore[no-untyped-def]
    """In voices: more notes held over than in the plain setting, silence before a voice comes in again,
    figures that one voice has from another."""
    for name in ("first",):
        args = plain(name)
        realisation, voices = args[2].score, graced(args)[1].score
        # Two voices that strike together against one held note are one suspension.
        assert held_over(voices) >= held_over(realisation)
        assert silence(voices) > silence(realisation)
        assert imitated(voices) > 1.5 * imitated(realisation)


def held_over(score: Score) -> int:
    return len({(voice, note.onset) for voice, note, _ in suspended(score)})


def silence(score: Score) -> Fraction:
    return sum(
        (b.onset - a.end for part in score.parts for a, b in itertools.pairwise(part.sounding())), Fraction(0)
    )


def imitated(score: Score) -> int:
    """Notes in a figure of four that another voice had before, by steps and lengths."""
    found: dict[object, list[tuple[Fraction, str, set[tuple[str, Fraction]]]]] = {}
    for part in score.parts:
        notes = part.sounding()
        for group in zip(notes, notes[1:], notes[2:], notes[3:]):
            pairs = list(itertools.pairwise(group))
            if any(a.end != b.onset for a, b in pairs):
                continue
            steps = tuple(b.pitch.diatonic - a.pitch.diatonic for a, b in pairs)  # type: ignore[union-attr]
            lengths = tuple(b.onset - a.onset for a, b in pairs)
            if sum(s != 0 for s in steps) > 1:
                places = {(part.voice, n.onset) for n in group}
                found.setdefault((steps, lengths), []).append((group[0].onset, part.voice, places))
    hit: set[tuple[str, Fraction]] = set()
    for places in found.values():
        for onset, voice, notes in places:  # type: ignore[assignment]
            if any(v != voice and t < onset for t, v, _ in places):
                hit |= notes  # type: ignore[arg-type]
    return len(hit)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("level", LEVELS)
def test_an_altered_note_and_its_natural_stand_two_quarters_apart(name, level, plain) -> None:  # type: ignore[no-untyped-def]
    """But where the plain setting has them nearer already."""
    old = both_ways(plain(name)[2].score)
    assert both_ways(graced(plain(name))[level].score) <= old


def both_ways(score: Score) -> set[int]:
    """Letters that stand in two forms within two quarters, with the half note where they do."""
    notes = [n for part in score.parts for n in part.sounding()]
    return {
        a.pitch.step  # type: ignore[union-attr]
        for a, b in itertools.permutations(notes, 2)
        if a.pitch.step == b.pitch.step  # type: ignore[union-attr]
        and a.pitch.alter != b.pitch.alter  # type: ignore[union-attr]
        and a.onset <= b.onset < a.end + 2
    }


@pytest.mark.parametrize("name", NAMES)
def test_the_groppo_belongs_to_the_leading_note_one_at_a_time(name: str, plain) -> None:  # type: ignore[no-untyped-def]
    """To and fro on a note and its neighbour in sixteenths, going up into a close: only there, and in one
    voice."""
    _, analysis, _ = plain(name)
    closes = {c.onset for c in analysis.cadences}
    for level in (2, 3):
        ends = [c.onset + c.duration for c in graced(plain(name))[level].choices if c.name == "groppo"]
        assert set(ends) <= closes and len(ends) == len(set(ends))


def names(result: Diminution) -> str:
    return " ".join(f"{p.voice}:{n.onset}:{n.pitch}" for p in result.score.parts for n in p.notes)


def test_each_seed_gives_its_own_diminution_and_always_the_same(plain) -> None:  # type: ignore[no-untyped-def]
    args = plain("sixth")
    several = [names(graced(args, n)[2]) for n in range(2)]
    assert len(set(several)) == len(several)
    assert names(graced(args, 1)[1]) == names(diminish(*args, level=1, seed=1))


def test_the_same_seed_gives_the_same_notes_in_every_process(plain) -> None:  # type: ignore[no-untyped-def]
    verset, *_ = plain("sixth")
    code = (
        "import sys\nfrom builder.source import read\nfrom builder.analysis import analyse\n"
        "from builder.counterpoint import realise\nfrom builder.diminution import diminish\n"
        f"v = read({verset.path!r}); a = analyse(v)\n"
        "r = diminish(v, a, realise(v, a), level=2, seed=2)\n"
        "print(' '.join(f'{p.voice}:{n.onset}:{n.pitch}' for p in r.score.parts for n in p.notes))"
    )
    found = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={"PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(found) == 1 and "cantus" in found.pop()


def test_the_seed_changes_the_conception(plain) -> None:  # type: ignore[no-untyped-def]
    """Of the notes that two seeds add to the plain setting a third at most are the same."""
    args = plain("first")
    old = {(p.voice, n.onset, n.pitch) for p in args[2].score.parts for n in p.sounding()}
    one, two = (
        {(p.voice, n.onset, n.pitch) for p in graced(args, seed)[3].score.parts for n in p.sounding()} - old
        for seed in (0, 1)
    )
    assert len(one & two) <= 0.35 * min(len(one), len(two))


def test_the_given_line_can_be_left_alone(plain) -> None:  # type: ignore[no-untyped-def]
    verset, analysis, realisation = plain("first")
    kept = diminish(verset, analysis, realisation, level=3, given_line=False)
    assert kept.choices
    assert not _broken(verset, kept.score)
    assert _broken(verset, graced(plain("first"))[3].score)


def _broken(verset: Verset, score: Score) -> list[GivenNote]:
    """Given notes during which their voice strikes anything but the note at its beginning."""
    sung = {p.voice: p.sounding() for p in score.parts}
    return [
        g
        for g in verset.given
        if g.note.pitch is not None
        and [(n.onset, n.pitch) for n in sung[g.voice] if g.note.onset <= n.onset < g.note.end]
        != [(g.note.onset, g.note.pitch)]
    ]


def test_the_level_comes_from_the_source_unless_it_is_asked_for(plain) -> None:  # type: ignore[no-untyped-def]
    args = plain("sixth")
    assert diminish(*args).level == (args[0].settings.level or 2)
    assert diminish(*args, level=1).level == 1
    with pytest.raises(ValueError, match="level 4"):
        diminish(*args, level=4)


def test_pinned_diminutions_are_kept_and_named_when_known(plain) -> None:  # type: ignore[no-untyped-def]
    bare = plain("first")
    turn = next(p for p in patterns() if p.id == "second-down-turn-1/half")
    target = next(
        c
        for c in range(len(bare[2].score.part("cantus").sounding()) - 1)
        if _fits(bare[2].score.part("cantus").sounding(), c, turn.interval, bare[1])
    )
    note = bare[2].score.part("cantus").sounding()[target]
    bar = bare[0].place(note.onset).bar
    offset = note.onset - bare[0].bars[bar - 1].onset
    up = bare[0].signature.pitch(note.pitch.diatonic + 1)
    skip = f"_/{4 / offset if offset else 1} " if offset else ""
    turned = f"{note.pitch}/4 {up}/8 {note.pitch}/8"
    rest = _rest(bare[0], bar, offset)
    block = f"\n\n```diminished\ncantus {bar} | {skip}{turned}{rest}\n```\n"
    verset, analysis, realisation = plain("first", block)
    for result in diminutions(verset, analysis, realisation, up_to=2).values():
        (mine,) = [c for c in result.choices if c.pinned]
        assert (mine.voice, mine.onset, mine.name) == ("cantus", note.onset, "turn")
        assert [str(n.pitch) for n in mine.notes] == [str(note.pitch), str(up), str(note.pitch)]
        for old, new in zip(realisation.score.parts, skeleton(result).parts, strict=True):
            assert sung(old) == sung(new)


def _rest(verset, bar: int, offset: Fraction) -> str:  # type: ignore[no-untyped-def]
    left = verset.bars[bar - 1].length - offset - 2
    return f" _/{4 / left}" if left else ""


def _fits(notes, n: int, interval: int, analysis) -> bool:  # type: ignore[no-untyped-def]
    note, after = notes[n], notes[n + 1]
    return (
        note.duration == 2
        and after.pitch.diatonic - note.pitch.diatonic == interval
        and after.onset == note.end
        and not any(e.voice == "cantus" and note.onset < e.end for e in analysis.entries)
    )


def test_a_pin_that_is_no_known_pattern_is_kept_by_hand_and_checked(plain) -> None:  # type: ignore[no-untyped-def]
    block = "\n\n```diminished\ncantus 8 | F5/8 B4/8 F5/4 C5/4. D5/8\n```\n"
    verset, analysis, realisation = plain("fourth", block)
    result = diminish(verset, analysis, realisation, level=1)
    hand = [c for c in result.choices if c.pinned]
    assert hand and all(c.name == "by hand" and not c.pattern for c in hand)
    start = verset.bars[7].onset
    heard = [str(n.pitch) for n in result.score.part("cantus").sounding() if start <= n.onset < start + 4]
    assert heard == ["F5", "B4", "F5", "C5", "D5"]
    assert any(f.rule in ("augmented-leap", "diminished-leap") and f.place.bar == 8 for f in result.findings)
    for old, new in zip(realisation.score.parts, skeleton(result).parts, strict=True):
        assert sung(old) == sung(new)


def test_keys_are_judged_by_the_tuning_of_the_verset(plain) -> None:  # type: ignore[no-untyped-def]
    verset, analysis, realisation = plain("second")
    found = {
        words: {
            f.rule
            for f in diminish(verset, analysis, realisation, level=1, tuning=read_tuning(words)).findings
        }
        for words in ("quarter-comma", "quarter-comma, D# for Eb")
    }
    assert "not-in-tuning" not in found["quarter-comma"]
    assert "not-in-tuning" in found["quarter-comma, D# for Eb"]


def test_density_asks_for_fewer_or_more_small_notes(plain) -> None:  # type: ignore[no-untyped-def]
    verset, analysis, realisation = plain("sixth")
    counts = []
    for density in (0.5, 1.5):
        asked = replace(verset, settings=replace(verset.settings, density=density))
        score = diminish(asked, analysis, realisation, level=2).score
        counts.append(sum(n.duration <= Fraction(1, 2) for p in score.parts for n in p.sounding()))
    assert counts[1] >= 1.25 * counts[0]
