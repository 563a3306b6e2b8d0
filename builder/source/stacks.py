"""Reads what stands in braces over a note: stacks of figures, one after another in time."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from builder.music import FigureSign
from builder.music.time import LENGTHS
from builder.source.errors import shorten

SIGN = "a figure from 2 to 12, with # b or n before it, or # b n alone (an altered third)"
NUMBERS = tuple(str(n) for n in range(2, 13))
_SIGN = re.compile(r"(##|bb|[#bn])?(1[0-2]|[2-9])|(##|bb|[#bn])")
_BRACKETS = re.compile(r"\((.*)\)|\[(.*)\]")
_RAISED = re.compile(r"(\(|\[)?([246])(?:\+|\\|[\u0337\u0338])(\)|\])?")
"""Old spellings of a raised number: a cross after it, or a stroke through it."""
_PLAIN = str.maketrans({"♯": "#", "♭": "b", "♮": "n", "𝄪": "##", "𝄫": "bb", "–": "-", "—": "-"})
FINEST = 16
"""Figures change on multiples of a 64th: the shortest value that can be written."""


@dataclass(frozen=True, slots=True)
class Group:
    """One stack and where it stands; `duration` in quarter notes when it is written."""

    column: int
    text: str
    signs: tuple[FigureSign, ...]
    dash: bool = False
    duration: Fraction | None = None


RawFault = tuple[int, str, str]


def read_groups(text: str, column: int) -> tuple[tuple[Group, ...], list[RawFault]]:
    """The stacks in a brace, and what is wrong with them.

    >>> [str(s) for g in read_groups("6/4:4 #:4", 1)[0] for s in g.signs]
    ['6', '4', '#']
    """
    groups: list[Group] = []
    faults: list[RawFault] = []
    for match in re.finditer(r"\S+", text):
        before = groups[-1].signs if groups else ()
        group, wrong = _read_group(match[0], match.start() + column, before)
        groups.append(group)
        faults += wrong
    if not groups:
        faults.append((column - 1, "empty braces", "figures such as {6} or {7 6}, or no braces"))
    timed = [g for g in groups if ":" in g.text]
    if not faults and timed and len(timed) < len(groups):
        bare = next(g for g in groups if g not in timed)
        faults.append(
            (bare.column, f"{shorten(bare.text)} without a value", "a value for each stack, or for none")
        )
    return (() if faults else tuple(groups)), faults


def _read_group(text: str, column: int, before: tuple[FigureSign, ...]) -> tuple[Group, list[RawFault]]:
    """One stack; a dash in it stands for the figure that the stack `before` has in that row."""
    stack, colon, value = text.partition(":")
    faults: list[RawFault] = []
    duration = _read_value(value) if colon else None
    if colon and duration is None:
        expected = f"a value after the colon, such as {stack or '6'}:4 or {stack or '6'}:2."
        faults.append((column + len(stack) + 1, f"the value {shorten(value)}", expected))
    if stack.translate(_PLAIN) == "-":
        return Group(column, text, (), True, duration), faults
    if re.search(r"[(\[][^()\[\]]*/[^()\[\]]*[)\]]", stack):
        return Group(column, text, ()), [*faults, (column, f"the figures {shorten(stack)}", _hint("("))]
    signs: list[FigureSign] = []
    at = column
    for row, piece in enumerate(stack.split("/")):
        sign = _read_sign(piece)
        if piece.translate(_PLAIN) == "-":
            sign = before[row] if row < len(before) else None
        if sign is None:
            faults.append((at, f"the figure {shorten(piece)}" if piece else "no figure", _hint(piece)))
        elif any(_interval(s) == _interval(sign) for s in signs):
            faults.append((at, f"the figure {shorten(piece)} a second time", "each interval once in a stack"))
        else:
            signs.append(sign)
        at += len(piece) + 1
    return Group(column, text, tuple(signs), False, duration), faults


def _read_value(text: str) -> Fraction | None:
    name = text.rstrip(".")
    dots = len(text) - len(name)
    return LENGTHS.get((name, dots))


def _read_sign(text: str) -> FigureSign | None:
    plain = text.translate(_PLAIN)
    if match := _RAISED.fullmatch(plain):
        plain = f"{match[1] or ''}#{match[2]}{match[3] or ''}"
    brackets = _BRACKETS.fullmatch(plain)
    match = _SIGN.fullmatch((brackets[1] or brackets[2] or "") if brackets else plain)
    if not match:
        return None
    editorial = brackets is not None
    if match[3]:
        return FigureSign(3, match[3], lone=True, editorial=editorial)
    return FigureSign(int(match[2]), match[1] or "", editorial=editorial)


def _interval(sign: FigureSign) -> int:
    """A tenth is a third; a ninth is no second."""
    return sign.number - 7 if sign.number > 9 else sign.number


def _hint(piece: str) -> str:
    """What to write instead, or what is meant by it."""
    if match := re.fullmatch(r"(1[0-2]|[2-9])(##|bb|[#bn])", piece.translate(_PLAIN)):
        return f"the sign before the figure: {match[2]}{match[1]}"
    if match := re.fullmatch(r"([2-9])(?:\+|\\|[\u0337\u0338])", piece):
        n = match[1]
        return (
            f"what is meant by it: #{n}, the raised {n}, or b{n}, which prints of other countries mean by it"
        )
    if re.fullmatch(r"(?:[#bn]?[2-9]){2,4}", piece):
        above, after = ("".join(c if c in "#bn" else c + mark for c in piece)[:-1] for mark in "/ ")
        return f"which is meant: {{{above}}} over one another, or {{{after}}} one after another"
    if re.fullmatch(r"x(1[0-2]|[2-9])?", piece):
        return f"#{piece[1:]} for a sharp, ##{piece[1:]} for a double sharp"
    if piece.translate(_PLAIN) == "-":
        return "a dash under a figure only where the stack before has a figure in that row, as in {6/4 5/-}"
    if "-" in piece:
        return "a dash as a stack of its own, as in {4 - 3}"
    if set("()[]") & set(piece):
        return "each figure the editor supplies in its own brackets, as in (6) or (6)/(4)"
    return SIGN


def timed(groups: tuple[Group, ...], length: Fraction) -> list[Fraction] | RawFault:
    """How long each stack lasts under a note of a length (quarter notes), or what is wrong."""
    if groups[0].duration is not None:
        written = [g.duration for g in groups if g.duration is not None]
        if sum(written) != length:
            found = f"figures that last {quarters(sum(written, Fraction(0)))}"
            return groups[0].column, found, f"{quarters(length)}, as the note lasts"
        return written
    share = length / len(groups)
    if FINEST % share.denominator:
        found = f"{len(groups)} stacks over {quarters(length)}, which do not divide it evenly"
        return groups[0].column, found, "a value for each, such as {7:2 6:4}"
    return [share] * len(groups)


def quarters(length: Fraction) -> str:
    """A length in words.

    >>> quarters(Fraction(7, 2)), quarters(Fraction(1)), quarters(Fraction(1, 2))
    ('3 1/2 quarters', '1 quarter', '1/2 of a quarter')
    """
    whole, rest = divmod(length, 1)
    if not whole:
        return f"{rest} of a quarter" if rest else "nothing"
    return f"{whole} {rest} quarters" if rest else f"{whole} quarter{'' if whole == 1 else 's'}"
