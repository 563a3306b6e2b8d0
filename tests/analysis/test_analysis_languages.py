"""What is found is told wholly in the language that is asked for."""

import re
from itertools import chain
from pathlib import Path
from string import Formatter

import pytest

from builder.analysis import Analysis, analyse, as_words
from builder.language.texts import languages, texts
from builder.music import Place
from builder.source import Verset, parse, read

VERSETS = sorted((Path(__file__).parents[2] / "content" / "versets").glob("*.md"))
OTHERS = languages()[1:]


def table(language: str) -> dict[str, str]:
    """All that the analysis may say."""
    return {**texts("common", language).texts, **texts("analysis", language).texts}


WORD = re.compile(r"[^\W\d_]+")
NAMES = {"A", "B", "C", "D", "E", "F", "G", "Ab", "Bb", "Db", "Eb", "Gb"}

RARE = {
    "contradicted": (6, "none", "cantus C1 | D5/2 A4/2 | G4/2 F4/2 | E4/1 | D4/1"),
    "not in the table": (0, "Bb Eb Ab", "cantus C1 | Bb4/2 F4/2 | G4/2 A4/2 | Bb4/1"),
    "alone": (0, "none", "cantus C1 | E4/1"),
    "free": (
        0,
        "none",
        "cantus C1 | D5/2 E5/4 F5/4 | E5/2 D5/2\n"
        "altus C3 | G4/2 F4/4 E4/4 | F4/2 G4/2 | A4/4 C4/4 B3/2{6} | A3/1",
    ),
    "longer and cut": (
        0,
        "none",
        "cantus C1 | D5/4 E5/4 F5/4 G5/4 | F5/4 E5/4 D5/4 C5/4\n"
        "altus C3 | D4/2 E4/2 | F4/2 G4/2 | F4/2 E4/2 | C4/1 | B3/1 | A3/1",
    ),
    "shorter": (
        0,
        "none",
        "cantus C1 | D5/2 E5/2 | F5/2 G5/2 | F5/2 D5/2\naltus C3 | D4/4 E4/4 F4/4 G4/4 | F4/4 D4/4 A3/2",
    ),
    "editorial": (
        0,
        "none",
        "cantus C1 | D5/4 E5/4 F5/4 G5/4 | F5/2 D5/2\naltus C3 | D4/4 E4/4 F(#)4/4 G4/4 | F4/2 D4/2",
    ),
    "evaded": (
        0,
        "none",
        "cantus C1 | D5/2 A4/2 | B4/2 C5/2\n"
        "altus C3 | A3/1{4:2 #:2} | Bb3/1 | A3/1{4:2 #:2} | D4/1{6} | A3/1{#}",
    ),
}
"""Lines that bring out what the versets of the course have no need to say."""


def rare(name: str) -> Verset:
    tone, signature, given = RARE[name]
    named = f"  tone: {tone}\n" if tone else ""
    front = f"---\ntitle: A verset\nverset:\n  metre: C\n  signature: {signature}\n{named}---\n"
    return parse(f"{front}\n```given\n{given}\n```\n")


def told(verset: Verset, language: str) -> str:
    """All that is said of a verset: the sentences and every piece of evidence."""
    found = analyse(verset, language=language)
    return "\n".join([*chain(*as_words(found, language=language).values()), *evidence(found)])


def evidence(found: Analysis) -> list[str]:
    weighed = [e.text for t in found.tones for e in t.evidence]
    return [*(e.evidence for e in found.entries), *(c.evidence for c in found.cadences), *weighed]


def places(text: str) -> list[str]:
    return sorted({name for _, name, _, _ in Formatter().parse(text) if name is not None})


def vocabulary(language: str) -> set[str]:
    text = " ".join(re.sub(r"{\w+}", " ", phrase) for phrase in table(language).values())
    return {word.lower() for word in WORD.findall(text)}


def test_italian_and_german_are_told() -> None:
    assert {"en", "it", "de"} <= set(languages())


@pytest.mark.parametrize("language", OTHERS)
def test_every_language_says_the_same_things_and_fills_in_the_same(language: str) -> None:
    english, other = table("en"), table(language)
    assert set(other) == set(english)
    assert {k: places(other[k]) for k in other} == {k: places(english[k]) for k in english}


@pytest.mark.parametrize("language", OTHERS)
def test_no_phrase_is_left_in_english(language: str) -> None:
    names = {f"voice.{v}" for v in ("cantus", "altus", "tenor", "bassus")} | {"tone.kind.plagal"}
    same = {k for k, text in table(language).items() if text == table("en")[k]} - names
    letters, octaves = {f"names.{letter}" for letter in "CDEFGA"}, {f"octave.{n}" for n in range(10)}
    assert same <= {"de": letters, "it": octaves}[language]
    function_words = set(WORD.findall("the of and with to is by at on not notes bar third"))
    assert not vocabulary(language) & function_words


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("path", VERSETS, ids=lambda p: p.stem)
def test_the_versets_of_the_course_are_told_in_the_words_of_one_language(path: Path, language: str) -> None:
    text = told(read(path), language)
    words = {w for w in WORD.findall(text) if w not in NAMES}
    assert {w.lower() for w in words} <= vocabulary(language)
    assert not re.search(r"[{}]|  | ,| ;|;;|None|Fraction", text)


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("name", RARE)
def test_what_is_rare_is_told_in_the_words_of_one_language_too(name: str, language: str) -> None:
    text = told(rare(name), language)
    words = {w for w in WORD.findall(text) if w not in NAMES}
    assert {w.lower() for w in words} <= vocabulary(language)
    assert not re.search(r"[{}]|  | ,| ;|;;|None|Fraction", text)


@pytest.mark.parametrize("path", VERSETS, ids=lambda p: p.stem)
def test_the_language_changes_the_words_and_nothing_that_is_found(path: Path) -> None:
    verset = read(path)

    def bare(language: str) -> object:
        found = analyse(verset, language=language)
        return (
            [(e.voice, e.place, e.kind, e.matched) for e in found.entries],
            [(c.place, c.degree, c.kind) for c in found.cadences],
            [(t.tone, t.weight, [e.weight for e in t.evidence]) for t in found.tones],
            (found.tone, found.final, found.steps, len(found.warnings)),
        )

    assert bare("en") == bare("it") == bare("de")


def test_an_answer_is_reale_or_tonale_in_italian_and_the_eighth_tone_has_its_article_elided() -> None:
    verset = read(VERSETS[[p.stem for p in VERSETS].index("eighth")])
    words = as_words(analyse(verset, language="it"), language="it")
    assert words["entries"][3] == (
        "Alto, battuta 3, tempo 1, su re: risposta tonale; tutte le 8 note, una quinta sotto; "
        "con mutazione: finale e quinta si scambiano (a sol4 risponde re4 e a re5 risponde sol4)."
    )
    assert words["entries"][4].startswith("Basso, battuta 6, tempo 1, su sol: risposta reale;")
    assert words["tone"][1].startswith("È l’ottavo tono: l’ultima nota, sol, è la finale;")


def test_german_has_finalis_klausel_and_vorzeichnung_and_its_own_names_of_notes() -> None:
    verset = read(VERSETS[[p.stem for p in VERSETS].index("second")])
    words = as_words(analyse(verset, language="de"), language="de")
    assert words["entries"][1] == "Das Thema hat 5 Noten (D, C, B, A und G)."
    assert words["tone"][1].startswith(
        "Der zweite Ton: die letzte Note, G, ist die Finalis; die Vorzeichnung (B) ist die dieses Tons;"
    )
    assert "Tenorklausel in der tiefsten Stimme: sie fällt einen Ganzton von C nach B" in words["cadences"][2]


@pytest.mark.parametrize(
    ("language", "both", "either", "place"),
    [
        ("en", "G, D and B♭", "G or D", "bar 3, beat 2"),
        ("it", "sol, re e si♭", "sol o re", "battuta 3, tempo 2"),
        ("de", "G, D und B", "G oder D", "Takt 3, Schlag 2"),
    ],
)
def test_rows_of_letters_and_places_are_joined_as_the_language_joins_them(
    language: str, both: str, either: str, place: str
) -> None:
    say = texts("analysis", language)
    assert say.listing([say.written(name) for name in ("G", "D", "Bb")]) == both
    assert say.listing([say.written(name) for name in ("G", "D")], "or") == either
    assert say.where(Place(3, 2)) == place


def test_an_unknown_language_is_refused_by_naming_those_there_are() -> None:
    with pytest.raises(ValueError, match=r"'la'.*en, de, it"):
        analyse(read(VERSETS[0]), language="la")
