"""A language is added as the guide for developers says: one file, and every room speaks it."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import yaml

from builder.language.texts import _file, _flat, edition_texts, known_language, languages, texts
from builder.music import TUNINGS

ROOT = Path(__file__).parents[2]
SPEAKS = """
import json
from builder.analysis import analyse, as_words
from builder.counterpoint import RULES, Phrase, said
from builder.counterpoint.rules.phrases import worded
from builder.cli.main import parser
from builder.language.texts import edition_texts, languages, page_texts
from builder.pages.assets import all_assets, own_uris
from builder.plan import in_words
from builder.plugin.config import VersetConfig
from builder.source import SourceError, read
verset = read("first.md")
config = VersetConfig()
config.load_dict({"language": "fr"})
print(json.dumps({
    "known": "fr" in languages(),
    "analysis": as_words(analyse(verset, language="fr"), language="fr")["entries"],
    "rules": [worded(rule, "fr").title for rule in RULES],
    "check": said(Phrase.of("nothing"), "fr"),
    "plan": in_words(Phrase.of("repeated", place=verset.place(0)), "fr"),
    "source": SourceError("a.md", 1, 1, "an empty bar", "nothing").told("fr"),
    "print": edition_texts("fr")("label.index"),
    "page": page_texts("fr")("voices.altus"),
    "command line": parser().parse_args(["build", "--language", "fr", "a.md"]).language,
    "course": [str(e) for e in config.validate()[0]],
    "exercise": own_uris("fr")[2] in {a.uri for a in all_assets()},
}))
"""


@pytest.fixture
def house(tmp_path: Path) -> Path:
    for name in ("builder", "site_src"):
        shutil.copytree(ROOT / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "content" / "versets" / "first.md", tmp_path)
    return tmp_path


def translated(text: Any) -> Any:
    return {key: translated(each) for key, each in text.items()} if isinstance(text, dict) else f"FR {text}"


def test_a_new_language_is_one_file_and_every_room_speaks_it(house: Path) -> None:
    folder = house / "builder" / "language" / "texts"
    french = translated(yaml.safe_load((folder / "it.yaml").read_text("utf-8")))
    (folder / "fr.yaml").write_text(yaml.safe_dump(french, allow_unicode=True), "utf-8")
    done = subprocess.run([sys.executable, "-c", SPEAKS], cwd=house, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout)
    assert said.pop("known") and said.pop("exercise") and not said.pop("course")
    assert said.pop("command line") == "fr"
    for room, text in said.items():
        for each in [text] if isinstance(text, str) else text:
            assert "FR " in each, (room, each)


@pytest.mark.parametrize("language", languages()[1:])
@pytest.mark.parametrize(
    "section",
    ["common", "analysis", "findings", "choice", "tunings", "plan", "report", "edition", "page", "homework"],
)
def test_every_language_has_the_keys_of_the_english_in_every_section(section: str, language: str) -> None:
    own, english = ([*_flat(_file(known_language(each)).get(section, {}))] for each in (language, "en"))
    assert [key for key, _ in own] == [key for key, _ in english], "not by way of the English that stands in"
    assert all(text.strip() for text in texts(section, language).texts.values())


def test_there_are_notes_on_performance_in_every_language() -> None:
    assert len({edition_texts(language)("performance") for language in languages()}) == len(languages())


@pytest.mark.parametrize("language", languages())
def test_every_tuning_has_a_title_and_a_sentence(language: str) -> None:
    told = texts("tunings", language).texts
    assert {key.partition(".")[0] for key in told if "." in key} == set(TUNINGS)
    assert all({f"{name}.title", f"{name}.about"} <= set(told) for name in TUNINGS)


def test_texts_that_a_new_language_lacks_are_said_in_english_with_a_warning(house: Path) -> None:
    folder = house / "builder" / "language" / "texts"
    french = translated(yaml.safe_load((folder / "it.yaml").read_text("utf-8")))
    del french["page"]["voices"]["altus"], french["plan"], french["edition"]["label"]["index"]
    (folder / "fr.yaml").write_text(yaml.safe_dump(french, allow_unicode=True), "utf-8")
    code = """
from builder.language.texts import Phrase, edition_texts, page_texts
from builder.plan import in_words
for _ in range(2):
    print(page_texts("fr")("voices.altus"), "|", page_texts("fr")("voices.tenor"))
    print(edition_texts("fr")("label.index"))
print(in_words(Phrase.of("suspension", pitch="D5"), "fr"))
"""
    done = subprocess.run([sys.executable, "-c", code], cwd=house, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    page, edition = "altus | FR tenore", "Index"
    assert done.stdout.split("\n")[:4] == [page, edition, page, edition]
    assert "re5 is held over into a dissonance" in done.stdout
    told = [line for line in done.stderr.splitlines() if "fr.yaml" in line]
    assert len(told) == 3, "once each"
    assert any("section page: 1 texts are lacking and said in English: voices.altus" in line for line in told)
