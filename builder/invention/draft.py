"""A draft of a verset: the line with its figures, and its text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import zip_longest
from random import Random

from builder.invention.closing import Sung
from builder.invention.continuing import continued, short_line
from builder.invention.figures import DOUBLE, Bass, pitch_class, sonorities, tones, written_figures
from builder.invention.order import Order, leading
from builder.invention.theme import Theme
from builder.language.texts import texts
from builder.music import VOICES, Metre, Pitch, Signature, written

CLEFS = {"cantus": "C1", "altus": "C3", "tenor": "C4", "bassus": "F4"}
LINES = 12
"""Lines drawn to go on from one theme."""
DIFFERENT = 5
"""Notes that a short line has at least, each counted once: one in fewer goes nowhere."""


class Unusable(ValueError):
    """Why nothing came of a draft, in a word or two."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """What a voice has of the line: its notes, and the sonority over each."""

    voice: str
    notes: tuple[Sung, ...]
    over: tuple[tuple[Bass, str], ...]


@dataclass(frozen=True, slots=True)
class Draft:
    """A line with its sonorities; `closes`: when, in quarter notes, it closes, and on which letter."""

    order: Order
    theme: Theme
    stretches: tuple[Stretch, ...]
    closes: tuple[tuple[Fraction, str], ...]

    def text(self, language: str) -> str:
        """The source, in the given language."""
        say = texts("invention", language)
        order = self.order
        front = [
            f"title: {say(f'title.{order.tone}', seed=order.seed)}",
            "verset:",
            f"  metre: {order.time.symbol}",
            f"  signature: {order.form.signature}",
            f"  tone: {order.tone}",
            f"  beat: {order.rhythms.tempo}",
        ]
        signature = Signature.parse(order.form.signature)
        lines, time = [], Fraction(0)
        for stretch in self.stretches:
            lines.append(_line(stretch, time, order.time, signature))
            time += sum((n.length for n in stretch.notes), Fraction(0))
        intro = say("drawn", seed=order.seed)
        return "\n".join(["---", *front, "---", "", intro, "", "```given", *lines, "```", ""])


def draft(order: Order, theme: Theme, dice: Random) -> Draft:
    """A draft on a theme; `Unusable` where the dice lead nowhere."""
    entries = len(order.voices) * theme.duration
    bars = int(-(-(order.bars * order.time.bar - entries) // order.time.bar)) - 1
    if bars < 2:
        raise Unusable("no room behind the entries")
    going_on = next((g for _ in range(LINES) if (g := continued(order, theme, bars, dice))), None)
    if going_on is None:
        raise Unusable("no line")
    line, closes = going_on
    stretches = _stretches(order, theme, line, dice)
    return Draft(order, theme, stretches, tuple((entries + time, degree) for time, degree in closes))


def unseen_line(tone: int, voices: int, bars: int, seed: str) -> tuple[str, ...]:
    """A short figured line that nobody has seen, bar by bar as a source writes it: it begins on the final of
    the tone and closes as the tone does. `voices`: how many sound, the line among them; the same seed gives
    the same line. None is empty: from the seed nothing came.

    >>> bars = unseen_line(1, 3, 6, "a line")
    >>> len(bars), bars[-1]
    (6, 'D3/1')
    """
    order = Order(tone, VOICES[-voices:], bars)
    dice, signature = Random(f"{seed} {tone} {voices} {bars}"), Signature.parse(order.form.signature)
    for _ in range(LINES):
        line = short_line(order, dice)
        if line is None or len({note.pitch for note in line}) < DIFFERENT:
            continue
        basses = _basses(order, line, Fraction(0), 0)
        over = sonorities(basses, voices - 1, signature, dice, sounding=frozenset())
        if over is not None:
            stretch = Stretch(order.voices[-1], line, tuple(zip(basses, over)))
            return tuple(_line(stretch, Fraction(0), order.time, signature).split(" | ")[1:])
    return ()


def _stretches(order: Order, theme: Theme, line: Sequence[Sung], dice: Random) -> tuple[Stretch, ...]:
    """Sonorities over the whole line. All entries but the first have the same ones where they can, so that
    what goes with the theme can come again."""
    signature = Signature.parse(order.form.signature)
    first = order.voices[0]
    alone = tuple(Sung(p, n) for p, n in zip(theme.entries[first], theme.lengths))
    found = [Stretch(first, alone, ())]
    sounding = frozenset({pitch_class(alone[-1].pitch)})
    over: tuple[str, ...] = ()
    time = theme.duration
    for voice in order.voices[1:]:
        sung = tuple(Sung(p, n) for p, n in zip(theme.entries[voice], theme.lengths))
        notes = (*sung, *line) if voice == order.voices[-1] else sung
        basses = _basses(order, notes, time, len(sung))
        above = sum(VOICES.index(s.voice) < VOICES.index(voice) for s in found)
        drawn = _over(basses, over, above, signature, sounding, dice)
        over = over or drawn[: len(sung)]
        found.append(Stretch(voice, notes, tuple(zip(basses, drawn))))
        sounding = tones(basses[len(sung) - 1], drawn[len(sung) - 1], signature, above)
        time += theme.duration
    return tuple(found)


def _basses(order: Order, sung: Sequence[Sung], start: Fraction, theme: int) -> tuple[Bass, ...]:
    """The notes as their figures see them. Where the theme ends a step down, a leading note is raised."""
    found, time = [], start
    for n, note in enumerate(sung):
        goal = sung[n + 1].pitch if n == theme - 2 else note.pitch
        closes = goal.diatonic - note.pitch.diatonic == -1 and leading(goal.letter)
        weight = order.time.weight(time)
        found.append(Bass(note.pitch, note.length, weight, note.fixed, note.raised or closes, closes))
        time += note.length
    return tuple(found)


def _over(
    basses: Sequence[Bass],
    before: Sequence[str],
    above: int,
    signature: Signature,
    sounding: frozenset[Pitch],
    dice: Random,
) -> tuple[str, ...]:
    """Sonorities over an entry and what follows it: those that the theme had before, if they can stand."""
    kept = [b.with_fixed(s) if n and not b.fixed else b for n, (b, s) in enumerate(zip(basses, before))]
    for row in ([*kept, *basses[len(kept) :]], basses) if kept else (basses,):
        drawn = sonorities(row, above, signature, dice, sounding=sounding)
        if drawn is not None:
            return drawn
    raise Unusable("no figures")


def _line(stretch: Stretch, start: Fraction, metre: Metre, signature: Signature) -> str:
    """A line of the block `given`."""
    text, time = f"{stretch.voice} {CLEFS[stretch.voice]} |", start
    for n, (note, over) in enumerate(zip_longest(stretch.notes, stretch.over)):
        if n and time % metre.bar == 0:
            text += " |"
        value = written(note.length)
        if value is None:
            raise Unusable("a length without a value")
        name, dots = value
        text += f" {note.pitch}/{name}{'.' * dots}"
        if over is not None:
            bass, sonority = over
            plain = written_figures(bass, sonority, signature)
            text += _double(note, signature) if sonority == DOUBLE else plain
        time += note.length
    return text


def _double(note: Sung, signature: Signature) -> str:
    """The figures of the double cadence, four equal parts."""
    value = written(note.length / 4)
    if value is None:
        raise Unusable("a length without a value")
    name = f"{value[0]}{'.' * value[1]}"
    third = (
        written_figures(Bass(note.pitch, note.length, 0, raised=True), "5", signature).strip("{}") or "5/3"
    )
    return f"{{{third}:{name} 6/4:{name} 5/4:{name} {third}:{name}}}"
