"""Sets a verset in voices."""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from builder.analysis import Analysis, analyse
from builder.counterpoint.check.finding import Finding, Realisation, Sonority
from builder.counterpoint.check.judge import Judge
from builder.counterpoint.figured_bass.events import Event, events
from builder.counterpoint.figured_bass.sonority import Role
from builder.counterpoint.rules.context import Array, Of
from builder.counterpoint.rules.rule import ERROR, WARNING
from builder.counterpoint.rules.rulebook import RULES
from builder.counterpoint.search.choosing import Faults, candidates, chosen, with_countersubjects
from builder.counterpoint.search.costs import Weights
from builder.counterpoint.search.countersubject import invertible
from builder.counterpoint.search.explain import no_way
from builder.counterpoint.search.lattice import Lattice, Path, build, gaining, like
from builder.counterpoint.search.moving import Lost, lost
from builder.counterpoint.search.paths import best_path
from builder.counterpoint.search.step_costs import Sung, along
from builder.music import QUARTER_COMMA, Note, Part, Score, Tuning, Version, bar_at, spelled
from builder.source import Verset

LONGEST = Fraction(8)
"""A held note is struck again after a breve."""


def lattice_of(
    verset: Verset,
    analysis: Analysis,
    *,
    tuning: Tuning = QUARTER_COMMA,
    countersubject: bool = True,
) -> Lattice:
    """The lattice of a verset with its licences, ready for paths. Where the theme returns, its
    countersubject's return is a gain, if it is asked for."""
    cut = events(verset, analysis, tuning=tuning)
    weights = Weights.of(verset.settings.costs)
    waived = [_waived(verset, bar_at(verset.bars, e.onset).number) for e in cut]
    lattice = build(
        cut,
        weights,
        waived=waived,
        gains=lambda layers: {
            "invertible": invertible(cut, layers, analysis, weights.above(3)["invertible"])
        },
    )
    return next(with_countersubjects(lattice, verset, analysis)) if countersubject else lattice


def _waived(verset: Verset, bar: int) -> frozenset[str]:
    """The rules that licences lift in a bar. What needs no preparation need not come by step either."""
    found = {x.rule for x in verset.licences if x.holds(bar)}
    return frozenset(found | {"dissonance"} if "suspension-unprepared" in found else found)


def setting(verset: Verset, lattice: Lattice, path: Path) -> Realisation:
    """The realisation that a path stands for, without findings."""
    return priced(_written(verset, lattice, path), verset, lattice, path)


def priced(found: Realisation, verset: Verset, lattice: Lattice, path: Path) -> Realisation:
    """The realisation of a path with its costs."""
    rows = [lattice.row(i, state) for i, state in enumerate(path)]
    by_bar = _costs(verset, lattice, path, _sung(lattice, rows))
    total = sum(sum(costs.values()) for costs in by_bar.values())
    return replace(found, cost=round(total, 6), costs_by_bar=by_bar)


def _written(verset: Verset, lattice: Lattice, path: Path) -> Realisation:
    rows = [lattice.row(i, state) for i, state in enumerate(path)]
    sung = _sung(lattice, rows)
    score = Score(
        verset.title,
        Version.PLAIN,
        verset.metre,
        verset.signature,
        verset.bars,
        tuple(_part(verset, v, lattice, rows, sung) for v in verset.voices),
        verset.figures,
    )
    return Realisation(score, tuple(_sonorities(lattice, rows, sung)), (), 0.0)


def _sung(lattice: Lattice, rows: Sequence[int]) -> list[Sung]:
    """What each voice has at each event, highest first, the given line last."""
    found = []
    for layer, row in zip(lattice.layers, rows):
        bass = layer.shape.bass
        upper = zip(layer.d[row].tolist(), layer.m[row].tolist())
        found.append({**dict(zip(layer.shape.upper, upper)), layer.shape.voice: (bass.diatonic, bass.midi)})
    return found


def _sonorities(lattice: Lattice, rows: Sequence[int], sung: Sequence[Sung]) -> Iterator[Sonority]:
    for event, layer, row, now in zip(lattice.events, lattice.layers, rows, sung):
        full, supplied = _told(event, layer.number[row].tolist())
        voices = tuple([(v, spelled(*note)) for v, note in now.items()])
        yield Sonority(event.onset, event.duration, event.bass, event.figure, full, supplied, voices)


def _told(event: Event, numbers: Sequence[int]) -> tuple[tuple[str, ...], str]:
    """The sonority in full and who supplies it; over a passing note of the line the one before is held."""
    if event.hold:
        return ("–",), "held"
    if len(event.variants) == 1:
        return event.variants[0].full, event.supplied
    sounding = set(numbers)
    variant = min(
        event.variants, key=lambda v: (len(sounding - {m.number for m in v.members}), bool(v.price))
    )
    return variant.full, event.supplied


def _part(verset: Verset, voice: str, lattice: Lattice, rows: Sequence[int], sung: Sequence[Sung]) -> Part:
    """A voice: its stretch of the given line and, where it sounds above another, its realised notes.
    A note that stays is tied on; a pinned note keeps its own length."""
    events = lattice.events
    pins = [n for p in verset.pins if p.version == Version.PLAIN and p.voice == voice for n in p.notes]
    pinned, editorial = {n.onset for n in pins}, {(n.onset, n.pitch) for n in pins if n.editorial}
    made: list[Note] = []
    first, last = 0, -1
    """The events over which the voice holds its note."""
    pitch: tuple[int, int] | None = None
    for i, (event, now) in enumerate(zip(events, sung)):
        here = now.get(voice) if voice != event.voice else None
        held = here is not None and here == pitch and last == i - 1 and event.joined
        if held and not _struck_again(events[first], event, pinned):
            last = i
            continue
        if pitch is not None:
            made.append(_note(events[first], events[last], pitch))
        pitch, first, last = here, i, i
    if pitch is not None:
        made.append(_note(events[first], events[last], pitch))
    made = [replace(n, editorial=(n.onset, n.pitch) in editorial) for n in made]
    bound = _suspended(lattice, rows, voice)
    whole = [g.note for g in verset.given if g.voice == voice and g.note.pitch is not None] + made
    whole.sort(key=lambda n: n.onset)
    for n, (note, after) in enumerate(pairwise(whole)):
        # A given note whose pitch is suspended over the next voice's entry is tied into it.
        if after.onset in bound and after.pitch == note.pitch and after.onset == note.end:
            whole[n] = replace(note, tied=True)
    return Part(voice, tuple(whole))


def _note(first: Event, last: Event, pitch: tuple[int, int]) -> Note:
    length = first.duration if last is first else last.end - first.onset
    return Note(first.onset, length, spelled(*pitch))


def _struck_again(first: Event, event: Event, pinned: Collection[Fraction]) -> bool:
    if event.onset in pinned:
        return True
    return event.weight == 3 and event.onset - first.onset >= LONGEST


def _suspended(lattice: Lattice, rows: Sequence[int], voice: str) -> set[Fraction]:
    """Where a voice begins to sound a suspension."""
    found, suspended = set(), int(Role.SUSPENDED)
    for event, layer, row in zip(lattice.events, lattice.layers, rows):
        upper = layer.shape.upper
        if voice in upper and layer.role.item(row, upper.index(voice)) == suspended:
            found.add(event.onset)
    return found


def _costs(verset: Verset, lattice: Lattice, path: Path, sung: Sequence[Sung]) -> dict[int, dict[str, float]]:
    """Named costs along a path, bar by bar."""
    starts = [bar.onset for bar in verset.bars]
    steps = [{}, *along(sung, lattice.moves(0, path), lattice.weights)]
    found: dict[int, dict[str, float]] = {}
    place = 0
    for i, state in enumerate(path):
        while place + 1 < len(starts) and starts[place + 1] <= lattice.events[i].onset:
            place += 1
        here = found.setdefault(verset.bars[place].number, {})
        for name, value in (*lattice.costs_of(i, state), *steps[i].items()):
            if value:
                here[name] = here.get(name, 0.0) + value
    return {bar: {name: round(value, 6) for name, value in here.items()} for bar, here in found.items()}


def realise(
    verset: Verset, analysis: Analysis, *, tuning: Tuning = QUARTER_COMMA, cheapest: bool = False
) -> Realisation:
    """Set a verset in voices: of settings drawn from all lawful ones, each as likely as its costs are low,
    the first in which the check finds nothing above a note. The draw is the verset's own: the same source
    gives the same notes. `cheapest`: the setting of least cost instead, exactly.

    Findings list what could not be met and what the finished setting still breaks; never raises for music
    that cannot be set.

    >>> from builder.analysis import analyse
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> found = realise(verset, analyse(verset))
    >>> found.findings, str(found.score.part("cantus").notes[-2].pitch)
    ((), 'C#5')
    """
    if not cheapest:
        return drawn_for(verset, analysis, tuning).found
    lattice = lattice_of(verset, analysis, tuning=tuning)
    judge = Judge(verset, analysis, tuning=tuning, cut=lattice.events)
    return judged(setting(verset, lattice, best_path(lattice)), lattice, judge)


class Drawn(NamedTuple):
    """The setting taken for a verset, and what it was drawn from."""

    lattice: Lattice
    judge: Judge
    path: Path
    found: Realisation


_RECENT: deque[tuple[Verset, Analysis, Tuning, Drawn]] = deque(maxlen=2)


def drawn_for(verset: Verset, analysis: Analysis, tuning: Tuning) -> Drawn:
    """The setting of a verset with its lattice and judge; those of the last two versets are kept, since every
    step of a verset asks for other ways."""
    for known, read, tuned, drawn in _RECENT:
        if known is verset and read == analysis and tuned == tuning:
            return drawn
    lattice = lattice_of(verset, analysis, tuning=tuning, countersubject=False)
    judge = Judge(verset, analysis, tuning=tuning, cut=lattice.events)
    drawn = (
        _as_written(verset, lattice, judge, tuning)
        or _as_without_pins(verset, lattice, judge, tuning)
        or _drawn(verset, analysis, with_countersubjects(lattice, verset, analysis), judge)
    )
    _RECENT.append((verset, analysis, tuning, drawn))
    return drawn


def _drawn(verset: Verset, analysis: Analysis, lattices: Iterable[Lattice], judge: Judge) -> Drawn:
    """The setting from the first of some lattices in which none has a fault that can be avoided (no
    countersubject is worth one), else that with the fewest."""
    least: Drawn | None = None
    for lattice in lattices:
        drawn = Drawn(lattice, judge, *taken(verset, analysis, lattice, judge))
        if least is None or faults_of(drawn.found) < faults_of(least.found):
            least = drawn
        if faults_of(least.found) <= _fewest(lattice):
            break
    assert least is not None, "the last lattice is the verset's own"
    return least


KEPT_NEAR = (1.0, 0.25, 0.1)
"""What keeping a sonority is worth, as shares of the usual, within a bar of a note that could not be kept."""


def _as_written(verset: Verset, lattice: Lattice, judge: Judge, tuning: Tuning) -> Drawn | None:
    """The setting of a verset that was moved, as at its written pitch, note for note where compass and keys
    allow it; None where the verset stands at its written pitch. About a note that they do not allow, the
    notes that have the fewest faults."""
    if verset.unmoved is None:
        return None
    before = drawn_for(verset.unmoved, analyse(verset.unmoved), tuning)
    kept = like(lattice, before.lattice, before.path, semitones=verset.moved_by.semitones)
    ways: list[Drawn] = []
    missed: tuple[Lost, ...] = ()
    for share in KEPT_NEAR:
        path = best_path(gaining(lattice, {"kept": _kept_near(verset, lattice, kept, missed, share)}))
        found = _written(verset, lattice, path)
        gone = lost(verset, before.found, found)
        told = judged(found, lattice, judge, () if before.lattice.blocked else gone)
        ways.append(Drawn(lattice, judge, path, told))
        missed = missed or gone
        if not missed or faults_of(told) <= _fewest(lattice):
            break
    best = min(ways, key=lambda way: faults_of(way.found))
    return best._replace(found=priced(best.found, verset, lattice, best.path))


def _kept_near(
    verset: Verset,
    lattice: Lattice,
    kept: Sequence[Array | None],
    missed: tuple[Lost, ...],
    share: float,
) -> list[Array | None]:
    """What keeping sonorities is worth: about notes that are missed only a share of it."""
    bar, onsets = verset.metre.bar, {each.onset for each in missed}
    return [
        rows * share if rows is not None and any(abs(event.onset - o) <= bar for o in onsets) else rows
        for event, rows in zip(lattice.events, kept)
    ]


def _as_without_pins(verset: Verset, lattice: Lattice, judge: Judge, tuning: Tuning) -> Drawn | None:
    """The setting that keeps most of what the verset has without the notes set by hand, if it has no more
    faults than that: a note set by hand changes nothing that it need not."""
    others = tuple(pin for pin in verset.pins if pin.version != Version.PLAIN)
    if len(others) == len(verset.pins):
        return None
    without = replace(verset, pins=others)
    before = drawn_for(without, analyse(without), tuning)
    path = best_path(gaining(lattice, {"kept": like(lattice, before.lattice, before.path)}))
    found = judged(_written(verset, lattice, path), lattice, judge)
    # At a place without a way more is told of notes set by hand, though they are the same.
    if found.score.parts != before.found.score.parts and faults_of(found) > faults_of(before.found):
        return None
    return Drawn(lattice, judge, path, priced(found, verset, lattice, path))


def taken(verset: Verset, analysis: Analysis, lattice: Lattice, judge: Judge) -> tuple[Path, Realisation]:
    """The path that is chosen among those drawn, and its setting."""
    found: dict[Path, Realisation] = {}

    def faults(path: Path) -> Faults:
        found[path] = judged(_written(verset, lattice, path), lattice, judge)
        return faults_of(found[path])

    path = chosen(candidates(lattice, verset, analysis), faults, _fewest(lattice))
    # Only what is taken has its costs told.
    return path, priced(found[path], verset, lattice, path)


def _fewest(lattice: Lattice) -> Faults:
    """No setting has fewer faults: each place without a way is an error."""
    return len(lattice.blocked), 0


def faults_of(found: Realisation) -> Faults:
    """How many errors and warnings a setting has that no licence allows."""
    severities = [f.severity for f in found.findings if not f.reason]
    return severities.count(ERROR), severities.count(WARNING)


def judged(found: Realisation, lattice: Lattice, judge: Judge, missed: tuple[Lost, ...] = ()) -> Realisation:
    """A realisation with what could not be met and what the check says of it, in time. A place without a way
    is told as such, not by the rules that had to give way there. `missed`: as `no_way` takes it."""
    assert judge.verset is not None
    checked = judge.check(found.score).findings
    for blocked in lattice.blocked:
        checked = tuple(f for f in checked if not _follows(f, lattice, blocked.index))
    findings = [*no_way(judge.verset, lattice, missed), *checked]
    return replace(found, findings=tuple(sorted(findings, key=lambda f: f.onset)))


_OWED = ("suspension-unresolved", "dissonance", "leading-note")
"""Rules on a tone that are broken by where it goes."""


def _follows(finding: Finding, lattice: Lattice, index: int) -> bool:
    """Whether a finding only says how the rules gave way on the step into an event."""
    event, past = lattice.events[index], lattice.events[max(0, index - 1)]
    # What notes set by hand break is told rule by rule.
    if event.pins or past.pins or RULES[finding.rule].of in (Of.GIVEN, Of.PIN, Of.NOTE):
        return False
    if event.onset <= finding.onset < event.end:
        return True
    return finding.rule in _OWED and past.onset <= finding.onset < event.onset
