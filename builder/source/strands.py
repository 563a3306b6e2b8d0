"""From a score of several voices to a `Verset`: the lowest voice that sounds is the line, the voices above it
are pinned, and what no verset holds is listed.

Knows notes in time, and no format. The line is a *basso seguente*: while the lowest voice rests, the next one
above it has the line, as in Viadana's and Banchieri's basses for the organ.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import combinations, pairwise

from builder.music import VOICES, Bar, Clef, Metre, Note, Pitch, Version
from builder.music.keyboard import LOWEST_KEY
from builder.music.score import split
from builder.source.barring import starts_of
from builder.source.encoded import Encoded, Event, Stack, verset, voice_named
from builder.source.errors import SourceErrors
from builder.source.lines import CLEFS
from builder.source.parse import parse
from builder.source.stacks import quarters
from builder.source.verset import Loss, Pin, Verset
from builder.source.write import write
from builder.source.xmltree import Element

ZERO = Fraction(0)
_CENTRES = {"cantus": 71, "altus": 65, "tenor": 60, "bassus": 50}
"""The middle of each voice's compass, in MIDI numbers (common practice)."""
_HARDLY = 4
"""A strand that sounds less than this part of what the fullest does is no voice, but notes beside one."""
USUAL = {"cantus": "C1", "altus": "C3", "tenor": "C4", "bassus": "F4"}


@dataclass(slots=True)
class Sound:
    """A note of a file: the bar it stands in (counted from 0 as the file has them) and its place there."""

    at: Element
    bar: int
    offset: Fraction
    length: Fraction
    pitch: Pitch
    tied: bool = False
    editorial: bool = False


@dataclass(slots=True)
class Strand:
    """Notes that follow one another, with the clefs they stand in and the figures over them."""

    name: str
    sounds: list[Sound] = field(default_factory=list)
    clefs: list[tuple[int, Fraction, Clef]] = field(default_factory=list)
    stacks: list[tuple[int, Stack]] = field(default_factory=list)

    @property
    def length(self) -> Fraction:
        return sum((s.length for s in self.sounds), ZERO)

    @property
    def mean(self) -> Fraction:
        """Its middle pitch as a MIDI number, long notes weighing more."""
        return sum((s.length * s.pitch.midi for s in self.sounds), ZERO) / self.length


@dataclass(slots=True)
class Whole:
    """A score: what `Encoded` says of it, how long each of its bars is, its strands in the order of the page,
    and what is lost so far: kinds of loss with the bars (counted from 0) that have them."""

    said: Encoded
    lengths: list[Fraction] = field(default_factory=list)
    bars: list[Element] = field(default_factory=list)
    strands: list[Strand] = field(default_factory=list)
    lost: dict[str, set[int]] = field(default_factory=dict)

    free: bool = False
    """Whether its parts had bar lines that do not meet, so that it has other bars than the file."""
    numbers: list[int] = field(default_factory=list)
    """The number of our bar (from 1) in which each bar of the file begins, once they are laid out."""

    def lose(self, kind: str, bar: int) -> None:
        self.lost.setdefault(kind, set()).add(bar)


@dataclass(frozen=True, slots=True)
class _Heard:
    """A note as it sounds, ties joined, in quarter notes from the beginning."""

    onset: Fraction
    end: Fraction
    pitch: Pitch
    editorial: bool
    at: Element


@dataclass(frozen=True, slots=True)
class _Run:
    """A stretch in which one voice (by its number from the top; None: none) has the line."""

    voice: int | None
    start: Fraction
    end: Fraction


def untangled(sounds: Iterable[Sound]) -> list[list[Sound]]:
    """Notes that sound together, as strands of notes that follow one another: the highest first.

    >>> at = Element("note", {}, 1, 1)
    >>> c, e = (Sound(at, 0, ZERO, Fraction(1), Pitch.parse(name)) for name in ("C4", "E4"))
    >>> [[str(s.pitch) for s in strand] for strand in untangled([c, e])]
    [['E4'], ['C4']]
    """
    strands: list[list[Sound]] = []
    for sound in sorted(sounds, key=lambda s: (s.bar, s.offset, -s.pitch.midi)):
        for strand in strands:
            last = strand[-1]
            if last.bar < sound.bar or last.offset + last.length <= sound.offset:
                strand.append(sound)
                break
        else:
            strands.append([sound])
    return strands


def verset_of(whole: Whole) -> Verset:
    """The verset of a score, or `SourceErrors` with why it is none."""
    said = whole.said
    if said.metre is None and not said.faults.errors:
        said.wrong(said.root, "no metre", "a time signature in the first bar")
    said.faults.stop()
    assert said.metre is not None
    starts = _starts(whole, said.metre)
    end = max((s + n for s, n in zip(starts, whole.lengths)), default=ZERO)
    count = max(1, -(-end // said.metre.bar))
    bars = tuple(Bar(n + 1, n * said.metre.bar, said.metre.bar) for n in range(count))
    whole.numbers = [int(start // said.metre.bar) + 1 for start in starts]
    kept, named = _kept(whole)
    if not kept:
        said.wrong(said.root, "no notes", "a given line")
        said.faults.stop()
    return _Setting(whole, starts, bars, kept, named).verset()


def align(whole: Whole, parts: Sequence[tuple[Sequence[Strand], Sequence[Fraction]]]) -> None:
    """Take the strands of all parts into a score, each part with the lengths of its own bars. Parts whose bar
    lines do not meet, but which last equally long, as in mensural music, get the bars of the metre; a
    part with a bar longer than the metre that the others do not have is refused."""
    said = whole.said
    bar = said.metre.bar if said.metre else Fraction(4)
    lengths = [{own[n] for _, own in parts if n < len(own) and own[n]} for n in range(len(whole.bars))]
    met = all(len(here) < 2 for here in lengths)
    same = len({sum(own, ZERO) for _, own in parts}) == 1
    if not met and same and parts:
        total = sum(parts[0][1], ZERO)
        upbeat = min(own[0] for _, own in parts)
        first = bar - upbeat if upbeat < bar else ZERO
        for strands, own in parts:
            _rebarred(strands, own, bar, first)
        count = int(-(-(total + first) // bar))
        whole.lengths, whole.bars = [bar] * count, (whole.bars * count)[:count]
        whole.free = True
    elif not met and said.metre:
        odd = next((n for n, here in enumerate(lengths) if len(here) > 1 and max(here) > bar), None)
        if odd is not None:
            expected = f"{quarters(bar)}, as the metre {said.metre.symbol} has"
            said.wrong(whole.bars[odd], f"a bar of {quarters(max(lengths[odd]))}", expected, odd + 1)
    whole.strands = [strand for strands, _ in parts for strand in strands]


def _rebarred(strands: Sequence[Strand], own: Sequence[Fraction], bar: Fraction, first: Fraction) -> None:
    """Give notes, clefs and figures of a part their places in bars of one length."""
    starts = [first]
    for length in own:
        starts.append(starts[-1] + length)

    def placed(at: int, offset: Fraction) -> tuple[int, Fraction]:
        time = starts[at] + offset
        return int(time // bar), time % bar

    for strand in strands:
        for sound in strand.sounds:
            sound.bar, sound.offset = placed(sound.bar, sound.offset)
        strand.clefs = [(*placed(at, offset), clef) for at, offset, clef in strand.clefs]
        moved = ((placed(at, stack.offset), stack) for at, stack in strand.stacks)
        strand.stacks = [(at, replace(stack, offset=offset)) for (at, offset), stack in moved]


def _starts(whole: Whole, metre: Metre) -> list[Fraction]:
    """Where each bar of the file begins, or `SourceErrors` at the one that fits nowhere."""
    starts = starts_of(whole.lengths, metre.bar)
    if not isinstance(starts, int):
        return starts
    found = f"a bar of {quarters(whole.lengths[starts])}"
    expected = f"{quarters(metre.bar)}, as the metre {metre.symbol} has"
    whole.said.wrong(whole.bars[starts], found, expected, starts + 1)
    whole.said.faults.stop()
    return []


def _kept(whole: Whole) -> tuple[list[Strand], list[str]]:
    """The strands that are kept, from the highest to the line, and the voice of each."""
    strands = [s for s in whole.strands if s.sounds]
    fullest = max((s.length for s in strands), default=ZERO)
    full = [s for s in strands if s.length * _HARDLY >= fullest]
    if not full:
        return [], []
    line = min([s for s in full if s.stacks] or full, key=lambda s: s.mean)
    above = [s for s in full if s is not line and voice_named(s.name) != "bassus"]
    if len(full) <= len(VOICES):
        above = [s for s in full if s is not line]
    # one of each name first, then those that sound most
    names = [voice_named(s.name) for s in above]
    first = [bool(name) and names.index(name) == n for n, name in enumerate(names)]
    ranked = sorted(range(len(above)), key=lambda n: (not first[n], -above[n].length, n))[: len(VOICES) - 1]
    kept = [*sorted((above[n] for n in ranked), key=lambda s: -s.mean), line]
    for strand in strands:
        if all(strand is not k for k in kept):
            for sound in strand.sounds:
                whole.lose("voice", sound.bar)
            if strand.stacks:
                whole.lose("figures", strand.stacks[0][0])
    return _in_voices(kept)


def _in_voices(kept: list[Strand]) -> tuple[list[Strand], list[str]]:
    """Which voice each strand is: by its name where all have one, else by how it lies."""
    names = [voice_named(s.name) for s in kept]
    if (
        all(names)
        and len({*names}) == len(names)
        and VOICES.index(names[-1]) == max(map(VOICES.index, names))
    ):
        order = sorted(range(len(kept)), key=lambda n: VOICES.index(names[n]))
        return [kept[n] for n in order], [names[n] for n in order]
    ways = combinations(VOICES, len(kept))
    best = min(ways, key=lambda way: sum(abs(s.mean - _CENTRES[v]) for s, v in zip(kept, way)))
    return kept, list(best)


class _Setting:
    """Strands that have become voices, on their way to a verset."""

    def __init__(
        self,
        whole: Whole,
        starts: Sequence[Fraction],
        bars: tuple[Bar, ...],
        kept: Sequence[Strand],
        named: Sequence[str],
    ) -> None:
        self.whole, self.starts, self.bars = whole, starts, bars
        self.strands, self.voices = kept, named
        self.heard = [tuple(self._heard(strand)) for strand in kept]
        self.runs = tuple(self._runs())

    def _heard(self, strand: Strand) -> Iterator[_Heard]:
        held: _Heard | None = None
        tied = False
        for sound in strand.sounds:
            onset = self.starts[sound.bar] + sound.offset
            if held and tied and held.end == onset and held.pitch == sound.pitch:
                held = replace(held, end=onset + sound.length)
            else:
                if held:
                    yield held
                held = _Heard(onset, onset + sound.length, sound.pitch, sound.editorial, sound.at)
            tied = sound.tied
        if held:
            yield held

    def _runs(self) -> Iterator[_Run]:
        """Who has the line, from one change to the next."""
        times = {ZERO, self.bars[-1].end}
        times |= {t for heard in self.heard for note in heard for t in (note.onset, note.end)}
        ordered = sorted(times)
        run: _Run | None = None
        at = [0] * len(self.heard)
        for start, end in pairwise(ordered):
            now: int | None = None
            for n, heard in enumerate(self.heard):
                while at[n] < len(heard) and heard[at[n]].end <= start:
                    at[n] += 1
                if at[n] < len(heard) and heard[at[n]].onset <= start:
                    now = n
            if run and run.voice == now:
                run = replace(run, end=end)
            else:
                if run:
                    yield run
                run = _Run(now, start, end)
        if run:
            yield run

    def verset(self) -> Verset:
        said = self.whole.said
        figured = self._figures()
        said.bars = [[] for _ in self.bars]
        said.stacks = [[] for _ in self.bars]
        for event, onset in self._line():
            said.bars[self._bar(onset).number - 1].append(event)
        self._hang(figured)
        line = verset(said)
        pins = tuple(self._pins())
        made = replace(line, pins=pins, from_start=self._from_start(line, pins), lost=tuple(self._lost()))
        try:
            parse(write(made))
        except SourceErrors as wrong:
            for error in wrong.errors:
                said.wrong(said.root, error.found, error.expected, error.bar)
            said.faults.stop()
        return made

    def _bar(self, onset: Fraction) -> Bar:
        return self.bars[min(int(onset // self.bars[0].length), len(self.bars) - 1)]

    def _line(self) -> Iterator[tuple[Event, Fraction]]:
        """The notes and rests of the line, in values of its bars."""
        for run in self.runs:
            notes = self._within(run.voice, run.start, run.end)
            clef: Clef | None = None
            for onset, end, note in notes:
                clef = self._clef(run.voice, note, onset, clef)
                named = self.voices[run.voice] if run.voice is not None else ""
                pieces = list(split(onset, end - onset, self.bars, 2))
                for n, (start, length) in enumerate(pieces):
                    event = Event(note.at if note else self.whole.said.root, length, rest=not note, clef=clef)
                    event.named = named
                    if note:
                        event.pitch, event.editorial = note.pitch, note.editorial
                        event.tied = n < len(pieces) - 1
                    yield event, start

    def _within(
        self, voice: int | None, start: Fraction, end: Fraction
    ) -> Iterator[tuple[Fraction, Fraction, _Heard | None]]:
        """The notes and rests of a voice in a stretch, cut at its edges; what is held over an edge is struck
        again, and told."""
        now = start
        for note in self.heard[voice] if voice is not None else ():
            if note.end <= start or note.onset >= end:
                continue
            low, high = max(note.onset, start), min(note.end, end)
            if low > now:
                yield now, low, None
            if note.onset < start:
                self.whole.lose("tie", self._of_file(start))
            yield low, high, note
            now = high
        if now < end:
            yield now, end, None

    def _clef(self, voice: int | None, note: _Heard | None, onset: Fraction, now: Clef | None) -> Clef | None:
        """The clef of a note: as the file has it where its stave holds the note; else the nearest one."""
        if voice is None:
            return now or Clef.parse(USUAL[self.voices[-1]])
        if note is None:
            return now or self._clef_of_file(voice, onset)
        for clef in (now, self._clef_of_file(voice, onset), Clef.parse(USUAL[self.voices[voice]])):
            if clef and _holds(clef, note.pitch):
                return clef
        usual = Clef.parse(USUAL[self.voices[voice]]).bottom.diatonic
        fit = [c for c in map(Clef.parse, CLEFS) if _holds(c, note.pitch)]
        return min(fit, key=lambda c: abs(c.bottom.diatonic - usual), default=now or Clef.parse("F4"))

    def _clef_of_file(self, voice: int, onset: Fraction) -> Clef:
        found = [c for bar, offset, c in self.strands[voice].clefs if self.starts[bar] + offset <= onset]
        return found[-1] if found else Clef.parse(USUAL[self.voices[voice]])

    def _figures(self) -> list[tuple[Fraction, Stack]]:
        """The figures of the line over its notes, in time; those over rests are told and left out."""
        found: dict[Fraction, Stack] = {}
        line = len(self.strands) - 1
        sounding = False
        for bar, stack in self.strands[line].stacks:
            onset = self.starts[bar] + stack.offset
            over = any(run.voice is not None and run.start <= onset < run.end for run in self.runs)
            if not over or onset in found or (stack.dash and not sounding):
                self.whole.lose("figures", bar)
                continue
            sounding = True
            found[onset] = replace(stack, duration=None)
        return sorted(found.items(), key=lambda item: item[0])

    def _hang(self, figured: Iterable[tuple[Fraction, Stack]]) -> None:
        for onset, stack in figured:
            bar = self._bar(onset)
            self.whole.said.stacks[bar.number - 1].append(replace(stack, offset=onset - bar.onset))

    def _pins(self) -> Iterator[Pin]:
        """Each voice where a lower one has the line: its notes and its silence."""
        for voice, name in enumerate(self.voices):
            notes = []
            for start, end in _joined((r.start, r.end) for r in self.runs if (r.voice or 0) > voice):
                for onset, to, note in self._within(voice, start, end):
                    pieces = list(split(onset, to - onset, self.bars))
                    for n, (at, length) in enumerate(pieces):
                        tied = note is not None and n < len(pieces) - 1
                        pitch, supplied = (note.pitch, note.editorial) if note else (None, False)
                        notes.append(Note(at, length, pitch, tied, supplied))
            if any(n.pitch for n in notes):
                yield Pin(Version.PLAIN, name, tuple(notes))

    def _from_start(self, line: Verset, pins: Iterable[Pin]) -> tuple[str, ...]:
        """Voices that sound above the line before they have had it."""
        entered: dict[str, Fraction] = {}
        for g in line.given:
            if g.note.pitch:
                entered.setdefault(g.voice, g.note.onset)
        first = {p.voice: next(n.onset for n in p.notes if n.pitch) for p in pins}
        return tuple(v for v in VOICES if v in first and first[v] < entered.get(v, self.bars[-1].end))

    def _of_file(self, time: Fraction) -> int:
        return max(bisect_right(self.starts, time) - 1, 0)

    def _lost(self) -> Iterator[Loss]:
        """What is lost, by the numbers of our bars."""
        for kind, bars in self.whole.lost.items():
            yield Loss(kind, tuple(sorted({self.whole.numbers[bar] for bar in bars})))


def _holds(clef: Clef, pitch: Pitch) -> bool:
    low, high = clef.compass
    return low.diatonic <= pitch.diatonic <= high.diatonic


def _joined(stretches: Iterable[tuple[Fraction, Fraction]]) -> Iterator[tuple[Fraction, Fraction]]:
    """Stretches with those that meet as one."""
    held: tuple[Fraction, Fraction] | None = None
    for start, end in stretches:
        if held and held[1] == start:
            held = held[0], end
        else:
            if held:
                yield held
            held = start, end
    if held:
        yield held


def writable(length: Fraction) -> bool:
    """Whether values can write a length: in sixty-fourths, without tuplets."""
    return length > 0 and not Fraction(16) % length.denominator and length.denominator <= 16


def unwritable(length: Fraction, onset: Fraction = ZERO) -> str:
    """What is said of a length, or a place in the bar, that no values can write.

    >>> unwritable(Fraction(1, 3)), unwritable(Fraction(1, 32))
    ('a tuplet', 'a length of 1/32 quarters')
    """
    both = (length.denominator, onset.denominator)
    if any(d & (d - 1) for d in both):
        return "a tuplet"
    return f"a length of {length if length.denominator > 16 else onset} quarters"


def same_metre(said: Encoded, metre: Metre, at: Element, bar: int | None) -> bool:
    """Take a metre as the score's; False (and an error) when another one would change the bars."""
    if said.metre is not None and said.metre.bar != metre.bar:
        said.wrong(at, "a change of metre", "one metre for a verset", bar)
        return False
    said.metre = said.metre or metre
    return True


def transposed(strands: Sequence[Strand], steps: int, semitones: int, whole: Whole) -> None:
    """Bring a transposing part to its sounding pitch. Down by octaves only so far as the organ's keys go: a
    bass that another instrument doubles an octave lower is read where it is written."""
    if not (steps or semitones):
        return
    sounds = [s for strand in strands for s in strand.sounds]
    lowest = min((s.pitch.midi for s in sounds), default=127)
    if semitones % 12 == 0 and semitones < 0 and lowest + semitones < LOWEST_KEY.midi:
        for sound in sounds:
            whole.lose("octave", sound.bar)
        return
    for sound in sounds:
        sound.pitch = _moved(sound.pitch, steps, semitones)


def _moved(pitch: Pitch, steps: int, semitones: int) -> Pitch:
    """A pitch so many steps and semitones on."""
    natural = Pitch(pitch.diatonic + steps, 0)
    return Pitch(natural.diatonic, pitch.midi + semitones - natural.midi)
