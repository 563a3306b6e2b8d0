"""Exact answers measured by music21 (music21.interval): a reference library for named intervals."""

from itertools import pairwise
from pathlib import Path

import pytest

from builder.analysis import TONES, analyse
from builder.analysis.line import heard
from builder.analysis.tone_table import moved
from builder.source import parse, read

interval = pytest.importorskip("music21.interval")
key = pytest.importorskip("music21.key")
pitch = pytest.importorskip("music21.pitch")

VERSETS = sorted((Path(__file__).parents[2] / "content" / "versets").glob("*.md"))


def spelled(name: str) -> str:
    """music21 writes a flat as a minus sign."""
    return name.replace("b", "-")


def named(pitches: list[str]) -> list[str]:
    """The melodic intervals of a line, direction included, as music21 names them."""
    row = [pitch.Pitch(spelled(p)) for p in pitches]
    return [interval.Interval(a, b).directedName for a, b in pairwise(row)]


@pytest.mark.parametrize("path", VERSETS, ids=lambda p: p.stem)
def test_an_exact_answer_has_the_themes_intervals_and_a_tonal_one_has_not(path: Path) -> None:
    verset = read(path)
    found = analyse(verset)
    notes = heard(verset)
    theme = named([p.name for p in found.theme.pitches])
    for entry in found.entries[1:]:
        inside = [
            n for n in notes if entry.onset <= n.onset and n.end <= entry.end and n.voice == entry.voice
        ]
        answer = named([n.pitch.name for n in inside[: entry.matched]])
        if entry.kind == "exact":
            assert answer == theme[: entry.matched - 1]
        elif entry.kind in ("modal", "tonal"):
            assert answer != theme[: entry.matched - 1]


@pytest.mark.parametrize("tone", TONES, ids=lambda t: str(t.number))
def test_every_letter_of_a_tone_belongs_to_its_signature(tone) -> None:
    """music21.key: the notes that a signature alters."""
    for form in tone.forms:
        signs = key.KeySignature({"Bb": -1, "none": 0, "F#": 1}[form.signature])
        for letter in (form.final, form.close, form.reciting, *form.entries, *form.cadences):
            altered = signs.accidentalByStep(letter[0])
            assert (altered.modifier if altered else "") == spelled(letter)[1:]


@pytest.mark.parametrize("tone", TONES, ids=lambda t: str(t.number))
def test_entries_lie_a_fifth_apart_and_fifths_move_as_music21_moves_them(tone) -> None:
    final, fifth = tone.forms[0].entries
    for fifths in (-2, -1, 1, 2):
        up = pitch.Pitch(spelled(final)).transpose(interval.Interval("P5" if fifths > 0 else "P-5"))
        for _ in range(abs(fifths) - 1):
            up = up.transpose(interval.Interval("P5" if fifths > 0 else "P-5"))
        assert spelled(moved(final, fifths)) == up.name
    assert spelled(moved(final, 1)) == spelled(fifth)


FUGUES = {
    "BWV 846": (
        "none",
        "R/8 C4/8 D4/8 E4/8 F4/8. G4/32 F4/32 E4/8 A4/8 | D4/8 G4/8 A4/8 B4/8 C5/2",
        "R/8 G2/8 A2/8 B2/8 C3/8. D3/32 C3/32 B2/8 E3/8 | A2/8 D3/8 E3/8 F#3/8 G3/2 | G2/1{4 3} | C3/1",
        "exact",
    ),
    "BWV 847": (
        "Bb Eb Ab",
        "C5/8 B4/8 C5/4 G4/4 Ab4/4 | C5/8 B4/8 C5/4 D5/4 G4/4",
        "G3/8 F#3/8 G3/4 C3/4 Eb3/4 | G3/8 F#3/8 G3/4 A3/4 D3/4 | G2/1{4 n} | C3/1",
        "tonal",
    ),
    "BWV 1080, 1": (
        "Bb",
        "D4/2 A4/2 | F4/2 D4/2 | C#4/2 D4/4 E4/4 | F4/1",
        "A2/2 D3/2 | C3/2 A2/2 | G#2/2 A2/4 B2/4 | C3/1 | A2/1{4 #} | D3/1",
        "tonal",
    ),
}
"""J. S. Bach: heads of subjects and answers (published, Bach-Gesamtausgabe; from memory), some values made
to fill bars."""


@pytest.mark.parametrize("name", FUGUES)
def test_answers_of_published_fugues_are_of_the_kind_that_handbooks_teach(name: str) -> None:
    """The answers of BWV 846 and 847 and of the first piece of BWV 1080 are the handbooks' examples of a real
    and of a tonal answer (common practice)."""
    signature, subject, answer, kind = FUGUES[name]
    front = f"---\ntitle: A fugue\nverset: {{metre: C, signature: {signature}}}\n---\n"
    found = analyse(parse(f"{front}```given\ncantus G2 | {subject}\nbassus F4 | {answer}\n```\n"))
    assert [e.kind for e in found.entries] == ["theme", kind]
