"""Why no legal way leads on, and the least change that would open one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

import numpy as np

from builder.counterpoint.events import Event
from builder.counterpoint.judging import interval_name
from builder.counterpoint.lattice import Blocked, Lattice, forward, shape_of
from builder.counterpoint.pricing import contexts
from builder.counterpoint.result import Finding
from builder.counterpoint.rules import RULES
from builder.counterpoint.sonority import Role, consonant, read_figure
from builder.counterpoint.steps import Joint
from builder.counterpoint.transition import arcs, broken
from builder.counterpoint.voicing import Array, Voicings, voicings
from builder.music import FigureSign, Pitch
from builder.source import Verset


def no_way(verset: Verset, lattice: Lattice) -> tuple[Finding, ...]:
    """A finding for each place where the rules had to give way."""
    return tuple(_finding(verset, lattice, blocked) for blocked in lattice.blocked)


def _finding(verset: Verset, lattice: Lattice, blocked: Blocked) -> Finding:
    event = lattice.events[blocked.index]
    place = verset.place(event.onset)
    figure = f"with {event.figure}" if event.figure else "without figure"
    head = f"over {event.bass} {figure} no legal sonority can be reached"
    if blocked.empty:
        text = (
            f"{head}: no voicing of {' '.join(event.variants[0].full)} fits between {event.bass} and the"
            f" compass of {', '.join(event.upper)}"
        )
    else:
        text = f"{head}: {_unprepared(lattice, blocked.index)}{_tried(lattice, blocked.index)}"
    mend = _least_change(verset, lattice, blocked)
    rule = RULES["no-way"]
    return Finding(
        rule.id, "error", event.onset, place, (*event.upper, event.voice), f"{rule.title}: {text}.", mend
    )


def _reached(lattice: Lattice, index: int) -> Array:
    """Rows of an event that a path reaches."""
    wide = contexts(len(lattice.layers[index].shape.upper))
    rows: Array = np.flatnonzero(np.isfinite(lattice.before[index]).reshape(-1, wide).any(axis=1))
    return rows


def _unprepared(lattice: Lattice, index: int) -> str:
    """Which suspended tone could not be there before, and why not."""
    past, event = lattice.events[index - 1], lattice.events[index]
    before = _sounding(lattice, index)
    for member in event.variants[0].members:
        tone = Pitch(event.bass.diatonic + member.offset, member.alter)
        if member.role is not Role.SUSPENDED or (tone.step, tone.midi % 12) in before:
            continue
        above = (tone.diatonic - past.bass.diatonic) % 7 or 7
        name = interval_name(past.bass, Pitch(past.bass.diatonic + above, tone.alter))
        taken = ", but no voice is free for it" if consonant(past.bass, tone) else ""
        return f"{tone.letter} ({member.number}) cannot be held from {past.bass}, where it is {name}{taken}; "
    return ""


def _sounding(lattice: Lattice, index: int) -> set[tuple[int, int]]:
    """Letters and keys that a voice may hold into an event: those that were not bound themselves."""
    layer, rows = lattice.layers[index - 1], _reached(lattice, index - 1)
    free = layer.role[rows] == Role.FREE
    found = {(d % 7, m % 12) for d, m in zip(layer.d[rows][free].tolist(), layer.m[rows][free].tolist())}
    if lattice.events[index].voice != layer.shape.voice:
        found.add((layer.shape.bass.step, layer.shape.bass.midi % 12))
    return found


def _tried(lattice: Lattice, index: int) -> str:
    """The sonorities tried, each with the rules that forbid it from every way in."""
    a, b = lattice.layers[index - 1], lattice.layers[index]
    rows = _reached(lattice, index - 1)
    joint = replace(lattice.joints[index - 1], loose=False)
    blame: list[dict[str, int]] = [{} for _ in range(len(b))]
    for rule, mask in broken(a, b, joint):
        name = rule if isinstance(rule, str) else rule.id
        for row, times in enumerate(mask[rows].sum(axis=0).tolist()):
            if times:
                blame[row][name] = blame[row].get(name, 0) + int(times)
    # The likeliest first: those that the fewest rules forbid.
    order = sorted(range(len(b)), key=lambda row: (len(blame[row]), float(b.cost[row])))
    shown = []
    for row in order[:3]:
        rules = sorted(blame[row], key=lambda name: (-blame[row][name], name))
        shown.append(f"{names(b, row)} ({', '.join(RULES[r].title.lower() for r in rules)})")
    more = f" and {len(b) - 3} more" if len(b) > 3 else ""
    return f"tried {'; '.join(shown)}{more}"


def names(layer: Voicings, row: int) -> str:
    """The notes of a voicing, highest first."""
    found = []
    for d, m in zip(layer.d[row].tolist(), layer.m[row].tolist()):
        found.append(Pitch(d, m - Pitch(d).midi).name)
    return "–".join(found)


def _least_change(verset: Verset, lattice: Lattice, blocked: Blocked) -> str:
    """Another figure before, a licence, another figure or octave here: up to two that open a way."""
    index, event = blocked.index, lattice.events[blocked.index]
    found = []
    if not blocked.empty and index:
        found += [
            f"{text} before it opens a way." for text in islice(_figures_before(lattice, index, verset), 1)
        ]
        bar = verset.place(event.onset).bar
        for rule in islice(_licences(lattice, index), 1):
            found.append(
                f"A licence for {rule} in bar {bar} opens a way: {{rule: {rule}, bar: {bar}, because: …}}."
            )
    opening = (
        f"{text} opens a way." for text, other in _others(event, verset) if _opens(lattice, index, other)
    )
    found += islice(opening, max(0, 2 - len(found)))
    return " ".join(found) or RULES["no-way"].advice


def _figures_before(lattice: Lattice, index: int, verset: Verset) -> Iterator[str]:
    """Figures over the note before that would let its sonority lead on."""
    past = lattice.events[index - 1]
    if index < 2 or past.hold:
        return
    into, onward = (replace(joint, loose=False) for joint in lattice.joints[index - 2 : index])
    for text, other in _figures(past, verset):
        layer = voicings(shape_of(other), lattice.weights)
        first = arcs(lattice.layers[index - 2], layer, into, lattice.weights)
        then = arcs(layer, lattice.layers[index], onward, lattice.weights)
        if np.isfinite(forward(then, forward(first, lattice.before[index - 2]))).any():
            yield text


def _licences(lattice: Lattice, index: int) -> Iterator[str]:
    """Rules whose licence alone opens a step."""
    a, b = lattice.layers[index - 1], lattice.layers[index]
    joint = replace(lattice.joints[index - 1], loose=False)
    seen = sorted({r if isinstance(r, str) else r.id for r, mask in broken(a, b, joint) if mask.any()})
    for name in seen:
        waived = replace(joint, waived=joint.waived | {name})
        step = arcs(a, b, waived, lattice.weights)
        if np.isfinite(forward(step, lattice.before[index - 1])).any():
            yield name


def _figures(event: Event, verset: Verset) -> Iterator[tuple[str, Event]]:
    """The same event with another figure."""
    for signs in ((), (FigureSign(6),), (FigureSign(5),), (FigureSign(8),)):
        variant = read_figure(event.bass, signs, verset.signature)
        name = "/".join(map(str, signs)) or "none"
        if variant not in event.variants:
            yield f"The figure {name} over {event.bass}", replace(event, variants=(variant,))


def _others(event: Event, verset: Verset) -> Iterator[tuple[str, Event]]:
    """The same event with another figure, or with the given note an octave away."""
    yield from _figures(event, verset)
    for octave, word in ((7, "up"), (-7, "down")):
        bass = Pitch(event.bass.diatonic + octave, event.bass.alter)
        yield f"The given note an octave {word} ({bass})", replace(event, bass=bass)


def _opens(lattice: Lattice, index: int, event: Event) -> bool:
    layer = voicings(shape_of(event), lattice.weights)
    if not len(layer):
        return False
    if not index:
        return True
    joint: Joint = replace(lattice.joints[index - 1], loose=False)
    step = arcs(lattice.layers[index - 1], layer, joint, lattice.weights)
    return bool(np.isfinite(forward(step, lattice.before[index - 1])).any())
