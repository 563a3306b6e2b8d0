"""What a source is told is told in the language of the course."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType

import pytest

import builder.source
from builder.language.texts import languages
from builder.source import SourceError, SourceErrors
from builder.source.items import _SLIPS
from builder.source.wording import PLACE, _phrases, knows, told


def _beside(name: str) -> ModuleType:
    """Another file of tests, for the mistakes that it knows."""
    spec = spec_from_file_location(f"known_{name}", Path(__file__).with_name(f"{name}.py"))
    assert spec and spec.loader
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


known, encoded = _beside("test_source_errors"), _beside("test_source_encodings")
GOOD, errors = known.GOOD, known.errors

OTHERS = [language for language in languages() if language != "en"]
READER = Path(builder.source.__file__).parent
SPEAKING = [
    *sorted(READER.glob("*.py")),
    READER.parent / "plugin/plugin.py",
    *(READER.parent / "edition/service" / f"{name}.py" for name in ("order", "plan")),
    *(READER.parent / place for place in ("pages/trouble.py", "pages/crew.py", "pages/pinning.py")),
    *(READER.parent / place for place in ("cli/commands.py", "cli/warming.py")),
]
SILENT = {
    *("what does not fit is an error", "a document without a score has an error", "the bar is not too long"),
    *("a file without parts has an error", "end of stream", "expected ','", "mapping values", "not YAML"),
    *(part for part, _, _ in _SLIPS),
    # pieces of phrases, which the mistakes below make whole
    *('"x"keys with values', "in this entry", 'a "x" for bar "x"', "the plain signs # b n"),
    '"x" in a pitch, such as F#4 or Bb4',
    # headings, and why a value cannot be written out
    *("das ganze", "the whole", 'a beat of "x" quarters has no name', 'the build met "x"'),
    '"x" beats a minute cannot be written as a decimal',
    # said where no course is yet
    '"x" is not empty: name a new folder',
    '"x" is no share: such as 2/4, the second of four',
}
"""Texts of the reader that are no phrases of an error: what must hold, and what is looked for in YAML's
words, among them."""


def mistakes() -> list[SourceError]:
    """Every mistake that the tests of errors know."""
    texts = [GOOD.replace(old, new.replace("¦", ""), 1) for old, new, *_ in known.MUSIC]
    texts += [GOOD.replace("## altus", f"```plain\n{pins}\n```\n\n## altus") for pins, *_ in known.PINS]
    texts += [GOOD.replace(old, new, 1) for old, new, *_ in (*known.FENCES, *known.SETTINGS)]
    found = [error for text in texts for error in errors(text)]
    for bars, *_ in encoded.WRONG:
        found += encoded.errors(encoded.document(*bars))
    return found


def _part(value: ast.expr) -> str:
    if isinstance(value, ast.Constant):
        return str(value.value)
    return "cantus" if "voice" in ast.unparse(value).lower() else '"x"'


def phrases(path: Path) -> Iterator[str]:
    """The texts of a file of code that read as phrases, with a quotation in each place."""
    tree = ast.parse(path.read_text("utf-8"))
    passed: set[int] = set()  # docstrings, patterns, and the parts of texts with places
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            passed.add(id(node.value))
        if isinstance(node, ast.Call) and ast.unparse(node.func).startswith("re."):
            passed.update(id(inner) for inner in ast.walk(node))
        if isinstance(node, ast.JoinedStr):
            passed.update(id(inner) for inner in ast.walk(node) if inner is not node)
    for node in ast.walk(tree):
        if id(node) in passed:
            continue
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            text = node.value
        elif isinstance(node, ast.JoinedStr):
            text = "".join(_part(v) for v in node.values)
        else:
            continue
        if re.match(r'[a-z<"].*[a-z]{2} [a-z]', text) and text not in SILENT:
            yield text


@pytest.mark.parametrize("language", OTHERS)
def test_every_phrase_of_the_reader_has_one_in_the_language(language: str) -> None:
    lacking = [
        f"{path.name}: {text}" for path in SPEAKING for text in phrases(path) if not knows(text, language)
    ]
    assert not lacking


@pytest.mark.parametrize("language", OTHERS)
def test_mistakes_are_told_in_the_language(language: str) -> None:
    halves = [half for e in mistakes() for half in (e.found, e.expected)]
    assert not {half for half in halves if not knows(half, language)}


@pytest.mark.parametrize("language", OTHERS)
def test_no_english_is_left_in_what_is_told(language: str) -> None:
    english = re.compile(r"\b(the|found|expected|with|quarters|figures?|which|of|and|as|such|before)\b")
    for error in mistakes():
        text = error.told(language).split("\n")[0].split(": ", 1)[1]
        assert not english.search(re.sub(r'".*"|`[^`]*`|\'[^\']*\'', "", text)), text


@pytest.mark.parametrize("language", OTHERS)
def test_a_phrase_has_only_places_that_its_english_fills(language: str) -> None:
    for pattern, phrase in _phrases(language):
        assert set(pattern.groupindex) >= set(PLACE.findall(phrase))


def test_an_error_is_told_whole_in_one_language() -> None:
    error = SourceError("a.md", 3, 4, "an empty bar", "what no catalogue has")
    assert error.told("it") == "a.md:3:4: found an empty bar; expected what no catalogue has"
    assert told("an empty bar", "it") == "una battuta vuota"


def test_a_bar_that_does_not_add_up_in_italian_and_german() -> None:
    with pytest.raises(SourceErrors) as caught:
        raise SourceErrors(errors(GOOD.replace("B4/4 A4/2", "B4/4 A4/4", 1)))
    first = {language: caught.value.told(language).split("\n")[0] for language in OTHERS}
    assert first["it"].endswith(
        "battuta 2, tempo 4: trovato: una battuta di 3 quarti; atteso: 4 quarti, come vuole il metro C"
    )
    assert first["de"].endswith(
        "Takt 2, Schlag 4: gefunden: ein Takt von 3 Viertel; erwartet: 4 Viertel, wie das Metrum C verlangt"
    )
