"""How fast lines are set and scores checked, beside music21 on the same lines and scores, same run.

Run on demand: `python tests/bench/bench_counterpoint.py`. The figures to reach: 100 times the events a second
of music21's `figuredBass` realiser on lines of 12, 48 and 480 events, time growing linearly; ten best paths
within three times the time of one; checking at 50 times the speed of music21's `voiceLeading`.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from fractions import Fraction
from itertools import combinations

from music21 import corpus, key, meter, note
from music21.figuredBass import realizer
from music21.voiceLeading import ThreeNoteLinearSegment, VoiceLeadingQuartet

from builder.analysis import analyse
from builder.counterpoint import check, realise
from builder.counterpoint.costs import Weights
from builder.counterpoint.events import events
from builder.counterpoint.lattice import build
from builder.counterpoint.paths import best_path, k_best
from builder.counterpoint.outside import from_music21
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


def realising() -> None:
    print(
        "events | music21 ev/s | ours: lattice and best path ev/s (times) | first time | whole realise() ev/s | ten best / best"
    )
    per_line = {}
    for count in (12, 48, 480):
        line = music21_line(count)
        theirs = count / best_of(3 if count < 480 else 1, line.realize)
        verset = our_line(count)
        analysis = analyse(verset)
        cut = events(verset, analysis)[-count:]
        weights = Weights.of({})

        def set_line() -> object:
            return best_path(build(cut, weights))

        def ten() -> object:
            lattice = build(cut, weights)
            return list(k_best(lattice, 10))

        first = best_of(1, set_line)
        once = best_of(7, set_line)
        per_line[count] = once
        whole = best_of(3, lambda: realise(verset, analysis))
        more = best_of(5, ten)
        print(
            f"{count:6d} | {theirs:8.0f} | {count / once:8.0f} ({count / once / theirs:5.1f}x)"
            f" | {count / first:8.0f} ({count / first / theirs:5.1f}x) | {count / whole:8.0f} | {more / once:.2f}"
        )
    print(f"480 events take {per_line[480] / per_line[48]:.1f} times as long as 48")


def checking() -> None:
    ours = theirs = 0.0
    for path in list(corpus.chorales.Iterator(1, 40, returnType="filename"))[::4]:
        stream = corpus.parse(path)
        score = from_music21(stream, path)
        if len(score.parts) != 4:
            continue
        ours += best_of(3, lambda: check(score, keyboard=False))
        quartets, threes = list(successions(score)), list(melodies(score))
        theirs += best_of(1, lambda: judge(quartets, threes))
    print(
        f"checking: ours {ours * 1000:.0f} ms, music21 voiceLeading {theirs * 1000:.0f} ms: {theirs / ours:.0f} times"
    )


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
