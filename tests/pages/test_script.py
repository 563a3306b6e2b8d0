"""The script of the reader's page as text: what needs no browser and no compiler."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from builder.counterpoint.rules.rulebook import RULES
from builder.language.texts import languages, page_texts
from builder.pages import assets

FOLDER = assets.source_folder() / "script"
TYPES = Path(__file__).parents[2] / ".ci/script/types.d.ts"
SCREEN = 60
"""Lines that a function may have."""


def functions(text: str) -> Iterator[tuple[str, int]]:
    """First line and number of lines of each function in a formatted script: it ends where a line as far in
    as its first begins with a brace.

    >>> list(functions("function go() {\\n  run();\\n}\\n"))
    [('function go() {', 3)]
    """
    lines = text.splitlines()
    for n, line in enumerate(lines):
        opens = re.match(r"( *)(?! |(?:if|for|while|switch)\b)[^*/]*\)(?: =>)? \{$", line)
        if opens:
            end = next(k for k in range(n + 1, len(lines)) if lines[k].startswith(opens[1] + "}"))
            yield line.strip(), end - n + 1


def test_every_function_of_the_script_fits_on_a_screen() -> None:
    files = sorted(FOLDER.glob("*.js"))
    found = [(path.name, *each) for path in files for each in functions(path.read_text("utf-8"))]
    assert len(found) > 250
    assert [each for each in found if each[2] > SCREEN] == []


def test_every_file_of_the_script_is_joined_once() -> None:
    names = [*assets.SCRIPT_ORDER, *assets.OWN_ORDER, *assets.DRILL_ORDER, *assets.ZONES_ORDER]
    assert sorted(names) == sorted(path.stem for path in FOLDER.iterdir())


def test_no_rule_is_named_in_the_script() -> None:
    """Rules are asked of tables; a name in the script would be a second rulebook."""
    text = assets.script() + assets.own_script() + assets.drill_script()
    quoted = set(re.findall(r"""["'`]([\w-]+)["'`]""", text))
    assert quoted & set(RULES) == set()
    assert [name for name in RULES if "-" in name and name in text] == []


def test_types_stay_with_the_developers() -> None:
    assert not [asset.uri for asset in assets.all_assets() if asset.uri.endswith(".ts")]
    assert not list(assets.source_folder().rglob("*.d.ts"))
    joined = assets.script() + assets.own_script() + assets.drill_script()
    assert "@param" not in joined and "@type" not in joined


@pytest.mark.parametrize(("kind", "section"), [("ReaderWord", "reader"), ("TryWord", "try")])
def test_the_compiler_knows_no_text_that_a_language_lacks(kind: str, section: str) -> None:
    """The texts that the script may ask for stand in the types; the compiler refuses others."""
    union = re.search(rf"type {kind} =(.*?);", TYPES.read_text("utf-8"), re.DOTALL)
    assert union
    asked = set(re.findall(r'"(\w+)"', union[1]))
    assert len(asked) > 40
    for language in languages():
        assert asked <= set(page_texts(language).section(section)), language


def test_only_what_is_called_after_the_theme_knows_it() -> None:
    files = [path for path in assets.source_folder().rglob("*.*") if path.suffix in (".css", ".js", ".jinja")]
    known = {path.name for path in files if re.search(r"\bmd-", path.read_text("utf-8"))}
    assert known == {"theme.css", "theme_look.css", "theme.js"}
