"""What must hold for every verset, whatever it says."""

import os
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from builder.analysis import Analysis, analyse, as_words
from builder.analysis.formulas import over
from builder.analysis.line import heard
from builder.analysis.tones import rests_on_fifth
from builder.music import VOICES, WRITTEN, Figure, FigureSign, Interval, Pitch, Signature
from builder.music.figure import SIGNS
from builder.music.pitch import STEPS
from builder.source import GivenNote, Verset, parse, read

VERSETS = sorted((Path(__file__).parents[2] / "content" / "versets").glob("*.md"))
MANY = 2000 if os.environ.get("VERSET_MANY") else 60
CLEFS = {"cantus": "C1", "altus": "C3", "tenor": "C4", "bassus": "F4"}
FIGURES = (
    "",
    "",
    "",
    "{6}",
    "{7 6}",
    "{4 3}",
    "{4 #}",
    "{#}",
    "{7 #6}",
    "{# 6/4 5/4 #}",
    "{2}",
    "{6/5}",
    "{(6)}",
)
RHYTHMS = ("1", "2 2", "2 4 4", "4 4 2", "4 4 4 4", "2. 4", "4. 8 2", "4 2 4", "8 8 4 2")
FIFTH_UP, FIFTH_DOWN, OCTAVE = Interval(4, 7), Interval(-4, -7), Interval(7, 12)


@st.composite
def texts(draw: st.DrawFn) -> str:
    """A valid source: any order of voices, any notes inside their clefs, rests, ties and figures."""
    lines = []
    for voice in draw(st.lists(st.sampled_from(VOICES), min_size=1, max_size=6)):
        low, high = WRITTEN[voice]
        bars = []
        for rhythm in draw(st.lists(st.sampled_from(RHYTHMS), min_size=1, max_size=4)):
            bar = []
            for value in rhythm.split():
                step = draw(st.integers(low.diatonic, high.diatonic))
                sign = draw(st.sampled_from(("", "", "", "", "#", "b", "(#)")))
                name = f"{STEPS[step % 7]}{sign}{step // 7}"
                rest = draw(st.integers(0, 9)) == 0
                bar.append(f"R/{value}" if rest else f"{name}/{value}{draw(st.sampled_from(FIGURES))}")
            bars.append(" ".join(bar))
        lines.append(f"{voice} {CLEFS[voice]} | {' | '.join(bars)}")
    assume(any(f"{step}" in line.split("|", 1)[1] for line in lines for step in STEPS))
    signature = draw(st.sampled_from(("none", "Bb", "F#", "Bb Eb")))
    tone = draw(st.sampled_from(("", *(f"  tone: {n}\n" for n in range(1, 9)))))
    front = f"---\ntitle: Any\nverset:\n  metre: C\n  signature: {signature}\n{tone}---\n"
    return f"{front}\n```given\n{chr(10).join(lines)}\n```\n"


@settings(max_examples=MANY, deadline=None)
@given(texts())
def test_every_verset_can_be_analysed_and_its_steps_cover_it_without_a_gap(text: str) -> None:
    verset = parse(text)
    found = analyse(verset)
    assert found == analyse(parse(text))
    assert all(s.start <= s.onset for s in found.steps)
    onsets = {n.onset for n in heard(verset)} | {0}
    assert {s.start for s in found.steps} <= onsets, "a step begins with a note"
    for row in (tuple((s.onset, s.end) for s in found.steps), found.sections):
        assert (row[0][0], row[-1][1]) == (0, verset.end)
        assert all(a[1] == b[0] for a, b in pairwise(row))
        assert all(start < end for start, end in row)
    assert len({s.name for s in found.steps}) == len(found.steps)
    assert [s.kind for s in found.steps].count("entry") == len(found.entries)
    assert all(s.voices for s in found.steps[1:])
    assert {e.voice for e in found.entries} == {g.voice for g in verset.given if g.note.pitch}
    assert len({c.onset for c in found.cadences}) == len(found.cadences)
    assert all(c.start < c.onset or c.kind == "half" for c in found.cadences)
    assert all(sentence.strip() and "{" not in sentence for t in as_words(found).values() for sentence in t)
    assert len({(t.told, t.against) for t in found.tones}) == len(found.tones)


def test_silence_is_told_and_not_refused() -> None:
    verset = read(VERSETS[0])
    rests = tuple(replace(g, note=replace(g.note, pitch=None), figures=()) for g in verset.given)
    found = analyse(replace(verset, given=rests))
    assert (found.entries, found.steps, found.warnings) == ((), (), ("no note sounds",))


def moved(verset: Verset, interval: Interval) -> Verset:
    """The verset at another pitch, its signature and the signs of its figures moved with it."""
    fifths = {0: 0, 4: 1, -4: -1}.get(interval.steps, 0)
    signature = of_fifths(verset.signature.fifths + fifths)

    def tone(note: Pitch, s: FigureSign, signature: Signature) -> Pitch:
        return over(note, Figure(Fraction(0), Fraction(1), (s,)), s.number, signature)

    def sign(note: Pitch, s: FigureSign) -> FigureSign:
        """The sign that asks for the same tone, moved; what a sign means depends on the signature."""
        if not s.sign:
            return s
        wanted = tone(note, s, verset.signature).up(interval)
        read = {name: tone(note.up(interval), replace(s, sign=name), signature) for name in SIGNS}
        return replace(s, sign={pitch: name for name, pitch in reversed(read.items())}[wanted])

    def figure(note: Pitch, f: Figure) -> Figure:
        return replace(f, signs=tuple(sign(note, s) for s in f.signs))

    def one(g: GivenNote) -> GivenNote:
        if g.note.pitch is None:
            return g
        figures = tuple(figure(g.note.pitch, f) for f in g.figures)
        return replace(g, note=replace(g.note, pitch=g.note.pitch.up(interval)), figures=figures)

    return replace(verset, given=tuple(one(g) for g in verset.given), signature=signature)


def of_fifths(count: int) -> Signature:
    flats, sharps = ("Bb", "Eb", "Ab"), ("F#", "C#", "G#")
    return Signature((sharps if count > 0 else flats)[: abs(count)])


def shape(found: Analysis) -> tuple[object, ...]:
    """All that does not name a pitch."""
    return (
        [(e.voice, e.place, e.kind, e.matched) for e in found.entries],
        [(c.place, c.kind, c.start) for c in found.cadences],
        found.steps,
        found.sections,
        found.theme.notes,
    )


def degrees(found: Analysis, interval: Interval) -> list[str]:
    return [Pitch.parse(f"{c.degree}4").up(interval).letter for c in found.cadences]


@pytest.mark.parametrize("path", VERSETS, ids=lambda p: p.stem)
@pytest.mark.parametrize("interval", [OCTAVE, Interval(-7, -12)], ids=["up", "down"])
def test_an_octave_changes_nothing_but_the_pitch(path: Path, interval: Interval) -> None:
    verset = read(path)
    before, after = analyse(verset), analyse(moved(verset, interval))
    assert shape(before) == shape(after)
    assert degrees(before, interval) == [c.degree for c in after.cadences]
    weighed = [[(t.tone, t.weight) for t in found.tones] for found in (before, after)]
    assert weighed[0] == weighed[1]
    assert (before.final, before.warnings) == (after.final, after.warnings)


@pytest.mark.parametrize("path", VERSETS, ids=lambda p: p.stem)
@pytest.mark.parametrize("interval", [FIFTH_UP, FIFTH_DOWN], ids=["up", "down"])
def test_a_fifth_moves_the_degrees_and_leaves_the_kinds(path: Path, interval: Interval) -> None:
    verset = read(path)
    before, after = analyse(verset), analyse(moved(verset, interval))
    assert shape(before) == shape(after)
    assert degrees(before, interval) == [c.degree for c in after.cadences]


@settings(max_examples=MANY, deadline=None)
@given(texts(), st.sampled_from((FIFTH_UP, FIFTH_DOWN, OCTAVE)))
def test_any_verset_moved_keeps_its_shape(text: str, interval: Interval) -> None:
    verset = parse(text)
    try:
        other = moved(verset, interval)
    except KeyError:  # a figure would need a double sharp
        return
    before, after = analyse(verset), analyse(other)
    # the tones stand at fixed pitches: a last note read as their fifth may be a final elsewhere
    assume(not any(rests_on_fifth(found.final, found.tones) for found in (before, after)))
    assert shape(before) == shape(after)
