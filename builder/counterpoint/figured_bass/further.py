"""Further ways to sound a note: what the sonority before or the duty of a voice makes of it.

Common practice: the harmony goes on over the octave of the bass and over its other tones; what sounds already
is prepared; a leading note rises, whatever the next figure leaves it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from builder.counterpoint.figured_bass.sonority import Member, Role, Variant
from builder.music import FigureSign, Pitch

_BOUND = (Role.SUSPENDED, Role.STEPWISE, Role.PEDAL)


def goes_on(bass: Pitch, before: Pitch, variant: Variant) -> Variant | None:
    """The sonority before, over another octave of its bass note or, while a dissonance in it waits for its
    fall, over another of its free tones; None where the new bass note is no such tone.

    >>> from builder.counterpoint.figured_bass.sonority import read_figure
    >>> from builder.music import Signature
    >>> g3, seventh = Pitch.parse("G3"), (FigureSign(7),)
    >>> on = goes_on(Pitch.parse("B2"), g3, read_figure(g3, seventh, Signature()))
    >>> sorted(m.number for m in on.members)
    [3, 5, 6, 8]
    """
    if (bass.step, bass.alter) == (before.step, before.alter):
        return replace(variant, price="")
    tones = [((before.diatonic + m.offset) % 7, m) for m in variant.members]
    waits = any(m.role in _BOUND for _, m in tones)
    if not waits or not any(
        (step, m.alter, m.role) == (bass.step, bass.alter, Role.FREE) for step, m in tones
    ):
        return None
    over = [((before.step, Member(8, before.alter))), *(t for t in tones if t[1].number != 8)]
    members = [replace(m, number=(step - bass.step) % 7 + 1) for step, m in over if step != bass.step]
    members.sort(key=lambda m: (m.role is Role.FREE, m.number not in (3, 6), m.number))
    bound = sum(m.role is not Role.FREE for m in members)
    return Variant((*members, Member(8, bass.alter)), bound + 1, price="supplied", signed=True)


def carries(bass: Pitch, variant: Variant, coming: Iterable[Pitch]) -> Iterator[Variant]:
    """The same note with a dissonance that the next figure holds on as its own (`coming`): a seventh, or a
    diminished fifth beside its sixth, that comes by step or is held; or a ninth that is held, being prepared
    already, where the lowest voice then falls by a third.

    >>> from builder.counterpoint.figured_bass.sonority import read_figure
    >>> from builder.music import Signature
    >>> g3, a4 = Pitch.parse("G3"), Pitch.parse("A4")
    >>> [[m.number for m in v.members] for v in carries(g3, read_figure(g3, (), Signature()), [a4])]
    [[9, 3, 5]]
    """
    numbers = {m.number for m in variant.members}
    for tone in coming:
        number, size = (tone.diatonic - bass.diatonic) % 7 + 1, (tone.midi - bass.midi) % 12
        if number == 2 and size in (1, 2):
            added, without = Member(9, tone.alter, Role.SUSPENDED), {8, 9}
        elif number == 7 and size in (10, 11) and {3, 5} <= numbers:
            added, without = Member(7, tone.alter, Role.STEPWISE), {7}
        elif number == 5 and size == 6 and 6 in numbers:
            added, without = Member(5, tone.alter, Role.STEPWISE), {5}
        else:
            continue
        rest = tuple(m for m in variant.members if m.number not in without)
        yield Variant((added, *rest), 2, price="supplied", signed=True)


def alone(variant: Variant) -> Iterator[Variant]:
    """One voice may take the suspended tone of a figure where its first tone is free: the fifth of sixth and
    fifth, which the next figure may hold on."""
    bound = tuple(m for m in variant.members if m.role is Role.SUSPENDED)
    if bound and variant.members[0].role is Role.FREE:
        rest = tuple(m for m in variant.members if m not in bound)
        yield replace(variant, members=(*bound, *rest), price="supplied")


def relieved(variant: Variant, written: tuple[FigureSign, ...], before: Variant) -> Iterator[Variant]:
    """What may be left out of a fifth that the source writes where a voice before owes its leading note to
    the octave: the third, or the fifth itself (its third may then be doubled)."""
    plain = {s.number for s in written} <= {3, 5} and all(m.role is Role.FREE for m in variant.members)
    if not plain or 5 not in {s.number for s in written}:
        return
    if not any(m.role is Role.LEADING for m in before.members):
        return
    yield replace(variant, needed=1, written=(variant.members[0].number,), price="supplied")
    without = tuple(m for m in variant.members if m.number != 5)
    kept = (without[0].number,)
    yield replace(variant, members=without, needed=1, written=kept, price="supplied", signed=False)


def tied(
    bass: Pitch,
    variant: Variant,
    written: tuple[FigureSign, ...],
    before: Pitch,
    sonorities: Iterable[Variant],
) -> Variant:
    """The same sonority with its suspended tones as they sounded before: what is tied keeps its accidental
    where no sign says otherwise."""
    signed = {(s.number - 1) % 7 for s in written if s.sign}
    sounded = {((before.diatonic + m.offset) % 7, m.alter) for v in sonorities for m in v.members}
    sounded.add((before.step, before.alter))
    members = []
    for member in variant.members:
        step = (bass.diatonic + member.offset) % 7
        others = sorted(alter for s, alter in sounded if s == step)
        free = member.role is not Role.SUSPENDED or member.offset in signed
        if not free and others and member.alter not in others:
            member = replace(member, alter=others[0])
        members.append(member)
    return replace(variant, members=tuple(members))
