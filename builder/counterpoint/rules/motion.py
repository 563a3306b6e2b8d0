"""Rules on two voices that move together, and on the interval between two voices."""

from __future__ import annotations

from builder.counterpoint.rules.rule import (
    ALWAYS_ERROR,
    ERROR,
    NOTE,
    WARNING,
    Move,
    Rule,
    Tone,
    Truth,
    severities,
)

ZARLINO_29 = "G. Zarlino, Istitutioni harmoniche (1558), III, chapter 29 (from memory)"
ZARLINO_36 = "G. Zarlino, Istitutioni harmoniche (1558), III, chapter 36 (from memory)"
FUX_I = "J. J. Fux, Gradus ad Parnassum (1725), book II, first species (from memory)"
COMMON = "common practice, no source"


def is_fifth(low: Tone, high: Tone) -> Truth:
    """A perfect fifth, twelfth … whichever of the two voices is really the higher."""
    return (abs(high.d - low.d) % 7 == 4) & (abs(high.m - low.m) % 12 == 7)


def is_octave(low: Tone, high: Tone) -> Truth:
    """An octave or a compound of it, not a unison."""
    return ((high.d - low.d) % 7 == 0) & ((high.m - low.m) % 12 == 0) & (high.m != low.m)


def is_unison(low: Tone, high: Tone) -> Truth:
    """The same note in both voices."""
    return (high.d == low.d) & (high.m == low.m)


def _ends(low: Move, high: Move) -> tuple[Tone, Tone, Tone, Tone]:
    return Tone(low.d0, low.m0), Tone(high.d0, high.m0), Tone(low.d1, low.m1), Tone(high.d1, high.m1)


def _similar(low: Move, high: Move) -> Truth:
    """Both move the same way."""
    return low.semitones * high.semitones > 0


def _contrary(low: Move, high: Move) -> Truth:
    return low.semitones * high.semitones < 0


def parallel_fifths(low: Move, high: Move) -> Truth:
    """Two perfect fifths one after another by similar motion (compound ones too)."""
    a, b, c, d = _ends(low, high)
    return is_fifth(a, b) & is_fifth(c, d) & _similar(low, high)


def parallel_octaves(low: Move, high: Move) -> Truth:
    """Octave to octave, octave to unison or unison to octave, by similar motion."""
    a, b, c, d = _ends(low, high)
    before = is_octave(a, b) | is_unison(a, b)
    after = is_octave(c, d) | is_unison(c, d)
    both = is_unison(a, b) & is_unison(c, d)
    return before & after & _similar(low, high) & (both == False)  # noqa: E712 - arrays too


def parallel_unisons(low: Move, high: Move) -> Truth:
    """Unison to unison by motion."""
    a, b, c, d = _ends(low, high)
    return is_unison(a, b) & is_unison(c, d) & _similar(low, high)


def contrary_fifths(low: Move, high: Move) -> Truth:
    """A fifth and a twelfth, one after the other, by contrary motion."""
    a, b, c, d = _ends(low, high)
    return is_fifth(a, b) & is_fifth(c, d) & _contrary(low, high)


def contrary_octaves(low: Move, high: Move) -> Truth:
    """Octave and unison, or two different octaves, by contrary motion."""
    a, b, c, d = _ends(low, high)
    before = is_octave(a, b) | is_unison(a, b)
    after = is_octave(c, d) | is_unison(c, d)
    return before & after & _contrary(low, high)


def direct_fifth(low: Move, high: Move) -> Truth:
    """A fifth reached by similar motion while the upper voice leaps."""
    a, b, c, d = _ends(low, high)
    return is_fifth(c, d) & (is_fifth(a, b) == False) & _similar(low, high) & (abs(high.steps) > 1)  # noqa: E712


def direct_octave(low: Move, high: Move) -> Truth:
    """An octave or unison reached by similar motion while the upper voice leaps."""
    a, b, c, d = _ends(low, high)
    perfect = is_octave(c, d) | is_unison(c, d)
    before = is_octave(a, b) | is_unison(a, b)
    return perfect & (before == False) & _similar(low, high) & (abs(high.steps) > 1)  # noqa: E712


def overlap(low: Move, high: Move) -> Truth:
    """A voice goes past where its neighbour has just been."""
    return (high.m1 < low.m0) | (low.m1 > high.m0)


def false_relation(low: Move, high: Move) -> Truth:
    """A note in one voice, and the same letter altered otherwise in the other voice just after.
    Where the first voice itself carries the change it is a chromatic step, not a false relation."""
    down = ((low.d0 - high.d1) % 7 == 0) & ((low.m0 - high.m1) % 12 != 0)
    up = ((high.d0 - low.d1) % 7 == 0) & ((high.m0 - low.m1) % 12 != 0)
    own = ((low.steps == 0) & (low.semitones != 0)) | ((high.steps == 0) & (high.semitones != 0))
    return (down | up) & (own == False)  # noqa: E712


def crossing(low: Tone, high: Tone) -> Truth:
    """The lower voice stands above the higher."""
    return low.m > high.m


def unison(low: Tone, high: Tone) -> Truth:
    """Both voices on one note."""
    return is_unison(low, high)


def wide(low: Tone, high: Tone) -> Truth:
    """More than an octave between neighbouring upper voices."""
    return (high.d - low.d) > 7


MOTION_RULES = (
    Rule(
        "parallel-fifths",
        "Parallel fifths",
        "Two voices may not go from one perfect fifth to another in the same direction.",
        "Move one voice the other way, or put a third or a sixth between the two fifths.",
        ZARLINO_29,
        "motion",
        ALWAYS_ERROR,
        "cantus A4/2 B4/2\ntenor D4/2 E4/2",
        "cantus A4/2 G4/2\ntenor D4/2 E4/2",
        parallel_fifths,
    ),
    Rule(
        "parallel-octaves",
        "Parallel octaves",
        "Two voices may not go in octaves: one of them is then only a copy of the other.",
        "Move one voice the other way, or let it go to a third, a fifth or a sixth.",
        ZARLINO_29,
        "motion",
        ALWAYS_ERROR,
        "cantus D5/2 E5/2\ntenor D4/2 E4/2",
        "cantus D5/2 C5/2\ntenor D4/2 E4/2",
        parallel_octaves,
    ),
    Rule(
        "parallel-unisons",
        "Parallel unisons",
        "Two voices may not move together on the same notes.",
        "Let the voices part after the first unison.",
        ZARLINO_29,
        "motion",
        ALWAYS_ERROR,
        "altus D4/2 E4/2\ntenor D4/2 E4/2",
        "altus D4/2 E4/2\ntenor D4/2 C4/2",
        parallel_unisons,
    ),
    Rule(
        "contrary-fifths",
        "Fifths by contrary motion",
        "A fifth and a twelfth one after the other are still two fifths, even when the voices move apart.",
        "Put an imperfect consonance in place of one of them.",
        FUX_I,
        "motion",
        severities(ERROR, WARNING),
        "cantus A4/2 D5/2\nbassus D4/2 G3/2",
        "cantus A4/2 B4/2\nbassus D4/2 G3/2",
        contrary_fifths,
    ),
    Rule(
        "contrary-octaves",
        "Octaves by contrary motion",
        "An octave and a unison, or a double octave, one after the other are still two octaves; with the "
        "lowest voice the masters hardly ever write them.",
        "Put an imperfect consonance in place of one of them.",
        FUX_I,
        "motion",
        severities(ERROR, ERROR, WARNING),
        "cantus A4/2 D5/2\nbassus A3/2 D3/2",
        "cantus A4/2 F4/2\nbassus A3/2 D3/2",
        contrary_octaves,
        lowest=ALWAYS_ERROR,
    ),
    Rule(
        "direct-fifth",
        "Direct fifth",
        "The outer voices do not go the same way into a fifth when the upper one leaps.",
        "Reach the fifth by contrary motion, or by a step in the upper voice.",
        ZARLINO_36,
        "motion",
        severities(ERROR, WARNING),
        "cantus E4/2 A4/2\ntenor C4/2 D4/2",
        "cantus G4/2 A4/2\ntenor E4/2 D4/2",
        direct_fifth,
    ),
    Rule(
        "direct-octave",
        "Direct octave",
        "The outer voices do not go the same way into an octave when the upper one leaps.",
        "Reach the octave by contrary motion, or by a step in the upper voice.",
        ZARLINO_36,
        "motion",
        severities(ERROR, WARNING),
        "cantus A4/2 D5/2\ntenor C4/2 D4/2",
        "cantus C5/2 D5/2\ntenor E4/2 D4/2",
        direct_octave,
    ),
    Rule(
        "overlap",
        "Overlapping voices",
        "A voice does not go past the note that its neighbour has just left: they would be confused.",
        "Keep the voice on its own side, or let the neighbour move first.",
        COMMON,
        "motion",
        severities(WARNING, WARNING, NOTE),
        "altus F4/2 C4/2\ntenor D4/2 A3/2",
        "altus F4/2 E4/2\ntenor D4/2 C4/2",
        overlap,
    ),
    Rule(
        "false-relation",
        "False relation",
        "A note and its altered form should not follow each other in two different voices.",
        "Let the voice that has the note change it itself, or use the same accidental in both.",
        "G. Zarlino, Istitutioni harmoniche (1558), III, chapter 30 (from memory)",
        "motion",
        severities(WARNING, WARNING, NOTE),
        "cantus A4/2 C#5/2\nbassus C4/2 A3/2",
        "cantus A4/2 C5/2\nbassus C4/2 A3/2",
        false_relation,
    ),
    Rule(
        "crossing",
        "Crossing voices",
        "A voice should stay above the voice below it: on one keyboard nobody hears a crossing.",
        "Exchange the two notes, or choose others.",
        COMMON,
        "sonority",
        severities(WARNING, WARNING, NOTE),
        "cantus A4/2 F4/2\naltus F4/2 A4/2",
        "cantus A4/2 A4/2\naltus F4/2 F4/2",
        crossing,
    ),
    Rule(
        "unison",
        "Unison",
        "Two voices meet on one note only at the beginning and at the end: elsewhere a voice is lost.",
        "Give one of the voices a third, a sixth or an octave.",
        FUX_I,
        "sonority",
        severities(ERROR, NOTE),
        "cantus A4/2 G4/2 A4/2\naltus F4/2 G4/2 F4/2",
        "cantus A4/2 G4/2 A4/2\naltus F4/2 E4/2 F4/2",
        unison,
    ),
    Rule(
        "wide",
        "Voices too far apart",
        "Neighbouring upper voices stay within an octave; only over the bass may there be more room.",
        "Bring the upper voice down or the lower one up to another note of the sonority.",
        COMMON,
        "sonority",
        severities(WARNING, WARNING, NOTE),
        "cantus D5/2 E5/2\naltus A3/2 C4/2\nbassus D3/2 C3/2",
        "cantus D4/2 E4/2\naltus A3/2 C4/2\nbassus D3/2 C3/2",
        wide,
    ),
)
