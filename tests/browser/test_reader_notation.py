"""Habits of reading: clefs, figures and names of notes at will."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

GIVEN = ".verset-music[data-version=given][data-clefs={}]"


@pytest.fixture
def page(visit: Any, sample_page: Callable[..., Path]) -> Page:
    page = visit(sample_page())
    page.get_by_role("button", name="More", exact=True).click()
    return page


def test_the_given_line_stands_in_its_own_clefs_until_modern_ones_are_asked_for(page: Page) -> None:
    assert page.locator(GIVEN.format("original")).is_visible()
    assert page.locator(GIVEN.format("modern")).is_hidden()
    page.get_by_role("checkbox", name="Modern clefs").check()
    assert page.locator(GIVEN.format("original")).is_hidden()
    assert page.locator(GIVEN.format("modern")).is_visible()


def test_modern_clefs_follow_the_sound_too(page: Page) -> None:
    page.get_by_role("checkbox", name="Modern clefs").check()
    page.evaluate("document.querySelector('.verset-player').verset.toBar(4)")
    assert page.locator(f"{GIVEN.format('modern')} .verset-now:visible").count() == 1


def test_figures_are_shown_until_they_are_not_wanted(page: Page) -> None:
    figures = page.locator(f"{GIVEN.format('original')} .harm:visible")
    assert figures.count() > 0
    page.get_by_label("Figures").uncheck()
    assert figures.count() == 0


def test_names_stand_beside_the_notes_when_asked_for(page: Page) -> None:
    assert page.locator(".verset-note-name:visible").count() == 0
    page.get_by_label("Names of the notes").check()
    row = page.locator(f"{GIVEN.format('original')} .verset-systems:visible .verset-note-name")
    assert row.all_text_contents()[:8] == ["D", "A", "B", "C", "B", "A", "D", "E"]
    page.get_by_label("Names of the notes").uncheck()
    assert page.locator(".verset-note-name:visible").count() == 0


def test_names_are_those_of_the_language_of_the_page(visit: Any, sample_page: Callable[..., Path]) -> None:
    page = visit(sample_page("de"))
    page.get_by_role("button", name="Mehr", exact=True).click()
    page.get_by_label("Namen der Noten").check()
    names = page.locator(".verset-music[data-version=plain] .verset-note-name:visible").all_text_contents()
    assert {"H", "B", "Cis", "Fis"} <= set(names)
