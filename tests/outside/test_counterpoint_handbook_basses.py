"""Figured basses of the handbooks, set in four, three and two voices and judged without a fault.

All basses are quoted from memory: the formulas and patterns that these books teach, not note for note
from their plates. F. Gasparini, L'armonico pratico (1708), chapters 4 to 6: scales, cadences, chains of 7 6.
L. Penna, Li primi albori musicali (1672), book III: cadences. Dances of the time: romanesca, folia,
passamezzo, bergamasca. J. J. Fux, Gradus (1725): his cantus firmi below, suspensions of the fourth species
over them. J. D. Heinichen, Der General-Bass (1728), and C. P. E. Bach, Versuch, part II (1762): sequences of
5 6, 9 8, 2 6, 6 5. (The rule of the octave with 6/4/3 as F. Campion has it (1716), is
refused by our rules: its third is not prepared.)
"""

import pytest

from builder.analysis import analyse
from builder.counterpoint import realise
from builder.source import parse

FRONT = (
    "---\ntitle: T\nverset:\n  metre: {metre}\n  signature: {signature}\n  voices: [{voices}]\n---\n\n"
    "```given\nbassus F4 | {bass}\n```\n"
)
BASSES = {
    # name: metre, signature, bass
    "Gasparini: scale of C, up": (
        "C|", "none", "C3/1 | D3/1{6} | E3/1{6} | F3/1{6/5} | G3/1 | A3/1{6} | B3/1{6/5} | C4/1",
    ),
    "Gasparini: scale of C, down": (
        "C|", "none", "C4/1 | B3/1{6} | A3/1{6} | G3/1 | F3/1{6} | E3/1{6} | D3/1{#6} | C3/1",
    ),
    "Gasparini: scale of G, up": (
        "C|", "F#", "G2/1 | A2/1{6} | B2/1{6} | C3/1 | D3/1 | E3/1{6} | F#3/1{6} | G3/1",
    ),
    "Gasparini: scale of D with a minor third, down": (
        "C|", "Bb", "D4/1 | C4/1{6} | Bb3/1{6} | A3/1{#} | G3/1{6} | F3/1{6} | E3/1{#6} | D3/1",
    ),
    "Penna: simple cadence on D": ("C", "none", "D3/2 G3/2{6} | A3/1{#} | D3/1"),
    "Penna: composed cadence on C": ("C", "none", "C3/2 F3/2 | G3/1{4 3} | C3/1"),
    "Penna: double cadence on G": ("C", "none", "G2/2 C3/2 | D3/1{#:4 6/4:4 5/4:4 #:4} | G2/1"),
    "Penna: cadence on E, falling from F": ("C", "none", "A3/2 G3/2{6} | F3/1{7 6} | E3/1{#}"),
    "Gasparini: fourths and thirds, cadences in C, G and C": (
        "C", "none", "C3/2 G3/2 | A3/2 D3/2{4 #} | G2/2 C3/2 | F3/2 G3/2{4 3} | C3/1",
    ),
    "Gasparini: chain of 7 6": (
        "C", "none", "A3/2 G3/2{7 6} | F3/2{7 6} E3/2{7 6} | D3/2{7 6} C3/2 | F3/2 G3/2{4 3} | C3/1",
    ),
    "Heinichen: 5 6 rising": (
        "C", "none", "C3/2{5 6} D3/2{5 6} | E3/2{5 6} F3/2 | G3/2{4 3} C3/2",
    ),
    "Heinichen: falling thirds with sixths": (
        "C", "none", "C4/2 A3/2 | F3/2 D3/2{6} | C3/2 G3/2{4 3} | C3/1",
    ),
    "C. P. E. Bach: 9 8 after rising fourths": (
        "C", "none", "C3/2 F3/2{9 8} | D3/2 G3/2{9 8} | E3/2 A3/2{9 8} | G3/1 | C3/1",
    ),
    "C. P. E. Bach: the lower voice suspended, 2 and 6": (
        "C", "none", "C4/2 C4/4{2} B3/4{6} | B3/4{2} A3/4{6} A3/4{2} G3/4{6} | F3/2 G3/2{4 3} | C3/1",
    ),
    "C. P. E. Bach: fifth and sixth before a close": (
        "C", "none", "C3/2 A3/2 | F3/2{6/5} G3/2{4 3} | C3/1",
    ),
    "Romanesca": ("3/2", "Bb", "Bb2/1. | F3/1. | G3/1. | D3/1.{#} | Bb2/1. | F3/1. | G3/2 D3/1{4 #} | G2/1."),
    "Folia": (
        "3/2", "none", "D3/1. | A3/1.{#} | D3/1. | C3/1. | F3/1. | C3/1. | D3/1. | A2/1.{#} | D3/1.",
    ),
    "Passamezzo antico": (
        "C", "Bb", "G3/1 | F3/1 | G3/1 | D3/1{#} | Bb2/1 | F3/1 | G3/2 D3/2{4 #} | G2/1",
    ),
    "Descending tetrachord": ("3/2", "none", "A3/1. | G3/1.{6} | F3/1.{7 6} | E3/1.{#} | A2/1."),
    "Bergamasca": ("C", "none", "C3/2 F3/2 | G3/2 C3/2 | C3/2 F3/2 | G3/2{4 3} C3/2"),
    "Fux: cantus firmus in D below, 7 6 over it": (
        "C|", "none",
        "D3/1 | F3/1 | E3/1{7 6} | D3/1{7 6} | G3/1 | F3/1{7 6} | A3/1 | G3/1{7 6} | F3/1{7 6} | E3/1{7 #6} "
        "| D3/1",
    ),
    "Fux: cantus firmus in F below": (
        "C|", "Bb",
        "F3/1 | G3/1{6} | A3/1{6} | F3/1 | D3/1 | E3/1{6} | F3/1 | C4/1 | A3/1{6} | F3/1 | G3/1{7 6} | F3/1",
    ),
}  # fmt: skip
VOICES = ("cantus, altus, tenor", "cantus, altus", "cantus")


def setting(name, voices):
    metre, signature, bass = BASSES[name]
    verset = parse(FRONT.format(metre=metre, signature=signature, bass=bass, voices=voices))
    return realise(verset, analyse(verset))


def faults(found):
    """Errors of the voices that we set: what the bass alone does is its book's."""
    return [
        (f.rule, str(f.place), f.message)
        for f in found.findings
        if f.severity == "error" and not f.allowed and f.voices != ("bassus",)
    ]


def test_there_are_at_least_twenty():
    assert len(BASSES) >= 20


@pytest.mark.parametrize("name", BASSES)
def test_a_bass_of_the_handbooks_is_set_without_a_fault(name):
    for voices in VOICES:
        found = setting(name, voices)
        assert faults(found) == [], voices
        notes = [p.sounding() for p in found.score.parts]
        assert all(n[-1].end == notes[-1][-1].end for n in notes)
