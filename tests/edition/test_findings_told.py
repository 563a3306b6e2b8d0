"""A finding names voices and notes in every language of the edition."""

from __future__ import annotations

import re

import pytest

from builder.counterpoint import RULES, Finding, check
from builder.counterpoint.example import example
from builder.counterpoint.worded import worded
from builder.edition.findings_told import told
from builder.edition.wording import words


def found(rule: str, music: str, language: str) -> tuple[str, str]:
    score = example(music)
    finding = next(f for f in check(score) if f.rule == rule)
    return told(finding, score, words(language))


FIFTHS = "cantus A4/2 B4/2\ntenor D4/2 E4/2"


def test_the_notes_of_both_voices_before_and_after_are_named() -> None:
    what, mend = found("parallel-fifths", FIFTHS, "de")
    assert what == "Quintparallelen: Cantus A4–B4 und Tenor D4–E4."
    assert mend.endswith(worded("parallel-fifths", "de").advice)


def test_english_says_what_the_check_says() -> None:
    score = example(FIFTHS)
    finding = check(score)[0]
    assert told(finding, score, words("en")) == (finding.message, finding.mend)


def test_a_held_note_is_named_once() -> None:
    what, _ = found("false-relation", "cantus F4/2 C5/2\ntenor A3/1\nbassus D3/2 F#3/2", "it")
    assert what == "Falsa relazione: canto F4–C5 e basso D3–F#3."
    what, _ = found("overlap", "cantus F4/2 D4/2\naltus E4/1", "it")
    assert what.endswith("canto F4–D4 e alto E4.")


def test_a_rule_on_two_leaps_names_three_notes() -> None:
    what, _ = found("two-leaps", "cantus C4/4 F4/4 B4/4 A4/4\ntenor A3/1", "it")
    assert what.endswith("canto C4–F4–B4.")


def test_a_voice_that_is_silent_is_named_without_notes() -> None:
    score = example(FIFTHS)
    parallel = check(score)[0]
    gone = Finding("given-changed", "error", parallel.onset, parallel.place, ("bassus",), "")
    assert told(gone, score, words("de"))[0].endswith(": Bassus.")


@pytest.mark.parametrize("language", ["it", "de"])
@pytest.mark.parametrize("rule", [r.id for r in RULES.values() if r.fault])
def test_the_fault_of_every_rule_is_told_with_its_notes(rule: str, language: str) -> None:
    score = example(RULES[rule].fault)
    for finding in check(score):
        what, mend = told(finding, score, words(language))
        assert re.search(r" [A-G][b#]?\d", what), what
        assert mend == f"{worded(finding.rule, language).sentence} {worded(finding.rule, language).advice}"
