"""Where the rules had to give way, page and print say so in the language of the course."""

from __future__ import annotations

import jsonschema
import pytest

from builder.edition.pdf.data import critical
from builder.language.texts import edition_texts as edition_words
from builder.language.texts import page_texts as words
from builder.pages import facts
from builder.setting.report import schema
from builder.setting.setting import Setting, set_verset
from builder.source import parse

SOURCE = """---
title: Blocked
verset: {metre: C, signature: none}
---

```given
cantus C1 | A4/1
bassus F4 | D3/2. F3/4{6} | E3/1{4 3} | A3/1
```
"""


@pytest.fixture(scope="module")
def setting() -> Setting:
    return set_verset(parse(SOURCE))


def test_the_page_tells_what_was_tried_and_what_would_help_in_its_language(setting: Setting) -> None:
    rows = facts.findings(setting, setting.verset.bars[0].onset, setting.verset.end, words("it"), "regole")
    (row,) = (row for row in rows if row["link"].endswith("#no-way"))
    assert row["rule"] == "Nessuna via lecita" and row["voices"] == "canto e basso"
    assert (
        "dove è una terza, perché nessuna voce è libera; provate invano: la4 (ritardo non preparato)"
        in row["message"]
    )
    assert "Apre una via la nota prima, fa3, senza numero." in row["message"]


def test_the_critical_report_tells_it_in_its_language(setting: Setting) -> None:
    (unmet,) = (
        s for s in critical(setting, edition_words("de")) if s["title"] == "Nicht eingehaltene Regeln"
    )
    (line,) = (line for line in unmet["lines"] if "Kein erlaubter Weg" in line)
    assert line.startswith("Takt 3, Schlag 1, Cantus und Bassus, schlicht: Kein erlaubter Weg: über e mit 4 ")
    assert "dort ist es eine Terz, doch keine Stimme ist dafür frei; versucht: a′ (Unvorbereiteter" in line
    assert not line.endswith("..")


def test_the_report_says_it_in_english(setting: Setting) -> None:
    found = setting.report()
    jsonschema.validate(found, schema())
    (finding,) = (f for f in found["findings"] if f["rule"] == "no-way")
    assert finding["message"].startswith("No legal way: over E3 with 4 no legal sonority can be reached: ")
    assert finding["mend"].startswith("The figure none over F3 before it opens a way. A licence for ")
    assert finding["allowed"] == ""
