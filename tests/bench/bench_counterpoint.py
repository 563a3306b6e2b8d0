"""How fast lines are set and scores checked, beside music21 on the same lines and scores, same run.

Run on demand: `python tests/bench/bench_counterpoint.py`. The figures to reach: 100 times the events a second
of music21's `figuredBass` realiser on lines of 12, 48 and 480 events, time growing linearly; ten best paths
within three times the time of one; checking at 50 times the speed of music21's `voiceLeading`. `The first
time` is with nothing remembered from other lines; the figure to its left with the same line set before.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import partial
from itertools import combinations

from music21 import corpus, key, meter, note
from music21.figuredBass import realizer
from music21.voiceLeading import ThreeNoteLinearSegment, VoiceLeadingQuartet

from builder.analysis import analyse
from builder.counterpoint import check, lattice, realise, sonority, transition, voicing
from builder.counterpoint.costs import Weights
from builder.counterpoint.events import Event, events
from builder.counterpoint.lattice import build
from builder.counterpoint.outside import UnreadableScore, from_music21
from builder.counterpoint.paths import best_path, k_best
from builder.music import Bar, Clef, Figure, FigureSign, Metre, Note, Pitch, Signature
from builder.source import GivenNote, Verset

PATTERN = (
    ("C3", ""),
    ("D3", "6"),
    ("E3", "6"),
    ("F3", ""),
    ("G3", ""),
    ("A3", ""),
    ("F3", "6"),
    ("G3", ""),
    ("E3", "6"),
    ("F3", ""),
    ("G3", ""),
    ("C3", ""),
)


def music21_line(count: int) -> realizer.FiguredBassLine:
    line = realizer.FiguredBassLine(key.Key("C"), meter.TimeSignature("4/4"))
    for n in range(count):
        pitch, figure = PATTERN[n % 12]
        line.addElement(note.Note(pitch, quarterLength=1), figure)
    return line


def our_line(count: int) -> Verset:
    """The same line in our source: four voices from three one-note entries, then the bass in quarters."""
    entries = (("cantus", "C1", "E5"), ("altus", "C3", "C5"), ("tenor", "C4", "G4"))
    given = [
        GivenNote(Note(Fraction(4 * n), Fraction(4), Pitch.parse(p)), v, Clef.parse(c))
        for n, (v, c, p) in enumerate(entries)
    ]
    for n in range(count):
        pitch, figure = PATTERN[n % 12]
        onset = Fraction(12 + n)
        signs = (Figure(onset, Fraction(1), (FigureSign(int(figure)),)),) if figure else ()
        given.append(
            GivenNote(Note(onset, Fraction(1), Pitch.parse(pitch)), "bassus", Clef.parse("F4"), signs)
        )
    bars = tuple(Bar(n + 1, Fraction(4 * n), Fraction(4)) for n in range(3 + -(-count // 4)))
    return Verset("line", "line", "line", Metre.parse("C"), Signature(), bars, tuple(given))


def best_of(times: int, work: Callable[[], object]) -> float:
    found = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return min(found)


def ten_best(cut: Sequence[Event], weights: Weights) -> object:
    return list(k_best(build(cut, weights), 10))


def one_best(cut: Sequence[Event], weights: Weights) -> object:
    return best_path(build(cut, weights))


def forget() -> None:
    """Everything that is remembered from line to line."""
    lattice._HELD.clear()
    transition._MEMO.clear()
    voicing._MEMO.clear()
    for remembered in (voicing._places, sonority.read_figure):
        remembered.cache_clear()


def realising() -> None:
    print(
        "events | music21 ev/s | lattice and best path | the first time | whole realise() | ten best / best"
    )
    per_line = {}
    weights = Weights.of({})
    for count in (12, 48, 480):
        theirs = count / best_of(3 if count < 480 else 1, music21_line(count).realize)
        verset = our_line(count)
        analysis = analyse(verset)
        forget()
        cut = events(verset, analysis)[-count:]
        first = best_of(1, partial(one_best, cut, weights))
        once = per_line[count] = best_of(9, partial(one_best, cut, weights))
        whole = best_of(3, partial(realise, verset, analysis))
        more = best_of(9, partial(ten_best, cut, weights))
        ours, cold = count / once, count / first
        print(
            f"{count:6d} | {theirs:12.0f} | {ours:8.0f}, {ours / theirs:5.0f} times      "
            f" | {cold:6.0f}, {cold / theirs:5.1f} times | {count / whole:6.0f} | {more / once:.2f}"
        )
    print(f"480 events take {per_line[480] / per_line[48]:.1f} times as long as 48")


def four_voices():
    """Ten chorales and six movements of Palestrina in four voices."""
    chorales = list(corpus.chorales.Iterator(1, 40, returnType="filename"))[::4]
    masses = corpus.getComposer("palestrina")[::40]
    for kind, paths, wanted in (("Bach", chorales, 10), ("Palestrina", masses, 6)):
        for path in paths:
            try:
                score = from_music21(corpus.parse(path), str(path))
            except UnreadableScore:
                continue
            if len(score.parts) == 4 and wanted:
                wanted -= 1
                yield kind, score


def checking() -> None:
    found: dict[str, list[float]] = {}
    for kind, score in four_voices():
        quartets, threes = list(successions(score)), list(melodies(score))
        times = found.setdefault(kind, [0.0, 0.0])
        times[0] += best_of(5, partial(check, score, keyboard=False))
        times[1] += best_of(1, partial(judge, quartets, threes))
    found["together"] = [sum(t[n] for t in found.values()) for n in (0, 1)]
    for kind, (ours, theirs) in found.items():
        print(f"{kind}: {ours * 1000:.0f} ms, music21 {theirs * 1000:.0f} ms: {theirs / ours:.0f} times")


def successions(score):
    parts = [p.sounding() for p in score.parts]
    onsets = sorted({n.onset for ns in parts for n in ns})
    rows = []
    for ns in parts:
        row, place = [], 0
        for onset in onsets:
            while place < len(ns) - 1 and ns[place].end <= onset:
                place += 1
            there = ns[place].onset <= onset < ns[place].end
            row.append(note.Note(ns[place].pitch.name.replace("b", "-")) if there else None)
        rows.append(row)
    for upper, lower in combinations(rows, 2):
        for n in range(len(onsets) - 1):
            four = (upper[n], upper[n + 1], lower[n], lower[n + 1])
            if all(four):
                yield four


def melodies(score):
    for part in score.parts:
        named = [note.Note(n.pitch.name.replace("b", "-")) for n in part.sounding()]
        yield from zip(named, named[1:], named[2:])


def judge(quartets, threes) -> int:
    """What music21's predicates know of what our check asks: parallels, hidden intervals, crossing, overlap
    and recovered leaps on every pair at every succession; passing and neighbouring notes in every voice."""
    found = 0
    for three in threes:
        segment = ThreeNoteLinearSegment(*three)
        found += segment.couldBePassingTone() + segment.couldBeNeighborTone()
    for four in quartets:
        q = VoiceLeadingQuartet(*four)
        found += q.parallelFifth() + q.parallelOctave() + q.parallelUnison()
        found += q.hiddenFifth() + q.hiddenOctave() + q.voiceCrossing() + q.voiceOverlap()
        found += q.leapNotSetWithStep()
    return found


if __name__ == "__main__":
    realising()
    checking()
