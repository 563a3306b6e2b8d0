"""Every rule, and all that the check has to say, speaks the languages of a course."""

from __future__ import annotations

import re
from string import Formatter

import pytest

from builder.counterpoint.rules.phrases import FindingTexts, finding_texts, said, worded
from builder.counterpoint.rules.rulebook import RULES
from builder.counterpoint.rules.treatment import UNTREATED, Treatment
from builder.language.texts import Phrase, languages, texts
from builder.music import Pitch

ALIKE = {"it": {"note"}, "de": {"bass", "hand", "wolf"}}
OTHERS = tuple(language for language in languages() if language != "en")


@pytest.mark.parametrize("language", OTHERS)
def test_every_rule_has_title_sentence_and_advice_and_no_other_rule_is_told(language: str) -> None:
    known = texts("rules", language)
    assert {key.partition(".")[0] for key in known.texts} == set(RULES)
    for name, rule in RULES.items():
        assert set(known.section(name)) == {"title", "sentence", "advice"}
        told = worded(name, language)
        assert told.id == rule.id and told.severity == rule.severity
        for text, english in (
            (told.title, rule.title),
            (told.sentence, rule.sentence),
            (told.advice, rule.advice),
        ):
            assert (text.strip() == text and text and text != english) or name == "unison", (name, text)
    titles = [worded(name, language).title for name in RULES]
    assert len(set(titles)) == len(titles)


def values(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name}


@pytest.mark.parametrize("language", OTHERS)
def test_every_language_has_the_same_phrases_with_the_same_values(language: str) -> None:
    english, other = finding_texts("en").texts, finding_texts(language).texts
    assert list(other) == list(english)
    for key, text in other.items():
        assert text.strip() == text and text
        assert values(text) == values(english[key]), key


@pytest.mark.parametrize("language", languages())
def test_a_place_is_read_in_a_way_that_is_known(language: str) -> None:
    for key, text in finding_texts(language).texts.items():
        read = {spec for _, name, spec, _ in Formatter().parse(text) if name and spec}
        assert all(hasattr(FindingTexts, f"as_{spec}") for spec in read), key


def test_every_looser_treatment_has_its_words() -> None:
    english = finding_texts("en").texts
    assert {t.name.lower() for t in Treatment if t >= Treatment.CADENTIAL and t not in UNTREATED} <= set(
        english
    )


@pytest.mark.parametrize(
    ("low", "high", "english", "italian", "german"),
    [
        ("F3", "B4", "an augmented fourth", "una quarta aumentata", "eine übermäßige Quarte"),
        ("B3", "F4", "a diminished fifth", "una quinta diminuita", "eine verminderte Quinte"),
        ("D3", "C5", "a seventh", "una settima", "eine Septime"),
        ("A3", "A5", "an octave", "un’ottava", "eine Oktave"),
        ("C4", "C#4", "an augmented unison", "un unisono aumentato", "eine übermäßige Prime"),
        ("E4", "D4", "a second", "una seconda", "eine Sekunde"),
    ],
)
def test_intervals_are_named_beyond_the_octave_as_within_it(
    low: str, high: str, english: str, italian: str, german: str
) -> None:
    ends = Pitch.parse(low), Pitch.parse(high)
    sung = {"lower": ("bassus", ends[0]), "upper": ("altus", ends[1])}
    clash = Phrase.of("clash", interval=ends, **sung)
    for language, name in (("en", english), ("it", italian), ("de", german)):
        assert said(clash, language).endswith(f" {name}")


@pytest.mark.parametrize(
    ("tuning", "english", "italian", "german"),
    [
        (
            "quarter-comma, Ab for G#",
            "Quarter-comma meantone, A♭ for G♯",
            "mesotonico a un quarto di comma, la♭ al posto di sol♯",
            "„mitteltönig (Viertelkomma), As statt Gis“",
        ),
        (
            "sixth-comma, split D# Ab",
            "Sixth-comma meantone, split D♯ A♭",
            "mesotonico a un sesto di comma, tasti spezzati re♯ la♭",
            "„mitteltönig (Sechstelkomma), geteilte Tasten Dis As“",
        ),
    ],
)
def test_a_tuning_is_named_with_what_the_tuner_changed(
    tuning: str, english: str, italian: str, german: str
) -> None:
    sung = {"upper": ("cantus", Pitch.parse("D#5")), "lower": ("altus", Pitch.parse("G#4"))}
    wolf = Phrase.of("wolf", tuning=tuning, **sung)
    for language, name in (("en", english), ("it", italian), ("de", german)):
        assert said(wolf, language).endswith(f" {name}")


def test_a_text_and_a_voice_of_its_own_name_stay_as_they_are_and_an_unknown_language_is_refused() -> None:
    assert said("horn fifths", "it") == "horn fifths"
    phrase = Phrase.of("goes-to", note=("voice 2", Pitch.parse("C#4")), after=Pitch.parse("A3"))
    assert said(phrase, "de") == "voice 2 cis′ geht nach a"
    with pytest.raises(ValueError, match="no texts in 'xx'; there are: en, de, it"):
        said(phrase, "xx")


def test_a_value_that_is_lacking_is_an_error() -> None:
    with pytest.raises(KeyError):
        said(Phrase.of("goes-to", after=Pitch.parse("A3")))
    with pytest.raises(KeyError):
        said(Phrase("no-such-phrase"))


@pytest.mark.parametrize("language", OTHERS)
def test_no_word_of_a_catalogue_is_left_in_english(language: str) -> None:
    """But for the few that two languages spell alike."""

    def words(texts: dict[str, str]) -> set[str]:
        bare = (re.sub(r"\{\{.*\}\}|\{.*?\}", " ", text) for text in texts.values())
        return {w.lower() for text in bare for w in re.findall(r"[^\W\d_]{4,}", text)}

    assert words(finding_texts("en").texts) & words(finding_texts(language).texts) == ALIKE[language]
