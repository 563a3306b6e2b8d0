"""A whole service suggested from the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from builder.cli import main
from builder.edition.service.order import Played, parse_order

COURSE = ["--course", str(Path(__file__).parents[2] / "mkdocs.yml")]


def test_a_suggestion_is_a_page_of_the_course(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "vespers.md"
    asked = ["service", "magnificat", "--tone", "1", "--reciting", "G", "--first", "choir", *COURSE]
    assert main([*asked, "--to", str(target)]) == 0
    said = capsys.readouterr()
    assert "verses of the organ 6, versets of the course 3" in said.err
    order = parse_order(target.read_text("utf-8"), str(target))
    assert [isinstance(item, Played) for item in order.items] == [False, True] * 6
    assert main([*asked, "--to", str(target)]) == 2, "it never writes over a file"
    assert main(asked) == 0
    assert capsys.readouterr().out.strip() == target.read_text("utf-8").strip()


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        (["--tone", "9"], "a tone from 1 to 8"),
        (["--tone", "psalm 3"], 'the key "psalm"'),
        (["--tone", "1", "--reciting", "H"], "a note by its letter"),
    ],
)
def test_what_cannot_be_suggested_is_told(
    wrong: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["service", "mass", *wrong, *COURSE]) == 2
    assert told in capsys.readouterr().err
