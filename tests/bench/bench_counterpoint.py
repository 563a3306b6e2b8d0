"""How fast lines are set and scores checked, beside music21 on the same lines and scores, same run.

Run on demand: `python tests/bench/bench_counterpoint.py`. The figures to reach: 100 times the events a
second of music21's `figuredBass` realiser (`realize()`) on lines of 12, 48 and 480 events, time growing
linearly; ten best paths within three times the time of one; checking at 50 times the speed of music21's
`voiceLeading`.

Every line is new: made at random, set once by each, in a process that has set other lines before. `From
nothing` forgets all that is remembered from line to line; `again` sets the same line once more, from
memory. What music21 does, find all legal steps, is our `lattice and best path`; `realise()` also makes the
score, tells the costs bar by bar and puts the whole score to the check.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import partial
from itertools import combinations
from typing import Any

from music21 import corpus, key, meter, note
from music21.figuredBass import realizer
from music21.voiceLeading import ThreeNoteLinearSegment, VoiceLeadingQuartet

from builder.analysis import analyse
from builder.counterpoint import check, realise
from builder.counterpoint.check.musicxml import UnreadableScore, from_music21
from builder.counterpoint.figured_bass import sonority
from builder.counterpoint.figured_bass.events import Event, events
from builder.counterpoint.search import arcs as transition
from builder.counterpoint.search import lattice, voicing
from builder.counterpoint.search.costs import Weights
from builder.counterpoint.search.lattice import build
from builder.counterpoint.search.paths import best_path, k_best
from builder.music import Bar, Clef, Figure, FigureSign, Metre, Note, Pitch, Signature
from builder.source import GivenNote, Verset

LINES = {12: 24, 48: 8, 480: 2}
"""How many lines of each length."""


def bass(seed: int, count: int) -> list[tuple[Pitch, str]]:
    """A bass in quarters that wanders within a tenth and closes fifth to first, a third of it figured with
    the sixth (always on mi and on the leading note, as a source would)."""
    dice = random.Random(seed)
    steps = [21]
    while len(steps) < count - 2:
        there = steps[-1] + dice.choice((-1, -1, 1, 1, -2, 2, -3, 3, -4, 4))
        if 18 <= there <= 28:
            steps.append(there)
    found = []
    for step in steps:
        pitch = Pitch(step)
        found.append((pitch, "6" if pitch.letter in "EB" or dice.random() < 0.3 else ""))
    return [*found, (Pitch(25), ""), (Pitch(21), "")]


def music21_line(line: Sequence[tuple[Pitch, str]]) -> realizer.FiguredBassLine:
    made = realizer.FiguredBassLine(key.Key("C"), meter.TimeSignature("4/4"))
    for pitch, figure in line:
        made.addElement(note.Note(str(pitch), quarterLength=1), figure)
    return made


def our_line(line: Sequence[tuple[Pitch, str]]) -> Verset:
    """The same line in our source: four voices from three one-note entries, then the bass in quarters."""
    entries = (("cantus", "C1", "E5"), ("altus", "C3", "C5"), ("tenor", "C4", "G4"))
    given = [
        GivenNote(Note(Fraction(4 * n), Fraction(4), Pitch.parse(p)), v, Clef.parse(c))
        for n, (v, c, p) in enumerate(entries)
    ]
    for n, (pitch, figure) in enumerate(line):
        onset = Fraction(12 + n)
        signs = (Figure(onset, Fraction(1), (FigureSign(int(figure)),)),) if figure else ()
        given.append(GivenNote(Note(onset, Fraction(1), pitch), "bassus", Clef.parse("F4"), signs))
    bars = tuple(Bar(n + 1, Fraction(4 * n), Fraction(4)) for n in range(3 + -(-len(line) // 4)))
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
    for memory in (lattice._HELD, transition._MEMO, voicing._MEMO):
        memory.clear()
    for remembered in (voicing._places, sonority.read_figure):
        remembered.cache_clear()


def realising() -> None:
    weights = Weights.of({})
    for seed in range(40):
        # Other lines than those below, as a process that builds a course has met some.
        verset = our_line(bass(seed, 48))
        realise(verset, analyse(verset))
    print(
        "events | music21 ev/s | lattice and best path | realise()      | from nothing   | again"
        " | ten best / best"
    )
    per_line = {}
    for count, lines in LINES.items():
        theirs = ours = whole = cold = again = more = 0.0
        for seed in range(1000 * count, 1000 * count + lines):
            verset = our_line(bass(seed, count))
            analysis = analyse(verset)
            theirs += once(music21_line(bass(seed, count)).realize)
            cut = events(verset, analysis)[-count:]
            kept = remembered()
            ours += once(partial(one_best, cut, weights))
            restore(kept)
            whole += once(partial(realise, verset, analysis))
            again += best_of(5, partial(one_best, cut, weights))
            more += best_of(5, partial(ten_best, cut, weights))
            kept = remembered()
            forget()
            cold += once(partial(one_best, cut, weights))
            restore(kept)
        per_line[count] = ours / lines
        rates = [f"{lines * count / t:6.0f}, {theirs / t:4.0f} times" for t in (ours, whole, cold, again)]
        print(
            f"{count:6d} | {lines * count / theirs:12.0f} | {rates[0]:21s} | {' | '.join(rates[1:])}"
            f" | {more / again:.2f}"
        )
    print(f"480 events take {per_line[480] / per_line[48]:.1f} times as long as 48")


def once(work: Callable[[], object]) -> float:
    return best_of(1, work)


def remembered() -> list[dict[Any, Any]]:
    return [dict(m) for m in (lattice._HELD, transition._MEMO, voicing._MEMO)]


def restore(kept: list[dict[Any, Any]]) -> None:
    for memory, old in zip((lattice._HELD, transition._MEMO, voicing._MEMO), kept):
        memory.clear()
        memory.update(old)


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
