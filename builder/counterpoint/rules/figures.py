"""Rules on figures, cadences and the given line: what a setting owes to its source."""

from __future__ import annotations

from builder.counterpoint.rules.context import Number, Of, Truth, When, Where
from builder.counterpoint.rules.keyboard import outside_compass
from builder.counterpoint.rules.rule import ALWAYS_ERROR, ALWAYS_NOTE, ALWAYS_WARNING, Rule

COMMON = "common practice, no source"
PENNA = "L. Penna, Li primi albori musicali (1672), book III (from memory)"
GASPARINI = "F. Gasparini, L'armonico pratico al cimbalo (1708), chapter 4 (from memory)"
ZARLINO_53 = "G. Zarlino, Istitutioni harmoniche (1558), III, chapter 53 (from memory)"


def figure_not_sounded(*, lacking: Truth) -> Truth:
    """A tone that the figure asks for sounds in no voice."""
    return lacking


def figures_alone(*, alone: Truth) -> Truth:
    """No voice sounds above figured notes."""
    return alone


def against_figures(*, foreign: Truth) -> Truth:
    """A voice has a note of its own, and not in passing."""
    return foreign


def doubtful_accidental(*, doubtful: Truth) -> Truth:
    """A voice has a tone that another reader might alter otherwise."""
    return doubtful


def note_changed(*, changed: Truth) -> Truth:
    """Another note, or none, stands where one is due."""
    return changed


def given_not_lowest(*, undercut: Truth) -> Truth:
    """Another voice lies below the given note."""
    return undercut


def doubled_leading_note(*, raised: Truth) -> Truth:
    """Two voices have one raised note, in whatever octaves."""
    return raised


def leading_note_astray(*, astray: Truth) -> Truth:
    """The raised note goes elsewhere than to the final."""
    return astray


def leading_note_not_raised(*, unraised: Truth) -> Truth:
    """The third over the fifth degree is minor where a cadence closes."""
    return unraised


def minor_close(*, minor: Truth) -> Truth:
    """The last sonority has a minor third."""
    return minor


def third_missing(*, numbers: Number) -> Truth:
    """Nothing above the lowest note but its fifths, octaves and unisons."""
    return (numbers & ~0b10001) == 0


def no_way(*, blocked: Truth) -> Truth:
    """No voicing is lawful after those before it."""
    return blocked


FIGURE_RULES = (
    Rule(
        "figure-not-sounded",
        "Figure not sounded",
        "What the figure writes must sound above the given note.",
        "Let one of the upper voices take the figured interval.",
        PENNA,
        Of.FIGURE,
        When.ONSET,
        ALWAYS_ERROR,
        "cantus G4/1 B4/2 A4/2\nbassus R/1 E3/2 F3/2",
        "cantus G4/1 C5/2 A4/2\nbassus R/1 E3/2 F3/2",
        figure_not_sounded,
        given="cantus C1 | G4/1\nbassus F4 | E3/2{6} F3/2",
    ),
    Rule(
        "figures-alone",
        "Figures without a voice",
        "Figures sound in the voices above the line: where none has entered, they are lost.",
        "Name the voices that sound from the start in the front matter, under voices.",
        COMMON,
        Of.FIGURE,
        When.ONSET,
        ALWAYS_ERROR,
        "bassus C3/2 E3/2",
        "cantus E5/2 C5/2\nbassus C3/2 E3/2",
        figures_alone,
        given="bassus F4 | C3/2 E3/2{6}",
    ),
    Rule(
        "against-figures",
        "Note against the figures",
        "A note that is not in the figured sonority may only pass.",
        "Take a note of the sonority, or make the note a passing one.",
        PENNA,
        Of.FIGURE,
        When.ONSET,
        ALWAYS_ERROR,
        "cantus C5/1 R/1 C5/2 B4/2\naltus R/1 C4/1 A4/2 G4/2\nbassus R/1 R/1 E3/2 G3/2",
        "cantus C5/1 R/1 C5/2 B4/2\naltus R/1 C4/1 G4/2 G4/2\nbassus R/1 R/1 E3/2 G3/2",
        against_figures,
        given="cantus C1 | C5/1\naltus C3 | C4/1\nbassus F4 | E3/2{6} G3/2",
    ),
    Rule(
        "doubtful-accidental",
        "Doubtful accidental",
        "A figure without a sign takes the signature and the accidentals in force; a sign ends a doubt.",
        "Write a sharp, flat or natural before the figure, or alone for a third.",
        GASPARINI,
        Of.FIGURE,
        When.ONSET,
        ALWAYS_NOTE,
        "cantus D5/1 F5/2 F5/2 Bb4/2 A4/2\nbassus R/1 Bb3/2 A3/2 G3/2 D3/2",
        "cantus D5/1 F5/2 F5/2 G5/2 F#5/2\nbassus R/1 Bb3/2 A3/2 G3/2 D3/2",
        doubtful_accidental,
        given="cantus C1 | D5/1\nbassus F4 | Bb3/2 A3/2{6} | G3/2 D3/2",
    ),
    Rule(
        "given-changed",
        "Given note changed",
        "The theme and the whole given line stay as they are written.",
        "Put the given note back.",
        COMMON,
        Of.GIVEN,
        When.ONSET,
        ALWAYS_ERROR,
        "cantus C5/1 A4/2 G4/2\nbassus R/1 D3/2 C3/2",
        "cantus C5/1 G4/2 G4/2\nbassus R/1 E3/2 C3/2",
        note_changed,
        given="cantus C1 | C5/1\nbassus F4 | E3/2 C3/2",
    ),
    Rule(
        "given-not-lowest",
        "Given line not the lowest",
        "The given line is the lowest sounding voice: figures are counted from it.",
        "Bring the other voice above the given note.",
        COMMON,
        Of.GIVEN,
        When.ONSET,
        ALWAYS_ERROR,
        "cantus C5/1 A3/2 C5/2\naltus R/1 C4/2 E4/2",
        "cantus C5/1 A4/2 C5/2\naltus R/1 C4/2 E4/2",
        given_not_lowest,
        given="cantus C1 | C5/1\naltus C3 | C4/2 E4/2",
    ),
    Rule(
        "pin-changed",
        "Pinned note changed",
        "A note set by hand stays as it is.",
        "Put the pinned note back.",
        COMMON,
        Of.PIN,
        When.ONSET,
        ALWAYS_ERROR,
        "cantus C5/1 G4/2 E5/2\nbassus R/1 E3/2 C3/2",
        "cantus C5/1 G4/2 G4/2\nbassus R/1 E3/2 C3/2",
        note_changed,
        given="cantus C1 | C5/1\nbassus F4 | E3/2 C3/2\n```\n\n```plain\ncantus 2 | _/2 G4/2",
    ),
    Rule(
        "doubled-leading-note",
        "Doubled leading note",
        "A raised note has one way to go: two voices that have it go that way in octaves.",
        "Double the bass or the fifth instead.",
        GASPARINI,
        Of.PAIR,
        When.ONSET,
        ALWAYS_ERROR,
        "cantus C#5/2 D5/2\naltus E4/2 F4/2\ntenor C#4/2 A3/2\nbassus A2/2 D3/2",
        "cantus C#5/2 D5/2\naltus E4/2 F4/2\ntenor A3/2 A3/2\nbassus A2/2 D3/2",
        doubled_leading_note,
        says="doubled",
        cost="never",
    ),
    Rule(
        "leading-note",
        "Leading note that leaves its duty",
        "At a cadence the raised note rises to the final.",
        "Let the voice that has the leading note rise a semitone.",
        ZARLINO_53,
        Of.CADENCE,
        When.ONSET,
        ALWAYS_ERROR,
        "cantus D5/1 D5/2 C#5/2 A4/1\nbassus R/1 D4/2 A3/2 D3/1",
        "cantus D5/1 D5/2 C#5/2 D5/1\nbassus R/1 D4/2 A3/2 D3/1",
        leading_note_astray,
        given="cantus C1 | D5/1\nbassus F4 | D4/2 A3/2{#} | D3/1",
    ),
    Rule(
        "leading-note-not-raised",
        "Leading note not raised",
        "At a cadence the third over the fifth degree is major, even where no sign is written.",
        "Raise the note by a semitone.",
        ZARLINO_53,
        Of.CADENCE,
        When.ONSET,
        ALWAYS_ERROR,
        "cantus D5/1 D5/2 C5/2 D5/1\nbassus R/1 D4/2 A3/2 D3/1",
        "cantus D5/1 D5/2 C#5/2 D5/1\nbassus R/1 D4/2 A3/2 D3/1",
        leading_note_not_raised,
        given="cantus C1 | D5/1\nbassus F4 | D4/2 A3/2 | D3/1",
    ),
    Rule(
        "minor-close",
        "Minor third at the close",
        "The last sonority has a major third, or none.",
        "Raise the third, or take the octave or the fifth instead.",
        ZARLINO_53,
        Of.CADENCE,
        When.ONSET,
        ALWAYS_ERROR,
        "cantus D5/1 C#5/2 D5/2\naltus R/1 E4/2 F4/2\nbassus R/1 A3/2 D3/2",
        "cantus D5/1 C#5/2 D5/2\naltus R/1 E4/2 F#4/2\nbassus R/1 A3/2 D3/2",
        minor_close,
        given="cantus C1 | D5/1\nbassus F4 | A3/2{#} D3/2",
    ),
    Rule(
        "compass",
        "Voice outside its compass",
        "Each voice stays within its own compass, so that it can be told from its neighbours.",
        "Exchange the voices' notes, or move the note by an octave.",
        COMMON,
        Of.NOTE,
        When.ONSET,
        ALWAYS_ERROR,
        "tenor C5/2 B4/2\nbassus C4/2 G3/2",
        "tenor G4/2 G4/2\nbassus C4/2 G3/2",
        outside_compass,
        says="compass",
        cost="never",
    ),
    Rule(
        "third-missing",
        "Third missing",
        "Three voices and more should not stand bare on fifths and octaves.",
        "Give one of the voices the third, or a sixth.",
        ZARLINO_53.replace("53", "59"),
        Of.SONORITY,
        When.ONSET,
        ALWAYS_WARNING,
        "cantus A4/2 C5/2 A4/2\naltus F4/2 G4/2 F4/2\nbassus F3/2 C3/2 F3/2",
        "cantus A4/2 C5/2 A4/2\naltus F4/2 E4/2 F4/2\nbassus F3/2 C3/2 F3/2",
        third_missing,
        where=(Where.INSIDE, Where.BEAT, Where.STRUCK),
        least=3,
        cost="incomplete",
    ),
    Rule(
        "no-way",
        "No legal way",
        "No setting of this note keeps all the rules with the notes around it.",
        "Change the figure, move the given note by an octave, or license one rule at this bar.",
        COMMON,
        Of.PATH,
        When.STEP,
        ALWAYS_ERROR,
        "",
        "",
        no_way,
    ),
)
