"""The interface texts: one catalogue, complete in every language."""

import re

import pytest

from builder.language.texts import languages
from builder.language.texts import page_texts as words

PLACE = re.compile(r"\{(\w+)\}")


def test_english_italian_and_german_are_there() -> None:
    assert set(languages()) == {"de", "en", "it"}


@pytest.mark.parametrize("language", languages())
def test_every_language_has_the_same_keys_and_no_empty_text(language: str) -> None:
    assert words(language).texts.keys() == words("en").texts.keys()
    assert not [key for key, text in words(language).texts.items() if not text.strip()]


@pytest.mark.parametrize("language", languages())
def test_every_text_has_the_places_of_the_english_one(language: str) -> None:
    for key, text in words(language).texts.items():
        assert set(PLACE.findall(text)) == set(PLACE.findall(words("en").texts[key])), key


def test_a_language_without_catalogue_is_named() -> None:
    with pytest.raises(ValueError, match="'fr'; there are: en, de, it"):
        words("fr")


def test_german_names_b_natural_h_and_b_flat_b() -> None:
    """Common practice, no source."""
    assert words("de")("names.B") == "H"
    assert words("de")("names.Bb") == "B"
