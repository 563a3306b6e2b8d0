"""Notes, parts and scores."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from fractions import Fraction

from builder.music.figure import Figure
from builder.music.pitch import Pitch
from builder.music.time import VALUES, Bar, Metre, bar_at, clipped, dotted, written
from builder.music.voice import Signature

ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class Note:
    """A note, or a rest when `pitch` is None. Times are in quarter notes from the beginning.

    `tied`: held into the next note of its part (the same pitch).
    `editorial`: its accidental is supplied by the editor: it sounds and is printed in brackets.
    `id`: set by `notated`; the same on page, in sound and in every file.
    """

    onset: Fraction
    duration: Fraction
    pitch: Pitch | None
    tied: bool = False
    editorial: bool = False
    id: str = ""
    _end: Fraction | None = field(default=None, init=False, repr=False, compare=False)

    @property
    def end(self) -> Fraction:
        # Asked for so often that the sum is remembered.
        if self._end is None:
            object.__setattr__(self, "_end", self.onset + self.duration)
        assert self._end is not None
        return self._end


@dataclass(frozen=True, slots=True)
class Part:
    """One voice: its name and its notes in order. Time between notes is silence."""

    voice: str
    notes: tuple[Note, ...]

    def sounding(self) -> tuple[Note, ...]:
        """The notes as heard: rests dropped, ties joined (the first id stays).

        >>> d = Pitch.parse("D4")
        >>> notes = Note(ZERO, Fraction(2), d, tied=True), Note(Fraction(2), Fraction(1), d)
        >>> [(n.onset, n.duration) for n in Part("altus", notes).sounding()]
        [(Fraction(0, 1), Fraction(3, 1))]
        """
        heard: list[Note] = []
        open_tie = False
        for note in self.notes:
            if note.pitch is None:
                open_tie = False
                continue
            last = heard[-1] if heard else None
            if open_tie and last and last.pitch == note.pitch and last.end == note.onset:
                heard[-1] = replace(last, duration=last.duration + note.duration)
            else:
                heard.append(replace(note, tied=False) if note.tied else note)
            open_tie = note.tied
        return tuple(heard)

    def at(self, time: Fraction) -> Note | None:
        """The note that sounds at a time, if any."""
        n = bisect_right(self.notes, time, key=lambda note: note.onset) - 1
        note = self.notes[n] if n >= 0 else None
        return note if note and note.pitch is not None and time < note.end else None


class Version(StrEnum):
    """What a score of a verset shows: the line as given, the plain setting or another way of setting it,
    the setting with diminutions as the verset asks for them, or at another level.

    >>> Version("diminished-3").kind is Version.DIMINISHED, Version.PLAIN.kind is Version.PLAIN
    (True, True)
    """

    GIVEN = "given"
    PLAIN = "plain"
    DIMINISHED = "diminished"
    PLAIN_2 = "plain-2"
    DIMINISHED_1 = "diminished-1"
    DIMINISHED_2 = "diminished-2"
    DIMINISHED_3 = "diminished-3"

    @property
    def kind(self) -> Version:
        """The version without its number."""
        return Version(self.partition("-")[0])


VERSIONS = (Version.GIVEN, Version.PLAIN, Version.DIMINISHED)
"""What a source may write out, and what an edition prints."""


@dataclass(frozen=True, slots=True)
class Score:
    """A piece: parts from the highest to the lowest, with its bars. `figures` stand over the given line.
    `closed` when the last bar is the end of the piece, so that it takes the final barline.
    """

    title: str
    version: Version
    metre: Metre
    signature: Signature
    bars: tuple[Bar, ...]
    parts: tuple[Part, ...]
    figures: tuple[Figure, ...] = ()
    closed: bool = True

    @property
    def end(self) -> Fraction:
        return self.bars[-1].end

    def part(self, voice: str) -> Part:
        """The part of a voice; `KeyError` when there is none."""
        for part in self.parts:
            if part.voice == voice:
                return part
        raise KeyError(voice)

    def excerpt(self, start: Fraction, end: Fraction) -> Score:
        """The same score from `start` up to `end`; ids, bar numbers and times stay. Notes that reach
        over an edge are cut there and written in values of their own."""
        bars = clipped(self.bars, start, end)
        low, high = bars[0].onset, bars[-1].end
        parts = tuple(Part(p.voice, tuple(self._cut(p.notes, bars))) for p in self.parts)
        figures = tuple(f for f in self.figures if low <= f.onset < high)
        return replace(self, bars=bars, parts=parts, figures=figures, closed=self.closed and high == self.end)

    def _cut(self, notes: Sequence[Note], bars: Sequence[Bar]) -> Iterator[Note]:
        low, high = bars[0].onset, bars[-1].end
        for note in notes:
            start, end = max(note.onset, low), min(note.end, high)
            if (start, end) == (note.onset, note.end):
                yield note
            elif start < end:
                held = note.pitch is not None
                pieces = list(split(start, end - start, bars, self.dots))
                for n, (onset, duration) in enumerate(pieces):
                    last = n == len(pieces) - 1
                    tied = held and (note.tied and end == note.end if last else True)
                    id = f"{note.id}-{n}" if n and note.id else note.id
                    yield replace(note, onset=onset, duration=duration, tied=tied, id=id)

    @property
    def dots(self) -> int:
        """The most dots on a value: a source may write two; what we write ourselves keeps to the habits
        of its time."""
        return 2 if self.version == Version.GIVEN else 1


def split(
    onset: Fraction, duration: Fraction, bars: Sequence[Bar], dots: int = 1
) -> Iterator[tuple[Fraction, Fraction]]:
    """Cut a length at bar lines and into values with at most so many dots, longest first; `ValueError`
    when values cannot make it up (a third of a quarter). A length that wants a dot more is cut behind
    its undotted value.

    >>> bars = [Bar(1, ZERO, Fraction(4)), Bar(2, Fraction(4), Fraction(4))]
    >>> [(str(a), str(b)) for a, b in split(Fraction(3), Fraction(6), bars)]
    [('3', '1'), ('4', '4'), ('8', '1')]
    """
    end = onset + duration
    while onset < end:
        bar = bar_at(bars, onset)
        room = min(end, bar.end) - onset if onset < bar.end else end - onset
        value = written(room)
        if value is not None and value[1] > dots:
            room = VALUES[value[0]]
        elif value is None:
            shorter = [
                v for value in VALUES.values() for dots in (0, 1) if (v := dotted(value, dots)) <= room
            ]
            if not shorter:
                raise ValueError(f"no value with dots, and no values tied, last {duration} quarters")
            room = max(shorter)
        yield onset, room
        onset += room


def notated(score: Score) -> Score:
    """The score as it is written: notes cut at bar lines and into writable values with ties, rests
    filled in, and an id on every symbol, `<version>-<voice>-<bar>-<n>`. Deterministic; notating
    twice changes nothing.

    >>> from builder.source import EXAMPLE, parse
    >>> altus = notated(parse(EXAMPLE).score()).parts[-1].notes
    >>> altus[0].id, altus[0].pitch, [str(note.pitch) for note in altus[-3:]]
    ('given-altus-1-1', None, ['F4', 'E4', 'D4'])
    """
    parts = []
    for part in score.parts:
        pieces: list[Note] = []
        now = score.bars[0].onset
        for note in part.notes:
            if note.onset > now:
                pieces += [Note(o, d, None) for o, d in split(now, note.onset - now, score.bars)]
            cut = list(split(note.onset, note.duration, score.bars, score.dots))
            for n, (onset, duration) in enumerate(cut):
                last = n == len(cut) - 1
                tied = note.pitch is not None and (note.tied if last else True)
                pieces.append(replace(note, onset=onset, duration=duration, tied=tied))
            now = note.end
        if now < score.end:
            pieces += [Note(o, d, None) for o, d in split(now, score.end - now, score.bars)]
        count: dict[int, int] = {}
        named = []
        for piece in pieces:
            bar = bar_at(score.bars, piece.onset).number
            count[bar] = count.get(bar, 0) + 1
            named.append(replace(piece, id=f"{score.version}-{part.voice}-{bar}-{count[bar]}"))
        parts.append(Part(part.voice, tuple(named)))
    return replace(score, parts=tuple(parts))
