"""Why no legal way leads on, and the least change that would open one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

import numpy as np

from builder.counterpoint.check.finding import Finding
from builder.counterpoint.figured_bass.events import Event
from builder.counterpoint.figured_bass.sonority import Role, consonant, read_figure
from builder.counterpoint.rules.context import Array
from builder.counterpoint.rules.rule import ERROR
from builder.counterpoint.search.arcs import arcs, broken
from builder.counterpoint.search.joints import Joint
from builder.counterpoint.search.lattice import Blocked, Lattice, forward, shape_of
from builder.counterpoint.search.moving import Lost, last_lost
from builder.counterpoint.search.shape import contexts
from builder.counterpoint.search.voicing import Voicings, voicings
from builder.language.texts import Phrase
from builder.music import FigureSign, Pitch, spelled
from builder.source import Verset


def no_way(verset: Verset, lattice: Lattice, missed: tuple[Lost, ...] = ()) -> tuple[Finding, ...]:
    """A finding for each place where the rules had to give way. `missed`: what a moved verset lost of its
    setting, which had a way."""
    return tuple(_finding(verset, lattice, blocked, missed) for blocked in lattice.blocked)


def _finding(verset: Verset, lattice: Lattice, blocked: Blocked, missed: tuple[Lost, ...]) -> Finding:
    event = lattice.events[blocked.index]
    place = verset.place(event.onset)
    figured = Phrase.of("figured", figure=event.figure) if event.figure else Phrase("unfigured")
    if blocked.empty:
        why = [Phrase.of("no-voicing", full=event.variants[0].full, bass=event.bass, voices=event.upper)]
    else:
        why = [*_unprepared(lattice, blocked.index), _tried(lattice, blocked.index)]
    if here := last_lost(missed, event.onset):
        note, before = (here.voice, here.pitch), verset.place(here.onset)
        why.insert(0, Phrase.of(f"way-lost-{here.why}", note=note, place=before))
    detail = Phrase.of("no-way", bass=event.bass, figured=figured, why=tuple(why))
    ways = tuple(_least_change(verset, lattice, blocked))
    return Finding("no-way", ERROR, event.onset, place, (*event.upper, event.voice), detail, ways)


def _reached(lattice: Lattice, index: int) -> Array:
    """Rows of an event that a path reaches."""
    wide = contexts(len(lattice.layers[index].shape.upper))
    rows: Array = np.flatnonzero(np.isfinite(lattice.before[index]).reshape(-1, wide).any(axis=1))
    return rows


def _unprepared(lattice: Lattice, index: int) -> Iterator[Phrase]:
    """Which suspended tone could not be there before, and why not."""
    past, event = lattice.events[index - 1], lattice.events[index]
    before = _sounding(lattice, index)
    for member in event.variants[0].members:
        tone = Pitch(event.bass.diatonic + member.offset, member.alter)
        if member.role is not Role.SUSPENDED or (tone.step, tone.midi % 12) in before:
            continue
        above = (tone.diatonic - past.bass.diatonic) % 7 or 7
        yield Phrase.of(
            "unprepared-taken" if consonant(past.bass, tone) else "unprepared",
            tones=((tone.letter, member.number),),
            before=past.bass,
            interval=(past.bass, Pitch(past.bass.diatonic + above, tone.alter)),
        )
        return


def _sounding(lattice: Lattice, index: int) -> set[tuple[int, int]]:
    """Letters and keys that a voice may hold into an event: those that were not bound themselves."""
    layer, rows = lattice.layers[index - 1], _reached(lattice, index - 1)
    free = layer.role[rows] == Role.FREE
    found = {(d % 7, m % 12) for d, m in zip(layer.d[rows][free].tolist(), layer.m[rows][free].tolist())}
    if lattice.events[index].voice != layer.shape.voice:
        found.add((layer.shape.bass.step, layer.shape.bass.midi % 12))
    return found


def _tried(lattice: Lattice, index: int) -> Phrase:
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
    tries = []
    for row in order[:3]:
        rules = tuple(sorted(blame[row], key=lambda name: (-blame[row][name], name)))
        tries.append(Phrase.of("try", pitches=_pitches(b, row), rules=rules))
    more = max(0, len(b) - 3)
    key = "tried-more" if more > 1 else "tried-another" if more else "tried"
    return Phrase.of(key, tries=tuple(tries), count=more)


def _pitches(layer: Voicings, row: int) -> tuple[Pitch, ...]:
    """The notes of a voicing, highest first."""
    return tuple(spelled(d, m) for d, m in zip(layer.d[row].tolist(), layer.m[row].tolist()))


def _least_change(verset: Verset, lattice: Lattice, blocked: Blocked) -> Iterator[Phrase]:
    """Another figure before, a licence, another figure or octave here: up to two that open a way."""
    index, event = blocked.index, lattice.events[blocked.index]
    found = 0
    if not blocked.empty and index:
        bar = verset.place(event.onset).bar
        licences = (Phrase.of("way-licence", rule=rule, bar=bar) for rule in _licences(lattice, index))
        for ways in (_figures_before(lattice, index, verset), licences):
            for way in islice(ways, 1):
                found += 1
                yield way
    opening = (way for way, other in _others(event, verset) if _opens(lattice, index, other))
    yield from islice(opening, 2 - found)


def _figures_before(lattice: Lattice, index: int, verset: Verset) -> Iterator[Phrase]:
    """Figures over the note before that would let its sonority lead on."""
    past = lattice.events[index - 1]
    if index < 2 or past.hold:
        return
    into, onward = (replace(joint, loose=False) for joint in lattice.joints[index - 2 : index])
    for way, other in _figures(past, verset, "-before"):
        layer = voicings(shape_of(other), lattice.weights)
        first = arcs(lattice.layers[index - 2], layer, into, lattice.weights)
        then = arcs(layer, lattice.layers[index], onward, lattice.weights)
        if np.isfinite(forward(then, forward(first, lattice.before[index - 2]))).any():
            yield way


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


def _figures(event: Event, verset: Verset, where: str = "") -> Iterator[tuple[Phrase, Event]]:
    """The same event with another figure."""
    for signs in ((), (FigureSign(6),), (FigureSign(5),), (FigureSign(8),)):
        variant = read_figure(event.bass, signs, verset.signature)
        if variant not in event.variants:
            way = (
                Phrase.of(f"way-figure{where}", figure=signs[0], bass=event.bass)
                if signs
                else Phrase.of(f"way-unfigured{where}", bass=event.bass)
            )
            yield way, replace(event, variants=(variant,))


def _others(event: Event, verset: Verset) -> Iterator[tuple[Phrase, Event]]:
    """The same event with another figure, or with the given note an octave away."""
    yield from _figures(event, verset)
    for octave, word in ((7, "up"), (-7, "down")):
        bass = Pitch(event.bass.diatonic + octave, event.bass.alter)
        yield Phrase.of(f"way-octave-{word}", bass=bass), replace(event, bass=bass)


def _opens(lattice: Lattice, index: int, event: Event) -> bool:
    layer = voicings(shape_of(event), lattice.weights)
    if not len(layer):
        return False
    if not index:
        return True
    joint: Joint = replace(lattice.joints[index - 1], loose=False)
    step = arcs(lattice.layers[index - 1], layer, joint, lattice.weights)
    return bool(np.isfinite(forward(step, lattice.before[index - 1])).any())
