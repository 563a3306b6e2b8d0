"""How far our lines can be told from the masters', and whether two hands can play them.

    python tests/worth/lines.py [--random N] [--basses N] [--even]

Sets the versets of the course, N invented lines (those of the random tests) and N of Palestrina's own basses,
and prints for each level: the area under the curve of a classifier, cross-validated by piece, that sees
features of the lines (three of a hundred, upper neighbours, sixths and eighths after a quarter, level 1 is
judged by too); entries of the theme to a voice; notes in two forms
within two quarters; tritones with the lowest voice; stretches of the hands; warnings to the bar.

Level 1 is set against Palestrina on his own basses; levels 2 and 3 against vocal music of like density of
small notes, Palestrina's and Monteverdi's, in values a half or a quarter as long: music21's corpus has no
keyboard polyphony of Italy. Odd files (`--even`: those that things are learned from).
"""

from __future__ import annotations

import argparse
import importlib.util
import itertools
import random
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from math import log2
from pathlib import Path
from statistics import fmean
from typing import Any, NamedTuple

import numpy as np
from passages import Passage, _cut, _passage, _stretches, halved, pieces
from told_apart import area

from builder.analysis import Analysis, analyse
from builder.counterpoint import realise
from builder.counterpoint.rules.keyboard import hand_spans
from builder.diminution import diminutions
from builder.diminution.habits import cells, learned
from builder.music import Score
from builder.source import Verset, read

ROOT = Path(__file__).parents[2]
LEAST, MOST = Fraction(16), Fraction(56)
"""Quarters of an excerpt."""
DENSITY = {2: (0.9, 2.0), 3: (1.6, 3.4)}
"""Small notes a quarter, all voices together, of the excerpts that a level is set against."""


class Note(NamedTuple):
    start: float
    end: float
    d: int
    m: int


Lines = list[list[Note]]


def lines(score: Score) -> Lines:
    """The voices that sound, highest first, from their first note on."""
    found = []
    for part in score.parts:
        row = [
            Note(float(n.onset), float(n.end), n.pitch.diatonic, n.pitch.midi)
            for n in part.sounding()
            if n.pitch is not None
        ]
        if row:
            found.append(row)
    return found


def density(voices: Lines) -> float:
    span = max(r[-1].end for r in voices) - min(r[0].start for r in voices)
    return sum(n.end - n.start <= 0.5 for r in voices for n in r) / span


def features(voices: Lines, *, pitches: bool = True) -> list[float]:
    """Features of the lines: pairs of moves, contours and compass of small notes, where in the bar each value
    stands, how long voices stay together, numbers above the lowest, crossing of the beat. Few are measures
    of `florid` or `hearing`."""
    found: list[float] = []
    moves: Counter[str] = Counter()
    pairs: Counter[str] = Counter()
    values: Counter[float] = Counter()
    placed: Counter[tuple[str, int]] = Counter()
    after: Counter[tuple[str, str]] = Counter()
    reach: list[float] = []
    high = low = tied = stronger = few = 0
    count = small = 0
    total_pairs = total_moves = 0
    for row in voices:
        for k, n in enumerate(row):
            size = n.end - n.start
            kind = _kind(size)
            values[min(kinds[kind], 5)] += 1
            placed[kind, int(n.start * 2) % 4] += 1
            count += 1
            tied += n.start % 1 != 0 and int(n.start) + 1 < n.end
            if k and row[k - 1].end == n.start:
                after[_kind(row[k - 1].end - row[k - 1].start), kind] += 1
                moves[_move(n.d - row[k - 1].d)] += 1
                total_moves += 1
                if k > 1 and row[k - 2].end == row[k - 1].start and row[k - 1].end - row[k - 1].start <= 0.5:
                    pairs[_move(row[k - 1].d - row[k - 2].d) + _move(n.d - row[k - 1].d)] += 1
                    total_pairs += 1
            if size <= 0.5:
                small += 1
                stronger += n.start % 1 == 0
                if 0 < k < len(row) - 1 and row[k - 1].end == n.start and row[k + 1].start == n.end:
                    a, b = row[k - 1].d, row[k + 1].d
                    high += a == b == n.d - 1
                    low += a == b == n.d + 1
        for four in (row[k : k + 8] for k in range(0, max(1, len(row) - 7), 4)):
            reach.append(max(n.d for n in four) - min(n.d for n in four))
            few += len({n.d for n in four}) <= 3
    kinds_ = ("16", "8", "8.", "4", "4.", "2")
    found += [values[k] / max(1, count) for k in range(6)]
    found += [placed[k, p] / max(1, count) for k in kinds_[:5] for p in range(4)]
    found += [after[a, b] / max(1, count) for a in kinds_[:5] for b in kinds_[:5]]
    found += [tied / max(1, count), stronger / max(1, small)]
    if pitches:
        names = ("-4", "-2", "-1", "0", "+1", "+2", "+4")
        found += [moves[a] / max(1, total_moves) for a in names]
        found += [pairs[a + b] / max(1, total_pairs) for a in names for b in names if "0" not in (a, b)]
        found += [high / max(1, small), low / max(1, small)]
        found += [fmean(reach), few / max(1, len(reach))]
        found += _vertical(voices)
    return found


kinds = {"16": 0, "8": 1, "8.": 2, "4": 3, "4.": 4, "2": 5}


def _kind(size: float) -> str:
    for name, most in (("16", 0.26), ("8", 0.51), ("8.", 0.99), ("4", 1.01), ("4.", 1.99)):
        if size <= most:
            return name
    return "2"


def _move(d: int) -> str:
    if d == 0:
        return "0"
    size = "1" if abs(d) == 1 else "2" if abs(d) == 2 else "4"
    return ("+" if d > 0 else "-") + size


def _vertical(voices: Lines) -> list[float]:
    """Numbers above the lowest note as small notes begin, and motion of pairs of small notes."""
    numbers: Counter[int] = Counter()
    together: Counter[str] = Counter()
    total = pairs = 0
    for row in voices:
        for k, n in enumerate(row):
            if n.end - n.start > 0.5:
                continue
            others = [o for o in (at(r, n.start) for r in voices if r is not row) if o is not None]
            if not others:
                continue
            lowest = min((*others, n), key=lambda x: x.m)
            numbers[(n.d - lowest.d) % 7] += 1
            total += 1
            for o in others:
                if o.start == n.start and k and (b := at(next(r for r in voices if o in r), n.start - 0.01)):
                    x, y = n.d - row[k - 1].d, o.d - b.d
                    pairs += 1
                    together["oblique" if not x * y else "with" if x * y > 0 else "against"] += 1
    return [
        *(numbers[k] / max(1, total) for k in range(7)),
        *(together[k] / max(1, pairs) for k in ("with", "against")),
    ]


def at(row: Sequence[Note], time: float) -> Note | None:
    return next((n for n in row if n.start <= time < n.end), None)


def window(voices: Lines, start: float, end: float) -> Lines:
    """What begins in a stretch, from a time of 0 that keeps the place in the bar."""
    found = []
    for row in voices:
        own = [
            Note(n.start - start, min(n.end, end) - start, n.d, n.m) for n in row if start <= n.start < end
        ]
        if own:
            found.append(own)
    return found


def excerpts(even: bool, level: int, dice: random.Random, many: int) -> Iterator[tuple[str, Lines]]:
    """Stretches of the masters with as many small notes as a level has."""
    low, high = DENSITY[level]
    for composer, every in (("monteverdi", 1), ("palestrina", 8)):
        of_one = 0
        for name, score in pieces(composer, odd=not even, every=every):
            taken = 0
            for _ in range(3):
                row = lines(score)
                if not 2 <= len(row) <= 4:
                    break
                end = max(r[-1].end for r in row)
                size = dice.choice((24, 32, 40, 48))
                for _ in range(4):
                    start = 4 * dice.randrange(max(1, int(end - size) // 4))
                    cut = window(row, start, start + size)
                    if taken < 3 and len(cut) >= 2 and low <= density(cut) <= high:
                        yield name, cut
                        taken += 1
                score = halved(score)
            of_one += taken
            if of_one * 2 >= many:
                break


class Played(NamedTuple):
    """What two hands and a strict ear would find, in percent of onsets unless said otherwise."""

    two_forms: int
    tritones: float
    beyond: float
    crossed: float
    both: float


def played(voices: Lines) -> Played:
    """Notes in two forms within two quarters (a count); tritones with the lowest voice, of the notes above
    it; onsets at which a hand stretches beyond a ninth, voices cross, and both hands run in small notes."""
    every = sorted((n.start, n.end, n.d, n.m) for row in voices for n in row)
    two = 0
    for i, a in enumerate(every):
        for b in every[i + 1 :]:
            if b[0] >= a[1] + 2:
                if b[0] > a[0] + 10:
                    break
                continue
            two += a[2] % 7 == b[2] % 7 and (a[3] - b[3]) % 12 != 0
    times = sorted({n.start for row in voices for n in row})
    notes = tritones = beyond = crossed = both = 0
    for t in times:
        now = [(v, n) for v, row in enumerate(voices) if (n := at(row, t)) is not None]
        pitches = [n.m for _, n in now]
        low = min(pitches)
        for _, n in now:
            if n.start == t and n.m != low:
                notes += 1
                tritones += (n.m - low) % 12 == 6
        d = sorted((n.d for _, n in now), reverse=True)
        if len(d) > 1:
            beyond += int(hand_spans(np.array([d[:-1]]), d[-1])[0]) > 8
        crossed += any(a < b for a, b in itertools.pairwise(pitches))
        fast = [n.end - n.start <= 0.25 for _, n in now]
        half = len(now) // 2
        both += len(now) > 2 and any(fast[:half]) and any(fast[half:])
    many = max(1, len(times))
    return Played(
        two, 100 * tritones / max(1, notes), 100 * beyond / many, 100 * crossed / many, 100 * both / many
    )


def entries(voices: Lines, theme: Sequence[int]) -> float:
    """How often a voice has the head of the theme: its first three intervals, one of them a step wider or
    narrower (a bent answer), upright, in whatever values."""
    found = 0
    for row in voices:
        last = -99.0
        for k in range(len(row) - 3):
            four = row[k : k + 4]
            if any(a.end != b.start for a, b in itertools.pairwise(four)):
                continue
            steps = [b.d - a.d for a, b in itertools.pairwise(four)]
            off = [abs(a - b) for a, b in zip(steps, theme)]
            if sum(off) <= 1 and row[k].start >= last:
                found += 1
                last = four[-1].start
    return found / max(1, len(voices))


def theme_of(verset: Verset, analysis: Analysis) -> list[int]:
    first = analysis.entries[0]
    own = [
        g.note.pitch.diatonic
        for g in verset.given
        if g.note.pitch is not None and first.onset <= g.note.onset < first.end + 4
    ]
    return [b - a for a, b in itertools.pairwise(own[:4])]


def on_his_basses(even: bool, many: int) -> Iterator[tuple[str, Passage, Lines, float]]:
    """Passages of Palestrina, with his own notes."""
    found = 0
    for name, score in pieces("palestrina", odd=not even, every=3):
        rows = [p.sounding() for p in score.parts]
        of_one = 0
        for start, end, sounding in _stretches(rows, LEAST):
            end = min(end, start + MOST)
            cut = [_cut(rows[v], start, end) for v in sounding]
            passage = _passage(name, score, cut, start, end)
            if passage is None or len(sounding) < 3 or of_one > 1:
                continue
            shift = float(passage.events[0].onset - start)
            his = [
                [
                    Note(float(n.onset) + shift, float(n.end) + shift, n.pitch.diatonic, n.pitch.midi)
                    for n in row
                    if n.pitch is not None
                ]
                for row in cut
            ]
            yield name, passage, his, float(start) + shift
            found += 1
            of_one += 1
            if found >= many:
                return


def invented(many: int) -> Iterator[Verset]:
    path = ROOT / "tests" / "outside" / "test_diminution_random.py"
    spec = importlib.util.spec_from_file_location("random_lines", path)
    assert spec and spec.loader
    module: Any = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    yield from (module.random_verset(seed) for seed in range(1000, 1000 + many))


def main(many: int, basses: int, even: bool) -> None:
    ours: dict[int, list[tuple[str, Lines]]] = {2: [], 3: []}
    rows: dict[int, list[Played]] = {1: [], 2: [], 3: []}
    returns: list[float] = []
    warned: dict[int, list[float]] = {0: [], 1: [], 2: [], 3: []}
    kinds_of: Counter[tuple[int, str]] = Counter()
    wrong = 0

    def one(verset: Verset, analysis: Analysis) -> dict[int, Lines]:
        nonlocal wrong
        plain = realise(verset, analysis)
        made = diminutions(verset, analysis, plain)
        had = {(f.rule, f.voices, f.place.bar) for f in plain.findings if f.severity == "error"}
        bars = float(plain.score.end) / 4
        for level, findings in ((0, plain.findings), *((k, d.findings) for k, d in made.items())):
            warned[level].append(sum(f.severity == "warning" and not f.allowed for f in findings) / bars)
            kinds_of.update((level, f.rule) for f in findings if f.severity == "warning" and not f.allowed)
            wrong += sum(
                f.severity == "error" and not f.allowed and (f.rule, f.voices, f.place.bar) not in had
                for f in findings
            )
        found = {level: lines(d.score) for level, d in made.items()}
        for level, voices in found.items():
            rows[level].append(played(voices))
        return found

    versets = [read(p) for p in sorted((ROOT / "content" / "versets").glob("*.md"))]
    for verset in (*versets, *invented(many)):
        analysis = analyse(verset)
        found = one(verset, analysis)
        if len(verset.voices) > 2:
            returns.append(entries(found[1], theme_of(verset, analysis)))
        for level in (2, 3):
            ours[level].append((verset.name, found[level]))
        print(".", end="", flush=True)
    print()
    his_features, our_features, names = [], [], []
    for name, passage, his, start in on_his_basses(even, basses):
        found = one(passage.verset, analyse(passage.verset))
        mine = window(found[1], start, 10**6)
        his_features.append(features(window(his, start, 10**6)))
        our_features.append(features(mine))
        names.append(name)
        for level in (2, 3):
            ours[level].append((name, window(found[level], start, 10**6)))
        print(".", end="", flush=True)
    print()
    if len(set(names)) >= 5:
        told = [area(his_features, our_features, names, seed) for seed in range(3)]
        print(f"level 1: told from Palestrina on {len(names)} of his basses: {fmean(told):.3f}")
    print(f"level 1: entries a voice {fmean(returns):.2f}")
    dice = random.Random(7)
    for level in (2, 3):
        _apart_from_excerpts(level, ours[level], even, dice)
    for level, found_ in rows.items():
        values = " ".join(f"{k} {fmean(getattr(p, k) for p in found_):.2f}" for k in Played._fields)
        print(f"level {level}: {values} (most beyond {max(p.beyond for p in found_):.1f})")
    print("warnings a bar by level:", {k: round(fmean(v), 3) for k, v in warned.items()}, "new errors", wrong)
    for level in (1, 2, 3):
        print(level, [(r, n) for (k, r), n in kinds_of.most_common() if k == level][:8])


def _apart_from_excerpts(
    level: int, ours: Sequence[tuple[str, Lines]], even: bool, dice: random.Random
) -> None:
    """How far the lines of a level are told from excerpts of the masters, and by what."""
    real = list(excerpts(even, level, dice, len(ours)))
    told = [_apart(real, ours, seed) for seed in range(3)]
    counts = fmean(density(v) for _, v in ours), fmean(density(v) for _, v in real)
    print(
        f"level {level}: told from {len(real)} excerpts {fmean(told):.3f}; small notes a quarter"
        f" {counts[0]:.2f}, theirs {counts[1]:.2f}"
    )
    _tells(real, ours)
    _against_frescobaldi([v for _, v in ours], "halved" if level == 3 else "as written")


def _apart(real: Sequence[tuple[str, Lines]], ours: Sequence[tuple[str, Lines]], seed: int) -> float:
    """As `area`, where the two sides are not of the same pieces."""
    from sklearn.ensemble import GradientBoostingClassifier
    from sklearn.metrics import roc_auc_score
    from sklearn.model_selection import GroupKFold

    x = np.array([features(v) for _, v in (*real, *ours)])
    y = np.array([0] * len(real) + [1] * len(ours))
    names = np.array([n for n, _ in (*real, *ours)])
    scores = np.zeros(len(y))
    for train, test in GroupKFold(5).split(x, y, names):
        model = GradientBoostingClassifier(n_estimators=80, max_depth=3, subsample=0.7, random_state=seed)
        model.fit(x[train], y[train])
        scores[test] = model.predict_proba(x[test])[:, 1]
    return float(roc_auc_score(y, scores))


def _tells(real: Sequence[tuple[str, Lines]], ours: Sequence[tuple[str, Lines]]) -> None:
    """The features that tell most, each by itself: mean of theirs and of ours."""
    from sklearn.metrics import roc_auc_score

    a = np.array([features(v) for _, v in real])
    b = np.array([features(v) for _, v in ours])
    y = [0] * len(a) + [1] * len(b)
    names = feature_names()
    alone = [(abs(float(roc_auc_score(y, [*a[:, k], *b[:, k]])) - 0.5), k) for k in range(a.shape[1])]
    for far, k in sorted(alone, reverse=True)[:8]:
        print(f"    {0.5 + far:.2f} {names[k]}: theirs {a[:, k].mean():.3f}, ours {b[:, k].mean():.3f}")


def _against_frescobaldi(ours: Sequence[Lines], values: str) -> None:
    """Rhythms of a quarter and pairs of moves of small notes beside those counted in the Fiori musicali: the
    Jensen-Shannon divergence in bits, and where they differ most."""
    mine: dict[str, Counter[Any]] = {"cells": Counter(), "moves": Counter()}
    for voices in ours:
        for row in voices:
            quarters: dict[int, list[float]] = {}
            for n in row:
                quarters.setdefault(int(n.start), []).append(n.start % 1)
            small = {int(n.start) for n in row if n.end - n.start <= 0.5}
            mine["cells"].update(tuple(v) for q, v in quarters.items() if q in small)
            for a, b, c in zip(row, row[1:], row[2:]):
                if a.end == b.start and b.end == c.start and b.end - b.start <= 0.5:
                    mine["moves"][max(-7, min(7, b.d - a.d)), max(-7, min(7, c.d - b.d))] += 1
    theirs = {
        "cells": dict(cells(values)),
        "moves": {
            tuple(int(x) for x in key.split(",")): n
            for key, n in learned("frescobaldi")[values]["moves"].items()
        },
    }
    for name in ("cells", "moves"):
        p, q = _shares(theirs[name]), _shares(mine[name])
        both = {k: (p.get(k, 0.0), q.get(k, 0.0)) for k in {*p, *q}}
        far = sum(0.5 * x * log2(x / ((a + b) / 2)) for a, b in both.values() for x in (a, b) if x > 0)
        most = sorted(both.items(), key=lambda i: -abs(i[1][0] - i[1][1]))[:7]
        told = ", ".join(f"{k} {100 * a:.0f}/{100 * b:.0f}" for k, (a, b) in most)
        print(f"    {name}: {far:.3f} bits from Frescobaldi's; his / ours %: {told}")


def _shares(counts: Mapping[Any, float]) -> dict[Any, float]:
    total = sum(counts.values()) or 1
    return {k: n / total for k, n in counts.items()}


def feature_names() -> list[str]:
    names = ("-4", "-2", "-1", "0", "+1", "+2", "+4")
    short = ("16", "8", "8.", "4", "4.")
    return [
        *(f"value {k}" for k in (*short, "2")),
        *(f"{k} on eighth {p}" for k in short for p in range(4)),
        *(f"{a} then {b}" for a in short for b in short),
        *("over the beat", "small on the beat"),
        *(f"move {a}" for a in names),
        *(f"moves {a} {b}" for a in names for b in names if "0" not in (a, b)),
        *("upper neighbours", "lower neighbours", "compass of eight notes", "eight of three pitches"),
        *(f"small note on a {k + 1}" for k in range(7)),
        *("small pairs with", "small pairs against"),
    ]


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--random", type=int, default=30)
    parser.add_argument("--basses", type=int, default=30)
    parser.add_argument("--even", action="store_true")
    args = parser.parse_args()
    main(args.random, args.basses, args.even)
