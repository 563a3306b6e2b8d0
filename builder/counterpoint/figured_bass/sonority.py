"""From a stack of figures over a bass note to the tones that may and must sound.

Tables after L. Penna, Li primi albori musicali (1672), and F. Gasparini, L'armonico pratico (1708), both from
memory; how far a tone is bound (prepared, resolved) is common practice.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from enum import IntEnum
from functools import lru_cache

from builder.counterpoint.figured_bass.accidentals import doubtful, implied, meant, perfect_fifth, size
from builder.music import FigureSign, Pitch, Signature
from builder.music.consonance import consonant as is_consonant


class Role(IntEnum):
    """How a tone of the sonority is bound to the tones before and after it in its own voice."""

    FREE = 0
    SUSPENDED = 1
    """Held from the sonority before, falls by step (or is held on while still dissonant)."""
    STEPWISE = 2
    """Comes by step or is held, falls by step or is held: passing, or the fourth of a double cadence."""
    PEDAL = 3
    """Comes and goes by step or is held: over a pedal."""
    LEADING = 4
    """Rises a semitone when the bass goes on."""


@dataclass(frozen=True, slots=True)
class Member:
    """One tone of a sonority: its number above the lowest note (2–9), alteration of its letter, role."""

    number: int
    alter: int
    role: Role = Role.FREE
    raised: bool = False
    """Raised against the signature: it has one way to go and is not doubled."""

    @property
    def offset(self) -> int:
        """Staff steps above the bass, within the octave."""
        return (self.number - 1) % 7


@dataclass(frozen=True, slots=True)
class Variant:
    """One way to sound a figure: `members` in order of importance, the first `needed` of them
    must sound as far as there are voices; `extra` may be added or doubled.
    `price` is the cost of choosing it instead of the plainest reading."""

    members: tuple[Member, ...]
    needed: int
    price: str = ""
    signed: bool = False
    """The figure writes an accidental, or a single number: one voice alone must sound it."""
    doubts: tuple[int, ...] = ()
    """Numbers written without a sign that make an interval nobody expects (`accidentals.doubtful`)."""

    written: tuple[int, ...] | None = None
    """Numbers that the figure itself writes, by importance; None for all that are needed."""

    def must(self, voices: int) -> tuple[int, ...]:
        """Numbers that must sound with so many upper voices. A single voice over a plain third and fifth is
        free to take either, or the octave. Two owe what the figure writes, and the leading note; the rest of
        the sonority they may leave out, at a price. Three and more owe the sonority."""
        if voices == 1 and {m.number for m in self.members[: self.needed]} <= {3, 5} and not self.signed:
            return ()
        needed = self.members[: self.needed]
        if self.written is not None and voices < 3:
            owed = [m for m in self.members if m.number in self.written]
            needed = (*owed, *(m for m in needed if m.role is Role.LEADING and m not in owed))
        return tuple(m.number for m in needed[:voices])

    @property
    def full(self) -> tuple[str, ...]:
        """The sonority in full, numbers from the top."""
        numbers = sorted({m.number for m in self.members if m.number != 8}, reverse=True)
        return tuple(str(n) for n in numbers) or ("8",)


# figure (sorted numbers) -> ((member, role) by importance, how many of them are needed)
F, S, W, P = Role.FREE, Role.SUSPENDED, Role.STEPWISE, Role.PEDAL
_TABLE: Mapping[tuple[int, ...], tuple[tuple[tuple[int, Role], ...], int]] = {
    (): (((3, F), (5, F), (8, F)), 1),
    (3,): (((3, F), (5, F), (8, F)), 1),
    (5,): (((5, F), (3, F), (8, F)), 2),
    (8,): (((8, F), (3, F), (5, F)), 2),
    (3, 5): (((3, F), (5, F), (8, F)), 2),
    (3, 8): (((3, F), (8, F), (5, F)), 2),
    (5, 8): (((5, F), (8, F), (3, F)), 3),
    (3, 5, 8): (((3, F), (5, F), (8, F)), 3),
    (6,): (((6, F), (3, F), (8, F)), 2),
    (3, 6): (((6, F), (3, F), (8, F)), 2),
    (6, 8): (((6, F), (8, F), (3, F)), 3),
    (3, 6, 8): (((6, F), (3, F), (8, F)), 3),
    (5, 6): (((6, F), (5, S), (3, F)), 3),
    (3, 5, 6): (((6, F), (5, S), (3, F)), 3),
    (3, 4): (((4, F), (3, S), (6, F)), 3),
    (3, 4, 6): (((4, F), (3, S), (6, F)), 3),
    (2,): (((2, F), (4, F), (6, F)), 3),
    (2, 4): (((2, F), (4, F), (6, F)), 3),
    (2, 4, 6): (((2, F), (4, F), (6, F)), 3),
    (2, 6): (((2, F), (6, F), (4, F)), 3),
    (2, 5): (((2, F), (5, F)), 2),
    (2, 4, 5): (((2, F), (4, F), (5, F)), 3),
    (4, 6): (((4, S), (6, F), (8, F)), 2),
    (4, 6, 8): (((4, S), (6, F), (8, F)), 3),
    (7,): (((7, S), (3, F), (5, F), (8, F)), 2),
    (3, 7): (((7, S), (3, F), (5, F), (8, F)), 2),
    (5, 7): (((7, S), (5, F), (3, F)), 3),
    (3, 5, 7): (((7, S), (3, F), (5, F)), 3),
    (7, 8): (((7, S), (8, F), (3, F)), 3),
    (4,): (((4, S), (5, F), (8, F)), 2),
    (4, 5): (((4, S), (5, F), (8, F)), 2),
    (4, 8): (((4, S), (8, F), (5, F)), 2),
    (4, 5, 8): (((4, S), (5, F), (8, F)), 3),
    (9,): (((9, S), (3, F), (5, F)), 2),
    (3, 9): (((9, S), (3, F), (5, F)), 2),
    (5, 9): (((9, S), (5, F), (3, F)), 3),
    (3, 5, 9): (((9, S), (3, F), (5, F)), 3),
    (6, 9): (((9, S), (6, F), (3, F)), 3),
    (3, 6, 9): (((9, S), (6, F), (3, F)), 3),
    (7, 9): (((9, S), (7, S), (3, F), (5, F)), 3),
    (3, 7, 9): (((9, S), (7, S), (3, F)), 3),
    (4, 9): (((9, S), (4, S), (5, F), (8, F)), 3),
    (4, 5, 9): (((9, S), (4, S), (5, F)), 3),
    (4, 7): (((7, P), (4, P), (5, F), (8, F)), 2),
    (2, 4, 7): (((7, P), (4, P), (2, P)), 3),
    (2, 7): (((7, P), (2, P), (4, P), (5, F)), 2),
}


def _reduced(number: int) -> int:
    """A tenth is read as a third, a twelfth as a fifth; octave and ninth keep their own numbers."""
    return 8 if number == 1 else number if number <= 9 else (number - 3) % 7 + 3


def _row(numbers: tuple[int, ...]) -> tuple[tuple[tuple[int, Role], ...], int]:
    if numbers in _TABLE:
        return _TABLE[numbers]
    bound = {7: S, 9: S, 4: S if 2 not in numbers else F}
    written = tuple((n, bound.get(n, F)) for n in sorted(numbers, reverse=True))
    extra = () if {2, 3, 4} & set(numbers) else ((3, F),)
    return (*written, *extra), len(written)


def consonant(bass: Pitch, tone: Pitch) -> bool:
    """Whether a tone is a third, perfect fifth, sixth or octave (or a compound) over the lowest note.

    >>> consonant(Pitch.parse("E3"), Pitch.parse("C5")), consonant(Pitch.parse("E3"), Pitch.parse("A4"))
    (True, False)
    """
    return is_consonant(tone.diatonic - bass.diatonic, tone.midi - bass.midi)


@lru_cache(maxsize=4096)
def read_figure(
    bass: Pitch,
    signs: tuple[FigureSign, ...],
    signature: Signature,
    nearby: tuple[tuple[int, int], ...] = (),
    *,
    raised: int | None = None,
    resolves: bool = False,
) -> Variant:
    """The sonority of a stack over a bass note.

    `nearby` are accidentals in force, (step, alteration); `raised` is the letter (0 C to 6 B) that is the
    leading note here; `resolves` when a sixth follows a seventh (no fifth then).

    >>> [m.number for m in read_figure(Pitch.parse("B3"), (FigureSign(6),), Signature()).members]
    [6, 3, 8]
    """
    near = dict(nearby)
    signs_of = {_reduced(s.number): s.sign for s in signs}
    false = size(bass, 5, meant(bass, 5, signs_of.get(5, ""), signature, near)) == 6
    found = {n: meant(bass, n, sign, signature, near, false=false) for n, sign in signs_of.items()}
    numbers = tuple(sorted(found))
    sixth = bass.alter > max(0, signature.alter(bass.step)) or false
    if sixth and numbers == (3,) and size(bass, 3, found[3]) != 4:
        # A third that is not major says nothing of the fifth: on such a note the sixth stays.
        numbers = (3, 6)
    if numbers == (4,) and signs_of[4] and size(bass, 4, found[4]) == 6:
        # A raised fourth alone is that of the second and sixth.
        numbers = (2, 4)
    row, needed = _row(numbers)
    bare = resolves and 7 in numbers and 5 not in numbers
    row = tuple((n, role) for n, role in row if not (bare and n == 5))
    for n, _ in row:
        if n not in found:
            step = (bass.diatonic + n - 1) % 7
            found[n] = implied(bass, n, near.get(step, signature.alter(step)))
    _agree(bass, found, signs_of)
    # The third beside a sixth is no leading note.
    lead = None if raised is None or (6 in numbers and (bass.diatonic + 2) % 7 == raised) else raised
    members = [_member(bass, n, role, found[n], signs_of.get(n), signature, lead) for n, role in row]
    doubts = tuple(
        n for n, sign in signs_of.items() if not sign and doubtful(bass, n, found[n], signature, false=false)
    )
    single = bool(doubts) or any(signs_of.values()) or numbers in ((3,), (5,), (8,))
    written = tuple(n for n, _ in row if n in signs_of)
    return Variant(tuple(members), needed, signed=single, doubts=doubts, written=written)


def _agree(bass: Pitch, found: dict[int, int], written: Collection[int]) -> None:
    """Bring the tones that no figure writes into agreement with the others: over a major third the fifth is
    perfect, and third and sixth make no augmented triad with the bass."""
    if 3 not in found:
        return
    major = size(bass, 3, found[3]) == 4
    if major and 5 in found and 5 not in written and 6 not in found:
        found[5] = perfect_fifth(bass)
    if major and 6 in found and size(bass, 6, found[6]) == 8:
        if 3 not in written:
            found[3] -= 1
        elif 6 not in written:
            found[6] += 1


def _member(
    bass: Pitch,
    number: int,
    role: Role,
    alter: int,
    sign: str | None,
    signature: Signature,
    raised: int | None,
) -> Member:
    """One tone; at a cadence the leading note is raised where no sign says otherwise."""
    step = (bass.diatonic + number - 1) % 7
    if raised == step and number != 8 and role is Role.FREE:
        leading = _leading(step, signature)
        if not sign:
            alter = leading
        if alter == leading:
            role = Role.LEADING
    # A bass that leads is doubled as little as a raised note.
    raises = alter > max(0, signature.alter(step)) or (number == 8 and raised == step)
    return Member(number, alter, role, raises)


def _leading(step: int, signature: Signature) -> int:
    """The alteration that puts a letter a semitone below the next."""
    above = signature.pitch(35 + step + 1)
    return next(a for a in (1, 0, -1, -2) if above.midi - Pitch(35 + step, a).midi == 1 or a == -2)


def leading_letter(final: str) -> int:
    """Step (0 C to 6 B) of the letter below a final.

    >>> leading_letter("D")
    0
    """
    return (Pitch.parse(f"{final}4").diatonic - 1) % 7


def with_major_third(variant: Variant, bass: Pitch) -> Variant:
    """The last sonority: its third is made major, its fifth perfect."""
    major = Pitch(bass.diatonic + 2, 0)
    alter = 4 - (major.midi - bass.midi) % 12
    fixed = {3: alter, 5: perfect_fifth(bass)}
    members = tuple(
        replace(m, alter=fixed[m.number], role=Role.FREE) if m.number in fixed else m for m in variant.members
    )
    return replace(variant, members=members)


def entering(variant: Variant, role: Role) -> Variant:
    """The same sonority with its suspended members bound otherwise."""
    members = tuple(replace(m, role=role) if m.role is Role.SUSPENDED else m for m in variant.members)
    return replace(variant, members=members)


def bound_members(variant: Variant) -> tuple[Member, ...]:
    """The tones of a sonority that must come from somewhere and go somewhere: its dissonances."""
    return tuple(m for m in variant.members if m.role not in (Role.FREE, Role.LEADING))


def sounds(bass: Pitch, members: tuple[Member, ...], tones: tuple[Pitch, ...]) -> bool:
    """Whether one of some members of a sonority is one of some tones, in whatever octave."""
    sounding = {((bass.diatonic + m.offset) % 7, m.alter) for m in members}
    return any((t.step, t.alter) in sounding for t in tones)
