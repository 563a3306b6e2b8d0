"""Features of a plain setting over a bass, by which a classifier tries to tell a master's from ours.

A setting is an array of staff steps and one of MIDI numbers, events x voices, the highest first and the given
line last. Both sides are measured at the same events, so that rhythm plays no part.
"""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np

Array = np.ndarray[Any, np.dtype[Any]]


def _share(values: Any) -> float:
    found = np.asarray(values, dtype=float)
    return float(found.mean()) if found.size else 0.0


def _motion(low: Array, high: Array) -> list[float]:
    """Shares of contrary, oblique, similar, parallel and no motion."""
    a, b = np.sign(low), np.sign(high)
    same = (a * b > 0) & (low == high)
    return [
        _share(a * b < 0),
        _share((a == 0) ^ (b == 0)),
        _share((a * b > 0) & ~same),
        _share(same),
        _share((a == 0) & (b == 0)),
    ]


def _turns(moves: Array) -> float:
    way = np.sign(moves[moves != 0])
    return _share(way[1:] != way[:-1]) if len(way) > 1 else 0.5


def _entropy(moves: Array) -> float:
    _, many = np.unique(np.clip(moves, -4, 4), return_counts=True)
    p = many / many.sum()
    return float(-(p * np.log(p)).sum())


def _line(d: Array) -> list[float]:
    moves = np.diff(d)
    size = abs(moves)
    shares = [_share(size == 0), _share(size == 1), _share(size == 2), _share(size > 2)]
    return [*shares, float(np.ptp(d)), _turns(moves), _entropy(moves)]


def pitch_features(d: Array, m: Array) -> list[float]:
    """Shares of melodic intervals, motion of pairs, unisons, tritones, re-voicing over a held bass, turns,
    peaks."""
    upper = d[:, :-1]
    count = upper.shape[1]
    moves = np.diff(d, axis=0)
    high = moves[:, :-1]
    held = moves[:, -1] == 0
    changed = (high != 0).sum(axis=1)
    top = upper[:, 0]
    found = [float(count), float(len(d)), *_line(top)]
    inner = [_line(upper[:, v]) for v in range(1, count)]
    found += np.mean(inner, axis=0).tolist() if inner else [0.0] * 7
    found += _motion(moves[:, -1], high[:, 0])
    pairs = [_motion(high[:, b], high[:, a]) for a, b in combinations(range(count), 2)]
    found += np.mean(pairs, axis=0).tolist() if pairs else [0.0] * 5
    ways = np.sign(high)
    alike = (ways[:, 0] != 0) & (ways == ways[:, :1]).all(axis=1)
    found.append(_share(alike) if count > 1 else 0.0)
    found.append(_share((np.diff(m, axis=1) == 0).any(axis=1)))
    above = (m[:, :-1] - m[:, -1:]) % 12
    found.append(_share(np.array([len(set(row)) < len(row) for row in (m % 12).tolist()])))
    tritone = (above == 6).any(axis=1)
    found.append(_share(tritone[:-1] & (abs(high) > 1).any(axis=1)))
    found.append(_share((above == 6).sum(axis=1) > 1))
    found += [
        _share(held & (changed == 1)),
        _share(held & (changed > 1)),
        _share(held & (abs(high) > 1).any(axis=1)),
    ]
    found += [
        _share(held & (changed == 0)),
        float((top == top.max()).sum()),
        _share(np.diff(top)[np.diff(top) != 0] > 0),
    ]
    peaks = np.flatnonzero(top == top.max())
    found.append(float(len(np.flatnonzero(np.diff(peaks) > 1)) == 0))
    return found


def other_features(d: Array, m: Array) -> list[float]:
    """Features that no cost looks at directly: numbers above the bass, gaps, doublings, pairs of melodic
    moves, where the highest note lies, drift."""
    upper, bass = d[:, :-1], d[:, -1]
    count = upper.shape[1]
    number = (upper - bass[:, None]) % 7
    found = [float(count), float(len(d))]
    found += [_share(number[:, 0] == n) for n in (0, 2, 4, 5)]
    inner = number[:, 1:]
    found += [_share(inner == n) for n in (0, 2, 4, 5)]
    gaps = -np.diff(d, axis=1)
    found += [float(gaps.mean()), float(gaps.std()), float(gaps[:, -1].mean()), float(gaps[:, 0].mean())]
    found += [_share((number == n).sum(axis=1) > 1) for n in (0, 2, 4, 5)]
    found.append(_share((number != 2).all(axis=1)))
    moves = np.diff(upper, axis=0)
    for voices in ([0], list(range(1, count))):
        rows: list[list[float]] = []
        for v in voices:
            a, b = moves[:-1, v], moves[1:, v]
            small, wide = abs(a) == 1, abs(a) > 2
            rows.append(
                [
                    _share(small & (a == b)),
                    _share(small & (a == -b)),
                    _share(wide & (abs(b) == 1) & (a * b < 0)),
                    _share((a != 0) & (a + b == 0)),
                    _share((a == 0) & (b == 0)),
                    _share((a == 0) ^ (b == 0)),
                    _share((abs(a) > 1) & (abs(b) > 1)),
                ]
            )
        found += np.mean(rows, axis=0).tolist() if rows else [0.0] * 7
    top = upper[:, 0]
    found += [float(top.argmax()) / len(top), float(top.argmin()) / len(top), float(top[-1] - top[0])]
    found += [
        float(top.mean() - bass.mean()),
        float(np.corrcoef(top, bass)[0, 1]) if top.std() and bass.std() else 0.0,
    ]
    return found
