"""Formulas of the clausulae, and the passaggio at the final."""

from __future__ import annotations

import itertools

import pytest
from course import course_setting

from builder.diminution.closes import is_groppo, table

CLAUSULAE = (("cantizans", 1), ("tenorizans", -1), ("altizans", 0), ("bassizans", 3), ("bassizans", -4))


@pytest.mark.parametrize(("kind", "move"), CLAUSULAE)
def test_each_clausula_has_eight_formulas_of_each_length(kind: str, move: int) -> None:
    """A quarter, a half, a whole note."""
    found = table(kind, move)
    assert {length: len(set(rows)) >= 8 for length, rows in found.items()} == {4: True, 8: True, 16: True}


@pytest.mark.parametrize(("kind", "move"), CLAUSULAE)
def test_a_formula_begins_with_the_plain_note_and_sings_into_the_close(kind: str, move: int) -> None:
    """No leap wider than a third, but the bass's own; upper voices come to the close by step or stay."""
    for rows in table(kind, move).values():
        for notes in rows:
            steps = [s for _, s in notes]
            assert steps[0] == 0 and [t for t, _ in notes] == sorted({t for t, _ in notes})
            moves = [abs(b - a) for a, b in itertools.pairwise((*steps, move))]
            assert max(moves) <= (4 if kind == "bassizans" else 2), notes
            assert kind == "bassizans" or moves[-1] <= 1, notes


def test_only_the_leading_note_has_the_groppo() -> None:
    having = {k for k, move in CLAUSULAE for rows in table(k, move).values() for f in rows if is_groppo(f)}
    assert having == {"cantizans"}
    assert not any(is_groppo(f) for rows in table("altizans", 1).values() for f in rows)


def runs(name: str) -> list[int]:
    """At each close of a verset the most small notes that one voice has within two quarters before it and
    four after it begins, at the full level."""
    setting = course_setting(name)
    return [
        max(
            sum(n.duration <= 0.5 and close.onset - 2 <= n.onset < close.onset + 4 for n in p.sounding())
            for p in setting.diminutions[3].score.parts
        )
        for close in setting.analysis.cadences
    ]


@pytest.mark.parametrize("name", ("first", "sixth"))
def test_the_full_level_runs_into_the_final_or_out_of_it(name: str) -> None:
    """Six small notes or more in one voice."""
    assert runs(name)[-1] >= 6


def test_the_full_level_runs_into_the_closes_within_a_piece_or_out_of_them() -> None:
    """Wherever a voice is free: not where all are held by the theme, a suspension and the leading note."""
    found = [n for name in ("eighth", "first", "second") for n in runs(name)[:-1]]
    assert sum(n >= 6 for n in found) >= 0.7 * len(found) > 0, found
