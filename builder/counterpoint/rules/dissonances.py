"""Rules on dissonance, as the student reads them; `dissonance` finds and names every clash."""

from __future__ import annotations

from collections.abc import Callable

from builder.counterpoint.rules.context import Number, Of, Truth, When
from builder.counterpoint.rules.rule import (
    ALWAYS_ERROR,
    ALWAYS_NOTE,
    ALWAYS_WARNING,
    NOTE,
    WARNING,
    Rule,
    severities,
)
from builder.counterpoint.rules.treatment import Treatment

ZARLINO_42 = "G. Zarlino, Istitutioni harmoniche (1558), III, chapter 42 (from memory)"
FUX_IV = "J. J. Fux, Gradus ad Parnassum (1725), book II, fourth species (from memory)"
FUX_II = "J. J. Fux, Gradus ad Parnassum (1725), book II, second and third species (from memory)"
COMMON = "common practice, no source"


def _treated(manner: Treatment) -> Callable[..., Truth]:
    """A clash treated in one manner."""

    def is_treated(*, manner: Number) -> Truth:
        return manner == wanted

    wanted = int(manner)
    return is_treated


def augmented_triad(*, augmented: Truth) -> Truth:
    """Two major thirds over one another, that no figure asks for and that no note in passing makes."""
    return augmented


CLASH_RULES = (
    Rule(
        "dissonance",
        "Dissonance without treatment",
        "A dissonance passes, or neighbours a consonance, or is suspended; anything else is only a clash.",
        "Come and go by step on a weak part, or prepare it as a suspension, or take a consonance.",
        ZARLINO_42,
        Of.CLASH,
        When.ONSET,
        ALWAYS_ERROR,
        "cantus E5/2 B4/2 G4/2\nbassus C4/2 A3/2 B3/2",
        "cantus E5/2 C5/2 B4/2\nbassus C4/2 A3/2 G3/2",
        _treated(Treatment.NONE),
    ),
    Rule(
        "suspension-unprepared",
        "Suspension without preparation",
        "What is held into a dissonance must have sounded as a consonance before.",
        "Let the note begin one sonority earlier, where it is a third, fifth, sixth or octave.",
        FUX_IV,
        Of.CLASH,
        When.ONSET,
        ALWAYS_ERROR,
        "cantus A4/2 C5/1 B4/2\ntenor F4/2 D4/2 D4/2 G3/2",
        "cantus A4/2 C5/1 B4/2\ntenor F4/2 A3/2 D4/2 G3/2",
        _treated(Treatment.UNPREPARED),
    ),
    Rule(
        "suspension-unresolved",
        "Suspension that does not fall by step",
        "A suspended note falls by step to a consonance.",
        "Let the held note fall by step; the note it clashes with may meanwhile stay or move.",
        FUX_IV,
        Of.CLASH,
        When.ONSET,
        ALWAYS_ERROR,
        "cantus A4/2 C5/1 G4/2\ntenor F4/2 A3/2 D4/2 E4/2",
        "cantus A4/2 C5/1 B4/2\ntenor F4/2 A3/2 D4/2 G3/2",
        _treated(Treatment.UNRESOLVED),
    ),
    Rule(
        "augmented-triad",
        "Augmented triad",
        "Two major thirds over one another are no sonority, unless the figures write them or a note passes.",
        "Over a sharpened third take the perfect fifth.",
        COMMON,
        Of.FIGURE,
        When.ONSET,
        ALWAYS_ERROR,
        "cantus C5/2 C5/2 C5/2\naltus A4/2 G#4/2 A4/2\nbassus A3/2 E3/2 A3/2",
        "cantus C5/2 B4/2 C5/2\naltus A4/2 G#4/2 A4/2\nbassus A3/2 E3/2 A3/2",
        augmented_triad,
    ),
    Rule(
        "fourth-by-step",
        "Fourth struck by step",
        "Only the double cadence lets a fourth come in by step over a held bass and then suspends it.",
        "Prepare the fourth by a consonance, or build a double cadence.",
        COMMON,
        Of.CLASH,
        When.ONSET,
        severities(WARNING, WARNING),
        "cantus C#5/2 D5/1 C#5/2\nbassus A3/1~ A3/1",
        "cantus C#5/2 D5/1 C#5/2\nbassus A3/2 D3/2 A3/1",
        _treated(Treatment.CADENTIAL),
    ),
    Rule(
        "accented-passing",
        "Passing note on the stronger part",
        "A passing note stands on the weaker part; on the stronger one it is for short notes in a run.",
        "Shift the dissonance to the weaker part, or use a suspension.",
        FUX_II,
        Of.CLASH,
        When.ONSET,
        ALWAYS_NOTE,
        "cantus A4/1 B4/4 C5/4 E5/2\nbassus C4/1~ C4/1",
        "cantus G4/1 A4/4 B4/4 C5/2\nbassus C4/1~ C4/1",
        _treated(Treatment.ACCENTED),
    ),
    Rule(
        "escape-note",
        "Dissonance left by leap",
        "The échappée comes by step and leaps away: an ornament, not a way to lead a voice.",
        "Go on by step in the same direction, or turn back by step.",
        COMMON,
        Of.CLASH,
        When.ONSET,
        ALWAYS_WARNING,
        "cantus E5/4 F5/4 D5/2\nbassus C4/2 B3/2",
        "cantus E5/4 F5/4 G5/2\nbassus C4/2 B3/2",
        _treated(Treatment.ESCAPE),
    ),
    Rule(
        "struck-again",
        "Dissonance struck again",
        "The note that prepares a suspension is tied, not struck again.",
        "Tie the two notes.",
        FUX_IV,
        Of.CLASH,
        When.ONSET,
        ALWAYS_NOTE,
        "cantus R/2 C5/2 C5/2 B4/2\ntenor R/2 A3/2 D4/2 G3/2",
        "cantus R/2 C5/1 B4/2\ntenor R/2 A3/2 D4/2 G3/2",
        _treated(Treatment.PREPARED),
    ),
    Rule(
        "rising-suspension",
        "Suspension that rises",
        "A held dissonance falls; only later practice lets a seventh rise into the octave at the close.",
        "Let it fall by step.",
        COMMON,
        Of.CLASH,
        When.ONSET,
        severities(WARNING, WARNING, NOTE),
        "cantus R/2 B4/1 C5/2\nbassus R/2 G3/2 C4/1",
        "cantus R/2 B4/1 A4/2\nbassus R/2 G3/2 C4/1",
        _treated(Treatment.RETARDATION),
    ),
    Rule(
        "weak-suspension",
        "Suspension on the weaker part",
        "A suspension clashes on the stronger part and falls on the weaker one.",
        "Begin the figure a part earlier or later.",
        FUX_IV,
        Of.CLASH,
        When.ONSET,
        ALWAYS_NOTE,
        "cantus C5/1 B4/2\ntenor A3/2 D4/2 G3/2",
        "cantus R/2 C5/1 B4/2\ntenor R/2 A3/2 D4/2 G3/2",
        _treated(Treatment.WEAK),
    ),
    Rule(
        "pedal-point",
        "Dissonance over a held bass",
        "Over a bass that is held long the voices above may clash with it, if they agree among themselves.",
        "Keep the bass moving, or let the dissonance pass by step.",
        COMMON,
        Of.CLASH,
        When.ONSET,
        ALWAYS_NOTE,
        "cantus C5/2 F5/2 D5/2 B4/2 C5/1\nbassus C3/1 C3/1~ C3/1",
        "cantus C5/2 E5/2 G5/2 E5/2 C5/1\nbassus C3/1 C3/1~ C3/1",
        _treated(Treatment.PEDAL),
    ),
)
