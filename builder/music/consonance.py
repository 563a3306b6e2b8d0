"""Consonance and dissonance of two notes, once for all rooms.

Over the lowest note, after G. Zarlino, *Istitutioni harmoniche* (1558), book III (from memory): unison,
third, perfect fifth, sixth and octave agree, and their compounds; the fourth does not. Between upper voices
a fourth and a diminished fifth agree too, when each note agrees with the lowest.
"""

from __future__ import annotations

_AGREE = frozenset({(0, 0), (2, 3), (2, 4), (4, 7), (5, 8), (5, 9)})
"""Staff steps within the octave, and semitones."""
FOURTH = (3, 5)
"""The perfect fourth, as staff steps and semitones."""


def consonant(steps: int, semitones: int, *, over_lowest: bool = True) -> bool:
    """Whether an interval is consonant: staff steps and semitones from its lower note to the higher.
    `over_lowest`: the lower note is the lowest that sounds.

    >>> consonant(5, 8), consonant(3, 5), consonant(3, 5, over_lowest=False), consonant(11, 19)
    (True, False, True, True)
    """
    size = steps % 7, semitones % 12
    return size in _AGREE or (not over_lowest and (size[0] == 3 or size == (4, 6)))


CLASHES = tuple(
    tuple(not consonant(k // 12, k % 12, over_lowest=lowest) for k in range(84)) for lowest in (False, True)
)
"""Dissonances, not over the lowest note and over it, by staff steps within the octave x 12 + semitones."""


def clash(d: int, m: int, other_d: int, other_m: int, lowest: int) -> bool:
    """Whether two sounding notes clash, each given by its staff step and its key (MIDI number). `lowest`: the
    lowest key that sounds.

    >>> clash(31, 65, 28, 60, 60), clash(28, 60, 31, 65, 48)
    (True, False)
    """
    if m < other_m or (m == other_m and d < other_d):
        return CLASHES[m == lowest][(other_d - d) % 7 * 12 + (other_m - m) % 12]
    return CLASHES[other_m == lowest][(d - other_d) % 7 * 12 + (m - other_m) % 12]
