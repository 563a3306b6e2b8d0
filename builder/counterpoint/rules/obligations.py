"""What a tone owes to the notes before and after it in its voice, by the part it plays in its sonority."""

from __future__ import annotations

from collections.abc import Iterator

from builder.counterpoint.figured_bass.sonority import Role
from builder.counterpoint.rules.context import Number, Truth
from builder.counterpoint.rules.rule import Move


def bound(role: Number) -> Truth:
    """Tones that must come from somewhere: all but free ones and leading notes."""
    return (role != Role.FREE) & (role != Role.LEADING)


def entered(role: Number, came: Move | None) -> Iterator[tuple[str, Truth]]:
    """Rules broken by tones that do not come from where they must; `came` is None out of silence."""
    if came is None:
        yield "suspension-unprepared", bound(role)
        return
    held = came.moves == False  # noqa: E712 - arrays too
    step = abs(came.steps) == 1
    yield "suspension-unprepared", (role == Role.SUSPENDED) & (held == False)  # noqa: E712
    stray = ((role == Role.STEPWISE) | (role == Role.PEDAL)) & ((held | step) == False)  # noqa: E712
    yield "dissonance", stray


def left(role: Number, move: Move, then: Number, same_bass: Truth) -> Iterator[tuple[str, Truth]]:
    """Rules broken by tones that do not go where they must; `then` is the role of the tone they go to. A
    dissonance may be held on only while it stays one."""
    held = move.moves == False  # noqa: E712 - arrays too
    down, step = move.steps == -1, abs(move.steps) == 1
    falls = (role == Role.SUSPENDED) | (role == Role.STEPWISE)
    on = down | (held & (then != Role.FREE))
    stray = (role == Role.PEDAL) & ((step | held) == False)  # noqa: E712
    yield "suspension-unresolved", (falls & (on == False)) | stray  # noqa: E712
    # Inside the formula, over one bass note, the raised third may be kept.
    up = (move.steps == 1) & (move.semitones == 1)
    kept = held & (same_bass | (then == Role.LEADING))
    yield "leading-note", (role == Role.LEADING) & ((up | kept) == False)  # noqa: E712
