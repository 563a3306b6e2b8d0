"""What is written is read back the same, and nothing that is typed breaks the reader."""

from __future__ import annotations

import os
import random
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builder.edition.exchange.mei import mei
from builder.edition.exchange.musicxml import given_musicxml
from builder.music import VOICES, Bar, Clef, Figure, FigureSign, Metre, Note, Pitch, Signature, notated
from builder.source import (
    Blank,
    Cut,
    GivenNote,
    Licence,
    Pin,
    Reading,
    Settings,
    SourceErrors,
    Span,
    Verset,
    is_source,
    parse,
    read,
    write,
)
from builder.source.errors import UNPRINTED
from builder.source.front import playable
from builder.source.mei import parse_mei
from builder.source.musicxml import parse_musicxml

MANY = bool(os.environ.get("VERSET_MANY"))
CONTENT = sorted((Path(__file__).parents[2] / "content" / "versets").glob("*.md"))
VALUES = [Fraction(n, 4) for n in (1, 2, 3, 4, 6, 7, 8, 12, 16)]
CLEFS = {"cantus": ("C1", "G2"), "altus": ("C3", "C2"), "tenor": ("C4", "C3"), "bassus": ("F4", "F3")}


def plain(verset: Verset) -> Verset:
    """A verset without the positions of its symbols."""
    none = Span(0, 0)
    return replace(
        verset,
        given=tuple(replace(g, span=none) for g in verset.given),
        pins=tuple(replace(p, spans=()) for p in verset.pins),
        cuts=tuple(replace(cut, span=none) for cut in verset.cuts),
        headings={},
        licences=tuple(replace(x, span=none) for x in verset.licences),
        readings=tuple(replace(x, span=none) for x in verset.readings),
    )


@st.composite
def fillings(draw: st.DrawFn, length: Fraction) -> list[Fraction]:
    """Values that fill a length."""
    found: list[Fraction] = []
    while length:
        found.append(draw(st.sampled_from([v for v in VALUES if v <= length])))
        length -= found[-1]
    return found


SIGNS = st.builds(
    lambda n, sign, lone, editorial: (
        FigureSign(3, sign, True, editorial) if lone and sign else FigureSign(n, sign, False, editorial)
    ),
    st.integers(2, 9),
    st.sampled_from(["", "#", "b", "n"]),
    st.booleans(),
    st.booleans(),
)


@st.composite
def figures(draw: st.DrawFn, note: Note, dash: bool) -> tuple[Figure, ...]:
    found = []
    now = note.onset
    for length in draw(fillings(note.duration)) if draw(st.booleans()) else [note.duration]:
        signs = tuple(draw(st.lists(SIGNS, min_size=1, max_size=4, unique_by=lambda s: s.number)))
        if (dash or found) and draw(st.integers(0, 4)) == 0:
            found.append(Figure(now, length, (), dash=True))
        else:
            found.append(Figure(now, length, signs))
        now += length
    return tuple(found)


@st.composite
def lines(draw: st.DrawFn, metre: Metre) -> tuple[tuple[Bar, ...], tuple[GivenNote, ...]]:
    """A given line that wanders through voices and clefs, also inside bars."""
    count = draw(st.integers(1, 5))
    voice, clef, notes, bars = "cantus", Clef.parse("C1"), [], []
    tied: Pitch | None = None
    supplied = False
    for n in range(count):
        long = n == count - 1 and draw(st.booleans())
        lengths = [Fraction(16)] if long and metre.bar < 16 else draw(fillings(metre.bar))
        onset = n * metre.bar
        bars.append(Bar(n + 1, onset, sum(lengths, Fraction(0))))
        for at, length in enumerate(lengths):
            if tied is None and draw(st.integers(0, 3)) == 0:
                voice = draw(st.sampled_from(VOICES))
                clef = Clef.parse(draw(st.sampled_from(CLEFS[voice])))
            low, high = (p.diatonic for p in clef.compass)
            pitch = tied or Pitch(draw(st.integers(low, high)), draw(st.integers(-2, 2)))
            rest = tied is None and notes and not long and draw(st.integers(0, 5)) == 0
            last = n == count - 1 and at == len(lengths) - 1
            tie = not rest and not last and draw(st.integers(0, 5)) == 0
            supplied = supplied if tied else not rest and draw(st.booleans())
            note = Note(onset, length, None if rest else pitch, tie, supplied)
            tied = pitch if tie else None
            dash = bool(notes) and notes[-1].note.pitch is not None
            stacks = draw(figures(note, dash)) if not rest and draw(st.booleans()) else ()
            notes.append(GivenNote(note, voice, clef, stacks))
            onset += length
    return tuple(bars), tuple(notes)


@st.composite
def pins(draw: st.DrawFn, verset: Verset) -> tuple[Pin, ...]:
    """Pinned notes of voices above the line, with stretches left open."""
    found = []
    for version in ("plain", "diminished"):
        for voice in VOICES[:3]:
            notes: list[Note] = []
            for bar in verset.bars:
                times = [g.note.onset for g in verset.given if bar.onset <= g.note.onset < bar.end]
                if not all(voice in verset.above(t) for t in times):
                    continue
                now = bar.onset
                for length in draw(fillings(bar.length)):
                    choice = draw(st.integers(0, 3))
                    pitch = Pitch(draw(st.integers(22, 40)), draw(st.integers(-1, 1)))
                    if choice:
                        notes.append(Note(now, length, pitch if choice > 1 else None, False, choice == 3))
                    now += length
            if notes:
                found.append(Pin(version, voice, tuple(notes)))
    return tuple(found)


TEXT = (
    st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc", "Cn"]), min_size=1)
    .filter(str.strip)
    .map(lambda text: " ".join(text.split()))
    .filter(lambda text: text and not UNPRINTED.search(text))
)
WORDS = st.lists(
    st.text(st.sampled_from("abc |{}%`~è’\"'-*1:"), max_size=30).filter(
        lambda t: "```" not in t and "~~~" not in t and t.strip("-").strip()
    ),
    min_size=1,
    max_size=4,
).map(lambda ls: "\n".join(ls).strip())


@st.composite
def versets(draw: st.DrawFn) -> Verset:
    metre = Metre.parse(draw(st.sampled_from(["C", "C|", "3/2", "6/4", "3/4", "2/1", "5/8"])))
    bars, notes = draw(lines(metre).filter(lambda found: any(g.note.pitch for g in found[1])))
    bar = st.integers(1, len(bars))
    verset = Verset(
        name="any",
        path="any.md",
        title=draw(TEXT),
        metre=metre,
        signature=Signature.parse(draw(st.sampled_from(["none", "Bb", "F# C#", "Bb Eb"]))),
        bars=bars,
        given=notes,
        tone=draw(st.none() | st.integers(1, 8)),
        tempo=draw(
            st.tuples(
                st.sampled_from([Fraction(n, 4) for n in (2, 3, 4, 6, 8, 12, 16, 24, 32, 48)]),
                st.fractions(10, 400, max_denominator=1)
                | st.sampled_from([Fraction(81, 2), Fraction(10001, 1000)]),
            ).filter(lambda tempo: playable(*tempo))
        ),
        settings=Settings(
            tuning=draw(st.just("") | TEXT),
            pitch=draw(st.none() | st.floats(392, 520)),
            registration=draw(st.just("") | TEXT),
            level=draw(st.none() | st.integers(1, 3)),
            density=draw(st.none() | st.sampled_from((0.5, 0.8, 1.5))),
            seed=draw(st.integers(0, 1000)),
            move=draw(st.just("") | TEXT.filter(lambda text: text != "none")),  # which is no move at all
            moved=draw(st.just("") | TEXT.filter(lambda text: text != "none")),
            exercise=draw(
                st.sampled_from(((), (Blank("altus"),), (Blank("tenor", 1, 1), Blank("cantus", 1, 1))))
            ),
            unfinished=draw(st.booleans()),
            costs=draw(st.dictionaries(TEXT, st.floats(0, 1e6), max_size=2)),
        ),
        licences=tuple(
            draw(
                st.lists(
                    st.builds(
                        Licence,
                        TEXT,
                        bar,
                        TEXT,
                        st.lists(st.sampled_from(VOICES), max_size=2, unique=True).map(tuple),
                    ),
                    max_size=2,
                )
            )
        ),
        readings=tuple(
            draw(st.lists(st.builds(Reading, bar, TEXT, TEXT, st.sampled_from(["", *VOICES])), max_size=2))
        ),
        intro=draw(st.just("") | WORDS),
        words=draw(st.dictionaries(st.sampled_from([*VOICES, "cadence", "più"]), st.just("") | WORDS)),
    )
    return replace(verset, pins=draw(pins(verset)), cuts=draw(cuts(verset)))


@st.composite
def cuts(draw: st.DrawFn, verset: Verset) -> tuple[Cut, ...]:
    """Cuts between notes of the line, none inside a held one."""
    sung = [n for n, g in enumerate(verset.given) if g.note.pitch]
    between = [n for n in range(sung[0] + 1, sung[-1] + 1) if not verset.given[n - 1].note.tied]
    chosen = draw(st.sets(st.sampled_from(between), max_size=2)) if between else ()
    return tuple(Cut(verset.given[n].note.onset) for n in sorted(chosen))


@settings(max_examples=2000 if MANY else 80, deadline=None)
@given(versets())
def test_a_verset_written_is_read_back_the_same(verset: Verset) -> None:
    text = write(verset)
    assert is_source(text)
    again = plain(parse(text, verset.path))
    assert again == verset
    assert write(again) == text


@settings(max_examples=500 if MANY else 30, deadline=None)
@given(versets())
def test_a_verset_in_musicxml_and_in_mei_is_read_back_the_same(verset: Verset) -> None:
    score = notated(verset.score())
    for again in (
        parse_musicxml(given_musicxml(verset, score).encode(), verset.path),
        parse_mei(mei(verset, score).encode(), verset.path),
    ):
        assert plain(again) == verset


@pytest.mark.parametrize("path", CONTENT, ids=lambda p: p.stem)
def test_the_course_s_versets_are_read_back_the_same(path: Path) -> None:
    verset = read(path)
    assert plain(parse(write(verset), str(path))) == plain(verset)


SCRAPS = [
    *"|{}/~.:#bn-_%RABCDEFGcantus0123456789 \n\t\r`\"'[]()&*!?,éß♯♭\x00\x07\u2028\ufeff",
    "```",
    "---",
    "## ",
    "\n\n",
]


def mutated(text: str, chance: random.Random) -> str:
    """A text after a few slips of the hand."""
    for _ in range(chance.randint(1, 6)):
        at = chance.randrange(len(text) + 1)
        to = min(len(text), at + chance.choice((0, 1, 1, 2, 10, 80)))
        start = chance.randrange(len(text) + 1)
        scrap = chance.choice([*chance.sample(SCRAPS, 3), text[start : start + chance.randint(1, 30)], ""])
        text = text[:at] + scrap + text[to:]
    return text


@pytest.mark.parametrize("path", CONTENT, ids=lambda p: p.stem)
def test_whatever_is_typed_gives_a_verset_or_errors(path: Path) -> None:
    """Random slips, from a fixed seed: the reader never stops with anything but its own errors."""
    text, chance = path.read_text("utf-8"), random.Random(path.stem)
    refused = 0
    for _ in range(5000 if MANY else 250):
        slip = mutated(text, chance)
        is_source(slip)
        try:
            verset = parse(slip)
        except SourceErrors as wrong:
            refused += 1
            for error in wrong.errors:
                assert error.line >= 1 and error.column >= 1 and error.found and error.expected and str(error)
        else:
            assert plain(parse(write(verset))).given == plain(verset).given
    assert refused


@settings(max_examples=1000 if MANY else 100, deadline=None)
@given(st.text(), st.text(), st.text())
def test_any_text_at_all_gives_a_verset_or_errors(front: str, music: str, words: str) -> None:
    for text in (front, f"---\n{front}\n---\n```given\n{music}\n```\n```plain\n{words}\n```\n{words}"):
        is_source(text)
        with pytest.raises(SourceErrors):
            parse(text)


def test_a_cut_between_two_rests_is_kept_where_the_rests_are_joined() -> None:
    """Notation writes the two rests as one; the cut stands where the source divides them."""
    head = "---\ntitle: Two rests\nverset: {metre: C, signature: none}\n---\n\n```given\n"
    verset = plain(parse(f"{head}cantus C1 | D5/4 R/8. R/16 R/8 R/8 E5/4 | D5/1\n```\n", "any.md"))
    verset = replace(verset, cuts=(Cut(Fraction(7, 4)),))
    score = notated(verset.score())
    for again in (
        parse_musicxml(given_musicxml(verset, score).encode(), verset.path),
        parse_mei(mei(verset, score).encode(), verset.path),
    ):
        assert plain(again).cuts == verset.cuts
