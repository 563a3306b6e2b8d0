"""Worked examples of J. J. Fux, Gradus ad Parnassum (1725), book II, all from memory: the cantus firmus of
the first tone with its counterpoints, and the table of ligatures (suspensions)."""

import pytest

from builder.counterpoint import check
from builder.counterpoint.rules.example import example

CANTUS_FIRMUS = "D4 F4 E4 D4 G4 F4 A4 G4 F4 E4 D4"


def whole(notes):
    return " ".join(f"{n}/1" for n in notes.split())


def errors(score):
    return [(f.rule, str(f.place)) for f in check(score, keyboard=False) if f.severity == "error"]


@pytest.mark.parametrize(
    "upper, lower",
    [
        ("A4 A4 G4 A4 B4 C5 C5 B4 D5 C#5 D5", CANTUS_FIRMUS),
        (CANTUS_FIRMUS, "D3 D3 A3 F3 E3 D3 F3 C4 D4 C#4 D4"),
    ],
    ids=["first species above", "first species below"],
)
def test_fux_s_first_species_on_the_first_tone_has_no_fault(upper, lower):
    # Fux himself lets his pupil end on the unison, and begin on it.
    assert errors(example(f"cantus {whole(upper)}\ntenor {whole(lower)}")) == []


def ligature(upper, lower):
    return example(f"cantus {upper}\ntenor {lower}", metre="C|")


@pytest.mark.parametrize(
    "upper, lower",
    [
        ("R/2 D5/2~ D5/2 C5/2 C5/1", "B3/1 E4/1 A3/1"),  # seventh to sixth
        ("R/2 C5/2~ C5/2 B4/2 B4/1", "A3/1 G3/1 G3/1"),  # fourth to third
        ("R/2 E5/2~ E5/2 D5/2 D5/1", "C4/1 D4/1 B3/1"),  # ninth to octave
        ("E5/1 D5/1 C5/1", "R/2 C4/2~ C4/2 B3/2 A3/1"),  # second to third, below
    ],
    ids=["7-6", "4-3", "9-8", "2-3"],
)
def test_the_table_of_ligatures_is_accepted(upper, lower):
    assert errors(ligature(upper, lower)) == []


@pytest.mark.parametrize(
    "upper, lower",
    [
        ("R/2 D5/2~ D5/2 G5/2 C5/1", "B3/1 E4/1 A3/1"),
        ("E5/1 D5/1 C5/1", "R/2 C4/2~ C4/2 E4/2 A3/1"),
    ],
    ids=["seventh left by leap", "second left by leap"],
)
def test_a_ligature_that_does_not_fall_by_step_is_refused(upper, lower):
    assert "suspension-unresolved" in {rule for rule, _ in errors(ligature(upper, lower))}


def test_a_chain_of_sevenths_resolving_to_sixths_is_fourth_species():
    upper = "R/2 C5/2~ C5/2 B4/2~ B4/2 A4/2~ A4/2 G4/2~ G4/2 F#4/2 G4/1"
    lower = "E4/1 D4/1 C4/1 B3/1 A3/1 G3/1"
    assert errors(ligature(upper, lower)) == []
