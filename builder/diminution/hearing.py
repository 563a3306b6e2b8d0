"""What a listener hears in the voices as a whole: imitation, rests, suspensions, each its own rhythm."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from builder.diminution.weave import SILENT, Tone, Weave
from builder.music.consonance import clash

Figure = tuple[tuple[int, int, int], tuple[int, int, int]]
"""Three intervals in staff steps, three lengths in ticks."""


def figures(tones: Sequence[Tone]) -> Iterator[tuple[int, Figure]]:
    """The figures of four joined notes, not all on one pitch: number of the first note, and the figure."""
    for i in range(len(tones) - 3):
        a, b, c, d = tones[i : i + 4]
        if a.end != b.start or b.end != c.start or c.end != d.start:
            continue
        steps = (b.d - a.d, c.d - b.d, d.d - c.d)
        if (steps[0] != 0) + (steps[1] != 0) + (steps[2] != 0) >= 2:
            yield i, (steps, (b.start - a.start, c.start - b.start, d.start - c.start))


def imitated(weave: Weave) -> list[set[int]]:
    """For each voice the onsets of notes inside a figure that another voice had before."""
    first: dict[Figure, dict[int, int]] = {}
    rows = [list(figures(tones)) for tones in weave.tones]
    for v, row in enumerate(rows):
        for i, figure in row:
            start = weave.tones[v][i].start
            had = first.setdefault(figure, {})
            if start < had.get(v, weave.size):
                had[v] = start
    found: list[set[int]] = []
    for v, row in enumerate(rows):
        hit: set[int] = set()
        tones = weave.tones[v]
        for i, figure in row:
            start = tones[i].start
            if any(w != v and t < start for w, t in first[figure].items()):
                hit.update(t.start for t in tones[i : i + 4])
        found.append(hit)
    return found


def suspensions(weave: Weave) -> int:
    """Notes held into a dissonance that another voice strikes, and falling by step."""
    count = 0
    for v, row in enumerate(weave.tones):
        for a, b in itertools.pairwise(row):
            if b.start == a.end and b.d - a.d == -1 and struck_against(weave, v, a) is not None:
                count += 1
    return count


def struck_against(weave: Weave, voice: int, tone: Tone) -> int | None:
    """The tick at which another voice strikes a dissonance against a held note and stays until it ends."""
    for w in range(len(weave.voices)):
        if w == voice:
            continue
        row = weave.tones[w]
        k = weave.place(w, tone.start + 1)
        while k < len(row) and row[k].start < tone.end:
            other = row[k]
            k += 1
            if other.end < tone.end:
                continue
            lowest = min(m[other.start] for m in weave.m if m[other.start] != SILENT)
            if clash(tone.d, tone.m, other.d, other.m, lowest):
                return other.start
    return None


@dataclass(slots=True)
class Heard:
    """Shares of the free notes (not the given line's), unless said otherwise."""

    bars: float
    free: int
    imitated: float
    silent: float
    """Share of a voice's time after its first entry in which it rests."""
    suspensions: float
    """To the bar."""
    with_given: float
    """Onsets of free notes together with a given one."""
    density: float
    """Free notes a quarter and voice."""
    repeated: float
    leaps: float
    """Wider than a third, among the moves of free notes."""
    upper: float
    """Upper neighbours, among the small notes (eighths and shorter)."""
    sixths: float
    """Notes a sixth above the lowest, among the small ones."""
    late: float
    """Eighths that follow a quarter."""
    together: float
    """Onsets at which all sounding voices strike, of three and more."""


def _upper(before: Tone | None, tone: Tone, after: Tone) -> bool:
    """Whether a note is the upper neighbour of the notes about it."""
    return before is not None and before.end == tone.start and before.d == after.d == tone.d - 1


def _sixth(weave: Weave, tone: Tone) -> bool:
    """Whether a note begins a sixth above the lowest, or at octaves from there."""
    t = tone.start
    low, step = min((m[t], d[t]) for m, d in zip(weave.m, weave.d) if m[t] != SILENT)
    return (tone.d - step) % 7 == 5 and tone.m > low


def hear(weave: Weave, given: Sequence[int]) -> Heard:
    """Listen to the voices. `given`: the voice that has the given line at each tick."""
    bars = weave.size / float(weave.score.metre.bar * weave.unit)
    hits = imitated(weave)
    free = hit = repeats = moves = leaps = sounding = 0
    span = silent = 0
    onsets: dict[int, int] = {}
    firm: set[int] = set()
    small = upper = sixths = late = 0
    eighth = weave.unit // 2
    for v, row in enumerate(weave.tones):
        if not row:
            continue
        span += weave.size - row[0].start
        silent += weave.size - row[0].start
        last = before = None
        for tone in row:
            silent -= tone.end - tone.start
            if given[tone.start] == v:
                firm.add(tone.start)
            else:
                free += 1
                sounding += tone.end - tone.start
                hit += tone.start in hits[v]
                onsets[tone.start] = onsets.get(tone.start, 0) + 1
                if last is not None and last.end == tone.start:
                    moves += 1
                    size = abs(tone.d - last.d)
                    repeats += size == 0
                    leaps += size > 2
                    late += tone.end - tone.start == eighth and last.end - last.start == weave.unit
                    if last.end - last.start <= eighth:
                        small += 1
                        upper += _upper(before, last, tone)
                        sixths += _sixth(weave, last)
            before, last = last, tone
    n = max(1, free)
    return Heard(
        bars,
        free,
        hit / n,
        silent / max(1, span),
        suspensions(weave) / bars,
        sum(t in firm for t in onsets) / max(1, len(onsets)),
        free * weave.unit / max(1, sounding),
        repeats / max(1, moves),
        leaps / max(1, moves),
        upper / max(1, small),
        sixths / max(1, small),
        late / n,
        0.0,
    )


def beyond(x: float, low: float, high: float, size: float) -> float:
    """How far a value is outside a band, in units of `size`."""
    return max(low - x, x - high, 0.0) / size


Energy = Callable[[Weave], float]
