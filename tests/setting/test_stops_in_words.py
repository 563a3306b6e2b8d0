"""A registration in a teacher's words reaches page, print and MEI as it is written; what sounds is said."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from builder.edition.exchange.mei import mei
from builder.edition.pdf.data import practice
from builder.language.texts import edition_texts, page_texts
from builder.pages.facts import overview
from builder.setting.reading import read_verset
from builder.setting.setting import set_verset
from builder.source import EXAMPLE, SourceErrors, parse

FREE = "soft 8 foot alone"


def source(stops: str) -> str:
    return EXAMPLE.replace("signature: none", f"signature: none\n  registration: {stops}")


def test_free_words_reach_page_print_and_mei_and_the_sound_is_the_advised_one() -> None:
    setting = set_verset(parse(source(FREE)))
    assert setting.registration == set_verset(parse(EXAMPLE)).registration
    for language in ("en", "it", "de"):
        w = edition_texts(language)
        assert practice(setting, w)[0][1] == "Soft 8 foot alone"
        assert overview(setting, page_texts(language))["registration"] == FREE
        told = [text for text in setting.warnings(language) if FREE in text]
        assert len(told) == 1
        assert "principale" in told[0] and "flauto" in told[0]
    for score in setting.scores.values():
        root = ET.fromstring(mei(setting.verset, score))
        annot = root.find(".//{*}work/{*}notesStmt/{*}annot[@type='registration']")
        assert annot is not None and "".join(annot.itertext()).strip() == FREE


def test_stops_known_and_unknown_draw_those_that_are_known() -> None:
    setting = set_verset(parse(source("principale and trumpet")))
    assert setting.registration.names == ("principale",)
    assert sum("trumpet" in text for text in setting.warnings()) == 1


def test_stops_of_this_organ_in_another_tongue_need_no_word(tmp_path) -> None:
    setting = set_verset(parse(source("\"Prinzipal 8' und Flöte 4'\"")))
    assert setting.registration.names == ("principale", "flauto")
    assert setting.warnings() == ()
    assert practice(setting, edition_texts("de"))[0][1] == "Principale und flauto"


def test_a_misspelt_stop_is_told_with_its_place(tmp_path) -> None:
    path = tmp_path / "a.md"
    path.write_text(source("principale e flutto"))
    with pytest.raises(SourceErrors, match="the stop 'flutto'; expected flauto") as refused:
        read_verset(path)
    assert refused.value.errors[0].line == 6
