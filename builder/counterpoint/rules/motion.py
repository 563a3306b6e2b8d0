"""Rules on two voices that move together, and on the interval between two voices."""

from __future__ import annotations

from builder.counterpoint.rules.context import (
    CONTRARY,
    SIMILAR,
    Intervals,
    Number,
    Of,
    Perfect,
    Truth,
    When,
    Where,
    absolute,
)
from builder.counterpoint.rules.rule import ALWAYS_ERROR, ERROR, NOTE, WARNING, Rule, severities

ZARLINO_29 = "G. Zarlino, Istitutioni harmoniche (1558), III, chapter 29 (from memory)"
ZARLINO_36 = "G. Zarlino, Istitutioni harmoniche (1558), III, chapter 36 (from memory)"
FUX_I = "J. J. Fux, Gradus ad Parnassum (1725), book II, first species (from memory)"
COMMON = "common practice, no source"


def perfect(interval: Intervals) -> Number:
    """The perfect interval that two voices make, whichever of them is really the higher.

    >>> Perfect(perfect(Intervals(11, 19))), Perfect(perfect(Intervals(4, 6)))
    (<Perfect.FIFTH: 1>, <Perfect.NONE: 0>)
    """
    steps, semitones = interval
    fifth = (absolute(steps) % 7 == 4) & (absolute(semitones) % 12 == 7)
    unison = (steps == 0) & (semitones == 0)
    octave = (steps % 7 == 0) & (semitones % 12 == 0) & (semitones != 0)
    return fifth * int(Perfect.FIFTH) + octave * int(Perfect.OCTAVE) + unison * int(Perfect.UNISON)


def parallel_fifths(*, before: Number, after: Number, motion: Number) -> Truth:
    """Two perfect fifths one after another by similar motion (compound ones too)."""
    return (before == Perfect.FIFTH) & (after == Perfect.FIFTH) & (motion == SIMILAR)


def _octaves(before: Number, after: Number) -> Truth:
    return (before >= Perfect.OCTAVE) & (after >= Perfect.OCTAVE)


def parallel_octaves(*, before: Number, after: Number, motion: Number) -> Truth:
    """Octave to octave, octave to unison or unison to octave, by similar motion."""
    one = (before == Perfect.OCTAVE) | (after == Perfect.OCTAVE)
    return _octaves(before, after) & one & (motion == SIMILAR)


def parallel_unisons(*, before: Number, after: Number, motion: Number) -> Truth:
    """Unison to unison by motion."""
    return (before == Perfect.UNISON) & (after == Perfect.UNISON) & (motion == SIMILAR)


def contrary_fifths(*, before: Number, after: Number, motion: Number) -> Truth:
    """A fifth and a twelfth, one after the other, by contrary motion."""
    return (before == Perfect.FIFTH) & (after == Perfect.FIFTH) & (motion == CONTRARY)


def contrary_octaves(*, before: Number, after: Number, motion: Number) -> Truth:
    """Octave and unison, or two different octaves, by contrary motion."""
    return _octaves(before, after) & (motion == CONTRARY)


def direct_fifth(*, before: Number, after: Number, motion: Number, leaps: Number) -> Truth:
    """A fifth reached by similar motion while the upper voice leaps."""
    return (after == Perfect.FIFTH) & (before != Perfect.FIFTH) & (motion == SIMILAR) & (leaps == 1)


def direct_octave(*, before: Number, after: Number, motion: Number, leaps: Number) -> Truth:
    """An octave or unison reached by similar motion while the upper voice leaps."""
    return (after >= Perfect.OCTAVE) & (before < Perfect.OCTAVE) & (motion == SIMILAR) & (leaps == 1)


def overlap(*, across: Intervals) -> Truth:
    """A voice goes past where its neighbour has just been."""
    return across.semitones < 0


def false_relation(*, across: Intervals, chromatic: Number) -> Truth:
    """A note in one voice, and the same letter altered otherwise in the other voice just after.
    Where the first voice itself carries the change it is a chromatic step, not a false relation."""
    return (across.steps % 7 == 0) & (across.semitones % 12 != 0) & (chromatic == 0)


def crossing(*, interval: Intervals) -> Truth:
    """The lower voice stands above the higher."""
    return interval.semitones < 0


def unison(*, interval: Intervals) -> Truth:
    """Both voices on one note."""
    return (interval.steps == 0) & (interval.semitones == 0)


def wide(*, interval: Intervals) -> Truth:
    """More than an octave between neighbouring upper voices."""
    return interval.steps > 7


MOTION_RULES = (
    Rule(
        "parallel-fifths",
        "Parallel fifths",
        "Two voices may not go from one perfect fifth to another in the same direction.",
        "Move one voice the other way, or put a third or a sixth between the two fifths.",
        ZARLINO_29,
        Of.PAIR,
        When.STEP,
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
        Of.PAIR,
        When.STEP,
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
        Of.PAIR,
        When.STEP,
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
        Of.PAIR,
        When.STEP,
        severities(ERROR, WARNING),
        "cantus A4/2 D5/2\nbassus D4/2 G3/2",
        "cantus A4/2 B4/2\nbassus D4/2 G3/2",
        contrary_fifths,
        cost="unasked",
    ),
    Rule(
        "contrary-octaves",
        "Octaves by contrary motion",
        "An octave and a unison, or a double octave, one after the other are still two octaves; with the "
        "lowest voice the masters hardly ever write them.",
        "Put an imperfect consonance in place of one of them.",
        FUX_I,
        Of.PAIR,
        When.STEP,
        severities(ERROR, ERROR, WARNING),
        "cantus A4/2 D5/2\nbassus A3/2 D3/2",
        "cantus A4/2 F4/2\nbassus A3/2 D3/2",
        contrary_octaves,
        lowest=ALWAYS_ERROR,
        cost="unasked",
    ),
    Rule(
        "direct-fifth",
        "Direct fifth",
        "The outer voices do not go the same way into a fifth when the upper one leaps.",
        "Reach the fifth by contrary motion, or by a step in the upper voice.",
        ZARLINO_36,
        Of.OUTER,
        When.STEP,
        severities(ERROR, WARNING),
        "cantus E4/2 A4/2\ntenor C4/2 D4/2",
        "cantus G4/2 A4/2\ntenor E4/2 D4/2",
        direct_fifth,
        cost="direct",
    ),
    Rule(
        "direct-octave",
        "Direct octave",
        "The outer voices do not go the same way into an octave when the upper one leaps.",
        "Reach the octave by contrary motion, or by a step in the upper voice.",
        ZARLINO_36,
        Of.OUTER,
        When.STEP,
        severities(ERROR, WARNING),
        "cantus A4/2 D5/2\ntenor C4/2 D4/2",
        "cantus C5/2 D5/2\ntenor E4/2 D4/2",
        direct_octave,
        cost="direct",
    ),
    Rule(
        "overlap",
        "Overlapping voices",
        "A voice does not go past the note that its neighbour has just left: they would be confused.",
        "Keep the voice on its own side, or let the neighbour move first.",
        COMMON,
        Of.NEIGHBOURS,
        When.STEP,
        severities(WARNING, WARNING, NOTE),
        "altus F4/2 C4/2\ntenor D4/2 A3/2",
        "altus F4/2 E4/2\ntenor D4/2 C4/2",
        overlap,
        cost="crossing",
        at_keyboard=True,
    ),
    Rule(
        "false-relation",
        "False relation",
        "A note and its altered form should not follow each other in two different voices.",
        "Let the voice that has the note change it itself, or use the same accidental in both.",
        "G. Zarlino, Istitutioni harmoniche (1558), III, chapter 30 (from memory)",
        Of.PAIR,
        When.STEP,
        severities(WARNING, WARNING, NOTE),
        "cantus A4/2 C#5/2\nbassus C4/2 A3/2",
        "cantus A4/2 C5/2\nbassus C4/2 A3/2",
        false_relation,
        cost="false-relation",
    ),
    Rule(
        "crossing",
        "Crossing voices",
        "A voice should stay above the voice below it: on one keyboard nobody hears a crossing.",
        "Exchange the two notes, or choose others.",
        COMMON,
        Of.NEIGHBOURS,
        When.ONSET,
        severities(WARNING, WARNING, NOTE),
        "cantus A4/2 F4/2\naltus F4/2 A4/2",
        "cantus A4/2 A4/2\naltus F4/2 F4/2",
        crossing,
        cost="never",
        at_keyboard=True,
    ),
    Rule(
        "unison",
        "Unison",
        "Two voices meet on one note only at the beginning and at the end: elsewhere a voice is lost.",
        "Give one of the voices a third, a sixth or an octave.",
        FUX_I,
        Of.PAIR,
        When.ONSET,
        severities(ERROR, NOTE),
        "cantus A4/2 G4/2 A4/2\naltus F4/2 G4/2 F4/2",
        "cantus A4/2 G4/2 A4/2\naltus F4/2 E4/2 F4/2",
        unison,
        where=(Where.INSIDE, Where.FIRM),
        cost="unison",
        at_keyboard=True,
    ),
    Rule(
        "wide",
        "Voices too far apart",
        "Neighbouring upper voices stay within an octave; only over the bass may there be more room.",
        "Bring the upper voice down or the lower one up to another note of the sonority.",
        COMMON,
        Of.UPPER,
        When.ONSET,
        severities(WARNING, WARNING, NOTE),
        "cantus D5/2 E5/2\naltus A3/2 C4/2\nbassus D3/2 C3/2",
        "cantus D4/2 E4/2\naltus A3/2 C4/2\nbassus D3/2 C3/2",
        wide,
        cost="spacing",
        at_keyboard=True,
    ),
)
