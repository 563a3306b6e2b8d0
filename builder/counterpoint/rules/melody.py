"""Rules on one voice's melody."""

from __future__ import annotations

from builder.counterpoint.rules.context import Intervals, Number, Of, Truth, When, absolute
from builder.counterpoint.rules.rule import ALWAYS_ERROR, NOTE, WARNING, Rule, severities

ZARLINO_MELODY = "G. Zarlino, Istitutioni harmoniche (1558), III, chapter 37 (from memory)"
FUX_MELODY = "J. J. Fux, Gradus ad Parnassum (1725), book II (from memory)"
COMMON = "common practice, no source"


def _large(steps: Number) -> Number:
    """Semitones of the major or perfect interval of so many staff steps: linear arithmetic instead of a
    table, so that arrays pass too (floor of 12/7 of the steps, with the offset that gives 0 2 4 5 7 9 11)."""
    return (12 * steps + 5) // 7


def augmented(move: Intervals) -> Truth:
    """An augmented second, fourth, fifth …; the chromatic semitone has a rule of its own."""
    steps, size = absolute(move.steps), absolute(move.semitones)
    return (steps > 0) & (size > _large(steps)) & (move.steps * move.semitones > 0)


def chromatic(move: Intervals) -> Truth:
    """A step from a note to its own altered form."""
    return (move.steps == 0) & (move.semitones != 0)


def seventh(move: Intervals) -> Truth:
    return absolute(move.steps) == 6


def beyond_octave(move: Intervals) -> Truth:
    return absolute(move.steps) > 7


def major_sixth(move: Intervals) -> Truth:
    return (absolute(move.steps) == 5) & (absolute(move.semitones) >= 9)


def falling_sixth(move: Intervals) -> Truth:
    """A minor sixth downwards: Palestrina's generation uses it upwards only."""
    return (move.steps == -5) & (move.semitones == -8)


def diminished(move: Intervals) -> Truth:
    """A diminished fourth, fifth …: singable, but only when the voice turns back."""
    steps, size = absolute(move.steps), absolute(move.semitones)
    perfect = (steps % 7 == 3) | (steps % 7 == 4) | (steps % 7 == 0)
    return perfect & (steps > 0) & (size < _large(steps))


def two_leaps(first: Intervals, second: Intervals) -> Truth:
    """Two leaps the same way whose outer notes make a seventh, a ninth, an augmented or a diminished
    interval (a fifth or an octave divided is good melody)."""
    leaps = (absolute(first.steps) > 1) & (absolute(second.steps) > 1) & (first.steps * second.steps > 0)
    whole = Intervals(first.steps + second.steps, first.semitones + second.semitones)
    span = absolute(whole.steps)
    return leaps & ((span == 6) | (span > 7) | augmented(whole) | diminished(whole))


def unrecovered(first: Intervals, second: Intervals) -> Truth:
    """A leap of a fifth or more that goes on by leap, or in the same direction."""
    big = absolute(first.steps) > 3
    back = (first.steps * second.steps < 0) & (absolute(second.steps) <= 2)
    still = second.steps == 0
    return big & (back == False) & (still == False)  # noqa: E712 - arrays too


MELODY_RULES = (
    Rule(
        "augmented-leap",
        "Augmented interval in the melody",
        "A voice does not sing an augmented second, fourth or fifth.",
        "Go the other way round (a diminished fifth for an augmented fourth), or put a note between.",
        ZARLINO_MELODY,
        Of.MELODY,
        When.STEP,
        ALWAYS_ERROR,
        "cantus F4/2 B4/2 C5/2",
        "cantus F4/2 G4/2 C5/2",
        augmented,
    ),
    Rule(
        "chromatic-step",
        "Chromatic step",
        "A voice goes from a note to its own sharpened or flattened form only for a special effect.",
        "Let another voice take the altered note.",
        COMMON,
        Of.MELODY,
        When.STEP,
        severities(NOTE, NOTE),
        "cantus F4/2 F#4/2 G4/2",
        "cantus E4/2 F#4/2 G4/2",
        chromatic,
        cost="awkward",
    ),
    Rule(
        "leap-of-seventh",
        "Leap of a seventh",
        "A voice does not leap a seventh.",
        "Change the octave, or put a note between.",
        ZARLINO_MELODY,
        Of.MELODY,
        When.STEP,
        ALWAYS_ERROR,
        "cantus D4/2 C5/2 B4/2",
        "cantus D4/2 D5/2 C5/2",
        seventh,
    ),
    Rule(
        "leap-beyond-octave",
        "Leap beyond an octave",
        "A voice does not leap further than an octave.",
        "Bring the second note within an octave of the first.",
        ZARLINO_MELODY,
        Of.MELODY,
        When.STEP,
        ALWAYS_ERROR,
        "cantus C4/2 E5/2 D5/2",
        "cantus C4/2 E4/2 D4/2",
        beyond_octave,
    ),
    Rule(
        "leap-of-major-sixth",
        "Leap of a major sixth",
        "A voice leaps a minor sixth, and upwards; a major sixth is hard to sing in tune.",
        "Take a third the other way, or a fifth.",
        FUX_MELODY,
        Of.MELODY,
        When.STEP,
        ALWAYS_ERROR,
        "cantus C4/2 A4/2 G4/2",
        "cantus C4/2 G4/2 A4/2",
        major_sixth,
    ),
    Rule(
        "falling-sixth",
        "Leap of a sixth down",
        "The minor sixth is good upwards; downwards it is heavy.",
        "Rise a third instead, or fall by a fifth.",
        FUX_MELODY,
        Of.MELODY,
        When.STEP,
        severities(WARNING, NOTE),
        "cantus C5/2 E4/2 F4/2",
        "cantus C5/2 F4/2 G4/2",
        falling_sixth,
        cost="awkward",
    ),
    Rule(
        "diminished-leap",
        "Diminished interval in the melody",
        "A diminished fourth or fifth is sung only when the voice then turns back inside it.",
        "Use a perfect interval, or a step.",
        COMMON,
        Of.MELODY,
        When.STEP,
        severities(WARNING, WARNING, NOTE),
        "cantus F5/2 B4/2 C5/2",
        "cantus E5/2 B4/2 C5/2",
        diminished,
        cost="awkward",
    ),
    Rule(
        "two-leaps",
        "Two leaps that span a dissonance",
        "Two leaps the same way should not add up to a seventh, a ninth or a tritone.",
        "Turn back after the first leap, or make one of them a step.",
        FUX_MELODY,
        Of.TURN,
        When.STEP,
        severities(WARNING, WARNING, NOTE),
        "cantus D4/2 G4/2 C5/2 B4/2",
        "cantus D4/2 G4/2 F4/2 E4/2",
        two_leaps,
        cost="recovery",
    ),
    Rule(
        "leap-not-recovered",
        "Leap not recovered",
        "After a wide leap a voice turns back, best by step.",
        "Follow the leap by a step the other way.",
        FUX_MELODY,
        Of.TURN,
        When.STEP,
        severities(NOTE, NOTE),
        "cantus D4/2 A4/2 C5/2 B4/2",
        "cantus D4/2 A4/2 G4/2 F4/2",
        unrecovered,
        cost="recovery",
    ),
)
