"""New versets from the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from builder.cli import main
from builder.source import parse

ASKED = ["invent", "--tone", "6", "--voices", "cantus tenor", "--bars", "8", "--character", "tripla"]


def test_a_new_verset_goes_to_the_terminal_or_a_new_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*ASKED, "--language", "it"]) == 0
    told = capsys.readouterr().out
    assert parse(told).title == "Nuovo versetto del sesto tono, n. 0"
    target = tmp_path / "versets" / "new.md"
    assert main([*ASKED, "--to", str(target)]) == 0
    assert parse(target.read_text("utf-8")).tone == 6


def test_it_never_writes_over_a_file(tmp_path: Path) -> None:
    target = tmp_path / "mine.md"
    target.write_text("my own", "utf-8")
    assert main([*ASKED, "--to", str(target), "--language", "de"]) == 2
    assert target.read_text("utf-8") == "my own"


def test_an_order_that_cannot_be_met_is_told_in_the_language_of_the_call(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["invent", "--tone", "9", "--bars", "99", "--language", "de"]) == 2
    told = capsys.readouterr().err
    assert "acht Töne" in told and "4 bis 60 Takte" in told
