"""The guide for developers, followed to the letter on a copy: what it says is enough is enough."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture
def house(tmp_path: Path) -> Path:
    for name in ("builder", "site_src"):
        shutil.copytree(ROOT / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__"))
    return tmp_path


def put(path: Path, before: str, new: str) -> None:
    """New text before what stands in a file once."""
    text = path.read_text("utf-8")
    assert text.count(before) == 1, (path, before)
    path.write_text(text.replace(before, new + before), "utf-8")


def asked(house: Path, program: str) -> Any:
    done = subprocess.run([sys.executable, "-c", program], cwd=house, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_a_tuning_is_an_entry_and_its_words(house: Path) -> None:
    put(
        house / "builder/music/temperament.py",
        '    regular("pythagorean", FIFTH),\n',
        '    regular("fifth-comma", FIFTH - COMMA / 5),\n',
    )
    for language in ("en", "it", "de"):
        words = f'  fifth-comma:\n    title: "{language} title"\n    about: "{language} sentence."\n'
        put(house / f"builder/language/texts/{language}.yaml", "  pythagorean:\n    title", words)
    found = asked(
        house,
        """
import json
from builder.music import read_tuning
from builder.pages.pieces import Asked
from builder.pages.pieces.tunings import tunings
from builder.setting.setting import Defaults
mean = read_tuning("fifth-comma, Ab for G#")
piece = tunings(Asked(Defaults(), "de", "tunings.md"))
print(json.dumps([mean.letters, [page.title for page in piece.pages], piece.markdown]))
""",
    )
    letters, titles, listed = found
    assert "Ab" in letters and "G#" not in letters
    assert "De title" in titles and "de sentence." in listed


def test_a_rank_and_a_pattern_are_one_line_each(house: Path) -> None:
    put(
        house / "builder/sound/ranks.py",
        '            Rank("flauto", "4′", 2, "flute", -3.0),\n',
        '            Rank("flautone", "8′", 1, "flute", -4.0),\n',
    )
    line = "  - {id: third-up-new, figure: passing, notes: 0/4 1, character: gentle, source: our own}\n"
    put(house / "builder/diminution/tables/third.yaml", "  - {id: third-up-passing-1,", line)
    found = asked(
        house,
        """
import json
from builder.diminution import patterns
from builder.sound import Registration, rank_data
drawn = Registration.parse("flautone e ottava")
print(json.dumps([drawn.names, len(rank_data(drawn)), [p.id for p in patterns()]]))
""",
    )
    names, ranks, known = found
    assert set(names) == {"flautone", "ottava"} and ranks >= 2
    assert any(each.startswith("third-up-new") for each in known)


def test_a_piece_is_a_function_and_a_name(house: Path) -> None:
    (house / "builder/pages/pieces/names.py").write_text(
        '"""The voices."""\n\nfrom builder.music import WRITTEN\n'
        "from builder.pages.pieces.piece import Asked, Piece\n\n\n"
        "def names(asked: Asked) -> Piece:\n"
        '    """A line for each voice."""\n'
        '    return Piece("\\n".join(f"- {voice}" for voice in WRITTEN), {}, ())\n'
    )
    pieces = house / "builder/pages/pieces/__init__.py"
    put(pieces, '    "rules": rules,\n', '    "names": names,\n')
    put(pieces, "from builder.pages.pieces.index", "from builder.pages.pieces.names import names\n")
    found = asked(
        house,
        """
import json
from builder.pages.pieces import PIECES, Asked
from builder.setting.setting import Defaults
print(json.dumps(PIECES["names"](Asked(Defaults(), "en", "index.md")).markdown.splitlines()))
""",
    )
    assert "- altus" in found


def test_a_text_is_the_same_key_in_every_language(house: Path) -> None:
    for language in ("en", "it", "de"):
        file = house / f"builder/language/texts/{language}.yaml"
        put(file, "  motif-head: ", f'  new: "{{x:voice}} ({language})"\n')
    program = """
import json
from builder.language.texts import texts
print(json.dumps([texts("plan", language)("new", x="altus") for language in ("en", "it", "de")]))
"""
    assert asked(house, program) == ["altus (en)", "alto (it)", "Altus (de)"]
