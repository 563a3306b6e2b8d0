"""Sets a verset in voices."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from builder.analysis import Analysis
from builder.counterpoint.check import judged as checked
from builder.counterpoint.costs import Weights
from builder.counterpoint.countersubject import invertible, returns
from builder.counterpoint.events import Event, events
from builder.counterpoint.explain import no_way
from builder.counterpoint.lattice import Lattice, Path, build, gaining
from builder.counterpoint.paths import best_path
from builder.counterpoint.pricing import Sung, along, contexts
from builder.counterpoint.result import Realisation, Sonority
from builder.music import Note, Part, Pitch, Score, bar_at
from builder.source import Verset

LONGEST = Fraction(8)
"""A held note is struck again after a breve."""


def lattice_of(verset: Verset, analysis: Analysis, *, tuning: str = "quarter-comma") -> Lattice:
    """The lattice of a verset with its licences, ready for paths. Where the theme returns, repeating its
    counterpoint of a first setting is a gain: paths are the best for that countersubject."""
    cut = events(verset, analysis, tuning=tuning)
    weights = Weights.of(verset.settings.costs)
    waived = [
        frozenset(x.rule for x in verset.licences if x.bar == bar_at(verset.bars, e.onset).number)
        for e in cut
    ]
    lattice = build(
        cut,
        weights,
        waived=waived,
        gains=lambda layers: {"invertible": invertible(cut, layers, analysis, weights["invertible"])},
    )
    if len(analysis.entries) < 3:
        return lattice
    return gaining(lattice, {"countersubject": returns(lattice, best_path(lattice), analysis)})


def setting(verset: Verset, lattice: Lattice, path: Path) -> Realisation:
    """The realisation that a path stands for, without findings."""
    sung = _sung(lattice, path)
    pitches = [{v: _pitch(*note) for v, note in now.items()} for now in sung]
    sonorities = tuple(_sonorities(lattice, path, pitches))
    score = Score(
        verset.title,
        "plain",
        verset.metre,
        verset.signature,
        verset.bars,
        tuple(_part(verset, v, lattice, path, pitches) for v in verset.voices),
        verset.figures,
    )
    by_bar = _costs(verset, lattice, path, sung)
    total = sum(sum(costs.values()) for costs in by_bar.values())
    return Realisation(score, sonorities, (), round(total, 6), by_bar)


def _sung(lattice: Lattice, path: Path) -> list[Sung]:
    """What each voice has at each event, highest first, the given line last."""
    found = []
    for i, state in enumerate(path):
        layer, row = lattice.layers[i], lattice.row(i, state)
        bass = layer.shape.bass
        upper = zip(layer.d[row].tolist(), layer.m[row].tolist())
        found.append({**dict(zip(layer.shape.upper, upper)), layer.shape.voice: (bass.diatonic, bass.midi)})
    return found


@lru_cache(maxsize=1024)
def _pitch(d: int, m: int) -> Pitch:
    return Pitch(d, m - Pitch(d).midi)


_Pitches = list[dict[str, Pitch]]


def _sonorities(lattice: Lattice, path: Path, pitches: _Pitches) -> list[Sonority]:
    found = []
    for i, (event, state) in enumerate(zip(lattice.events, path)):
        layer = lattice.layers[i]
        full, supplied = _told(event, set(layer.number[lattice.row(i, state)].tolist()))
        voices = tuple(pitches[i].items())
        found.append(Sonority(event.onset, event.duration, event.bass, event.figure, full, supplied, voices))
    return found


def _told(event: Event, numbers: set[int]) -> tuple[tuple[str, ...], str]:
    """The sonority in full and who supplies it; over a passing note of the line the one before is held."""
    if event.hold:
        return ("–",), "held"
    plain = [v for v in event.variants if v.price != "passing"]
    variant = min(plain, key=lambda v: (len(numbers - {m.number for m in v.members}), bool(v.price)))
    return variant.full, event.supplied


def _part(verset: Verset, voice: str, lattice: Lattice, path: Path, pitches: _Pitches) -> Part:
    """A voice: its stretch of the given line and, where it sounds above another, its realised notes.
    A note that stays is tied on; a pinned note keeps its own length."""
    notes: list[Note] = [g.note for g in verset.given if g.voice == voice and g.note.pitch is not None]
    pinned = [n for p in verset.pins if p.version == "plain" and p.voice == voice for n in p.notes]
    made: list[Note] = []
    for event, now in zip(lattice.events, pitches):
        if voice not in now or voice == event.voice:
            continue
        pitch = now[voice]
        last = made[-1] if made else None
        held = last is not None and last.end == event.onset and last.pitch == pitch
        if last is not None and held and not _struck_again(verset, last, event, pinned):
            made[-1] = replace(last, duration=last.duration + event.duration)
        else:
            made.append(Note(event.onset, event.duration, pitch))
    whole = sorted([*notes, *made], key=lambda n: n.onset)
    return Part(voice, tuple(_tied_into_suspensions(whole, lattice, path, voice)))


def _struck_again(verset: Verset, last: Note, event: Event, pinned: Sequence[Note]) -> bool:
    if any(n.onset == event.onset for n in pinned):
        return True
    return last.duration >= LONGEST and event.weight == 3


def _tied_into_suspensions(notes: list[Note], lattice: Lattice, path: Path, voice: str) -> list[Note]:
    """A given note whose pitch is suspended over the next voice's entry is tied into it."""
    bound = set()
    for i, (event, state) in enumerate(zip(lattice.events, path)):
        layer = lattice.layers[i]
        if voice in layer.shape.upper:
            role = int(layer.role[lattice.row(i, state), layer.shape.upper.index(voice)])
            if role == 1:
                bound.add(event.onset)
    found = []
    for n, note in enumerate(notes):
        after = notes[n + 1] if n + 1 < len(notes) else None
        if after and after.onset == note.end and after.pitch == note.pitch and after.onset in bound:
            note = replace(note, tied=True)
        found.append(note)
    return found


def _costs(verset: Verset, lattice: Lattice, path: Path, sung: list[Sung]) -> dict[int, dict[str, float]]:
    """Named costs along a path, bar by bar."""
    ends = [bar.end for bar in verset.bars]
    shapes = [layer.shape for layer in lattice.layers]
    taken = [
        (shapes[i], shapes[i + 1], joint, path[i] % contexts(len(shapes[i].upper)))
        for i, joint in enumerate(lattice.joints)
    ]
    steps = [{}, *along(sung, taken, lattice.weights)]
    found: dict[int, dict[str, float]] = {}
    for i, state in enumerate(path):
        place = min(bisect_right(ends, lattice.events[i].onset), len(ends) - 1)
        here = found.setdefault(verset.bars[place].number, {})
        layer, row = lattice.layers[i], lattice.row(i, state)
        named = {name: float(values[row]) for name, values in layer.parts.items() if values[row]}
        named |= {name: float(gain[row]) for name, gain in lattice.named_gains[i].items() if gain[row]}
        for name, value in steps[i].items():
            named[name] = named.get(name, 0.0) + value
        for name, value in named.items():
            here[name] = round(here.get(name, 0.0) + value, 6)
    return found


def realise(verset: Verset, analysis: Analysis, *, tuning: str = "quarter-comma") -> Realisation:
    """Set a verset in voices: the best legal path through the voicings of its sonorities.

    Findings list what could not be met and what the finished setting still breaks; never raises for music
    that cannot be set.
    """
    lattice = lattice_of(verset, analysis, tuning=tuning)
    found = setting(verset, lattice, best_path(lattice))
    return judged(found, lattice, verset, analysis, tuning)


def judged(
    found: Realisation, lattice: Lattice, verset: Verset, analysis: Analysis, tuning: str
) -> Realisation:
    """A realisation with what could not be met and what the check says of it, in time."""
    findings = [
        *no_way(verset, lattice),
        *checked(found.score, verset, analysis, lattice.events, tuning),
    ]
    return replace(found, findings=tuple(sorted(findings, key=lambda f: f.onset)))
