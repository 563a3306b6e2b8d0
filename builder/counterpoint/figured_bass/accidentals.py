"""Which accidental a figured tone has: what the signature gives, what is in force, what a sign does to it.

A figure without a sign is never altered in silence; a tone that no figure writes is chosen so that it sounds
well. After F. Gasparini, L'armonico pratico (1708), and C. P. E. Bach, Versuch (1762), both from memory.
"""

from __future__ import annotations

from collections.abc import Mapping

from builder.music import Pitch, Signature
from builder.music.figure import signed

_PLAIN = {2: (1, 2), 3: (3, 4), 4: (5,), 5: (6, 7), 6: (8, 9), 7: (10, 11), 8: (0,), 9: (1, 2)}
"""By number: the sizes in semitones that need no sign to be believed."""
_IMPLIED = {**_PLAIN, 4: (4, 5, 6), 7: (9, 10, 11)}
"""By number: the sizes that a tone may have which no figure writes."""
_SIGNED = {2: (1, 2, 3), 3: (3, 4), 4: (4, 5, 6), 5: (6, 7, 8), 6: (8, 9), 7: (10, 11), 9: (1, 2, 3)}
"""By number: the sizes that a sign may ask for over any note."""


def size(bass: Pitch, number: int, alter: int) -> int:
    """Semitones from a bass note up to the tone of a number, within the octave.

    >>> size(Pitch.parse("E3"), 3, 1)
    4
    """
    return (Pitch(bass.diatonic + (number - 1) % 7, alter).midi - bass.midi) % 12


def meant(
    bass: Pitch,
    number: int,
    sign: str,
    signature: Signature,
    nearby: Mapping[int, int],
    *,
    false: bool = False,
) -> int:
    """The alteration of a tone that a figure writes.

    `nearby`: accidentals in force, step to alteration; `false`: the fifth is diminished. A sign starts from
    the signature, or brings back what an accidental took from it. Where it would make no interval of the
    trade it confirms the note that is there: old prints write a flat over B for F, and a sharp for a sixth
    that is major already.

    >>> meant(Pitch.parse("B2"), 5, "b", Signature(), {}), meant(Pitch.parse("E3"), 5, "b", Signature(), {})
    (0, -1)
    """
    step = (bass.diatonic + number - 1) % 7
    own = signature.alter(step)
    now = nearby.get(step, own)
    if not sign:
        return bass.alter if number == 8 else now
    lowered, raised = now < own, now > own
    base = now if (sign == "#" and lowered) or (sign == "b" and raised) else own
    alter = signed(base, sign)
    if sign not in ("#", "b") or number == 8 or _asked(bass, number, alter, signature, false):
        return alter
    return base if _asked(bass, number, base, signature, false) else alter


def _asked(bass: Pitch, number: int, alter: int, signature: Signature, false: bool) -> bool:
    """Whether a sign may ask for an interval over a note; `false`: with a diminished fifth."""
    found = size(bass, number, alter)
    if number == 5 and found == 8 and _leads(bass, alter, signature):
        return False
    if found in _SIGNED[number]:
        return True
    if number == 7 and found == 9:
        return false or bass.alter > signature.alter(bass.step)
    # The augmented sixth stands over a note that falls a semitone.
    below = Pitch(bass.diatonic - 1, signature.alter((bass.diatonic - 1) % 7))
    return number == 6 and found == 10 and bass.midi - below.midi == 1


def _leads(bass: Pitch, alter: int, signature: Signature) -> bool:
    """Whether the fifth was mi before it was raised: raised once more it is no note of the time."""
    fifth = Pitch(bass.diatonic + 4, alter - 1)
    return signature.pitch(fifth.diatonic + 1).midi - fifth.midi == 1


def implied(bass: Pitch, number: int, now: int) -> int:
    """The alteration of a tone that no figure writes: what is in force (`now`), brought to a third, fifth or
    sixth that may sound.

    >>> implied(Pitch.parse("F#3"), 3, 0), implied(Pitch.parse("B2"), 5, 0), implied(Pitch.parse("D#3"), 3, 0)
    (0, 0, 1)
    """
    if number == 8:
        return bass.alter
    return _nearest(bass, number, now, _IMPLIED[number])


def expected(bass: Pitch, number: int, now: int) -> int:
    """The alteration of a tone that its reader would expect instead of a doubtful one.

    >>> expected(Pitch.parse("F3"), 4, 0)
    -1
    """
    return _nearest(bass, number, now, _PLAIN[number])


def _nearest(bass: Pitch, number: int, now: int, allowed: tuple[int, ...]) -> int:
    found = size(bass, number, now)
    if found in allowed:
        return now
    # A second below the bass and a seventh beyond its octave are counted on, not round the octave.
    found += -12 if number in (2, 9) and found > 6 else 12 if number == 7 and found < 6 else 0
    return now + (allowed[0] - found if found < allowed[0] else allowed[-1] - found)


def perfect_fifth(bass: Pitch) -> int:
    """The alteration of the perfect fifth over a note.

    >>> perfect_fifth(Pitch.parse("B2")), perfect_fifth(Pitch.parse("E3"))
    (1, 0)
    """
    return 7 - size(bass, 5, 0)


def doubtful(bass: Pitch, number: int, alter: int, signature: Signature, *, false: bool = False) -> bool:
    """Whether a figure without a sign gives an interval that its reader will ask about: a fourth that is not
    perfect, an augmented fifth, a third or sixth neither major nor minor.

    >>> doubtful(Pitch.parse("F3"), 4, 0, Signature()), doubtful(Pitch.parse("B2"), 5, 0, Signature())
    (True, False)
    """
    found = size(bass, number, alter)
    if number == 7 and found == 9:
        return not _asked(bass, number, alter, signature, false)
    return number != 8 and found not in _PLAIN[number]
