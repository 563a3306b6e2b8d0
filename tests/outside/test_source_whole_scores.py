"""Whole scores that others wrote, read as a line with pinned voices: music21's corpus, at odd places of
its list, as that library reads them. VERSET_MANY=1 takes all of them."""

from __future__ import annotations

import os
import re
from bisect import bisect_right
from collections.abc import Iterable
from fractions import Fraction

import pytest

from builder.source import SourceErrors, Verset, parse, read, write
from builder.source.files import document
from builder.source.mei import parse_mei

music21 = pytest.importorskip("music21")

MANY = bool(os.environ.get("VERSET_MANY"))
FILES = [
    str(path)
    for n, path in enumerate(music21.corpus.getCorePaths())
    if n % 2 and str(path).endswith((".mxl", ".xml", ".musicxml"))
]
CHORALES = [f for f in FILES if "/bach/" in f]
TAKEN = FILES if MANY else FILES[::16]
REASONS = (
    "a tuplet|a change of metre|a bar of .*|.* bars|.* notes|.* under the clef .*|.*, which no keyboard has|"
    "a packed file .*|more than .*|the metre .*|a note without a duration|no notes|.* more errors"
)

Timed = list[tuple[Fraction, Fraction, int]]


def ours(verset: Verset) -> Timed:
    line = [g.note for g in verset.given]
    return [
        (n.onset, n.end, n.pitch.midi)
        for n in (*line, *(n for p in verset.pins for n in p.notes))
        if n.pitch is not None
    ]


def theirs(path: str, bar: Fraction) -> Timed:
    """The notes that music21 reads, from the beginning of a whole first bar."""
    stream = music21.converter.parse(path, forceSource=True).toSoundingPitch()
    firsts = [next(iter(part.getElementsByClass("Measure"))) for part in stream.parts]
    upbeat = max(Fraction(first.duration.quarterLength) for first in firsts)
    shift = bar - upbeat if upbeat < bar else Fraction(0)
    found = []
    for part in stream.parts:
        for note in part.flatten().notes:
            if note.duration.isGrace or not hasattr(note, "pitches"):
                continue
            onset = Fraction(note.offset) + shift
            for pitch in note.pitches:
                found.append((onset, onset + Fraction(note.quarterLength), int(pitch.ps)))
    return found


def sounding(notes: Timed, times: Iterable[Fraction]) -> list[set[int]]:
    """What sounds at each time, whether struck or held."""
    ordered = sorted(notes)
    starts = [n[0] for n in ordered]
    longest = max((e - s for s, e, _ in ordered), default=Fraction(0))
    found = []
    for time in times:
        low, high = bisect_right(starts, time - longest - 1), bisect_right(starts, time)
        found.append({midi for start, end, midi in ordered[low:high] if start <= time < end})
    return found


def differing(path: str, verset: Verset) -> int:
    """At how many moments something else sounds than music21 reads; where voices are left out, something
    more."""
    lost = {loss.kind for loss in verset.lost}
    other = theirs(path, verset.metre.bar)
    times = sorted({t for note in (*ours(verset), *other) for t in note[:2]})
    part = bool(lost & {"voice", "octave", "cue"})
    pairs = zip(sounding(ours(verset), times), sounding(other, times))
    return sum(a != b if not part else not a <= b for a, b in pairs)


@pytest.mark.parametrize("path", TAKEN, ids=lambda p: p.rpartition("corpus/")[2])
def test_a_whole_score_is_read_as_music21_reads_it_or_refused_with_its_reason(path: str) -> None:
    try:
        verset = read(path)
    except SourceErrors as wrong:
        assert all(re.fullmatch(REASONS, e.found) for e in wrong.errors), [e.found for e in wrong.errors]
        return
    assert differing(path, verset) == 0
    again = parse(write(verset))
    assert [p.notes for p in again.pins] == [p.notes for p in verset.pins]
    assert [(g.voice, g.clef, g.note, g.figures) for g in again.given] == [
        (g.voice, g.clef, g.note, g.figures) for g in verset.given
    ]


def test_nearly_every_chorale_is_read_directly() -> None:
    """All odd places: 196 of 203 when this was written; the others change their metre or have short bars."""
    files = CHORALES if MANY else CHORALES[::8]
    refused = []
    for path in files:
        try:
            read(path)
        except SourceErrors as wrong:
            refused.append((path, wrong.errors[0].found))
    assert len(refused) <= len(files) * 0.08, refused


@pytest.mark.parametrize("path", CHORALES[:: 1 if MANY else 16], ids=lambda p: p.rpartition("corpus/")[2])
def test_verovio_s_mei_of_a_whole_score_is_read_as_its_musicxml(path: str) -> None:
    verovio = pytest.importorskip("verovio")
    try:
        verset = read(path)
    except SourceErrors:
        pytest.skip("refused as MusicXML, too")
    toolkit = verovio.toolkit()
    assert toolkit.loadData(document(path))
    again = parse_mei(toolkit.getMEI().encode())
    assert [(g.voice, g.note) for g in again.given] == [(g.voice, g.note) for g in verset.given]
    assert [(p.voice, p.notes) for p in again.pins] == [(p.voice, p.notes) for p in verset.pins]
