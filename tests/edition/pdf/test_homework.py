"""Homework sheets: what is asked for is blank, the given line stays, and the answers are whole."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from functools import cache
from pathlib import Path

import pymupdf
import pytest

from builder.cli import main
from builder.edition.pdf.homework import has_line, homework, with_blanks
from builder.engraving.openscore import clefs_of, open_mei
from builder.music import Version
from builder.setting.reading import read_verset
from builder.setting.setting import Setting, set_verset
from builder.source import Blank

SOURCE = Path(__file__).parents[3] / "content" / "versets" / "second.md"
MEI = "{http://www.music-encoding.org/ns/mei}"
ID = "{http://www.w3.org/XML/1998/namespace}id"


@cache
def setting() -> Setting:
    return set_verset(read_verset(SOURCE))


def notes(mei: str) -> dict[tuple[int, int], int]:
    """How many notes each stave has in each bar."""
    return {
        (int(staff.get("n", "")), int(measure.get("n", ""))): len(list(staff.iter(f"{MEI}note")))
        for measure in ET.fromstring(mei).iter(f"{MEI}measure")
        for staff in measure.findall(f"{MEI}staff")
    }


def test_a_blank_bar_is_empty_and_every_other_as_it_was() -> None:
    score = setting().scores[Version.PLAIN]
    mei = open_mei(score, clefs_of(setting().verset), figured=True)
    voices = [part.voice for part in score.parts]
    blank = {("altus", 11), ("altus", 12), ("cantus", 5)}
    before, after = notes(mei), notes(with_blanks(mei, voices, blank))
    gone = {(voices.index(voice) + 1, bar) for voice, bar in blank}
    assert all(before[place] for place in gone)
    assert after == {place: 0 if place in gone else count for place, count in before.items()}
    root = ET.fromstring(with_blanks(mei, voices, blank))
    known = {element.get(ID) for element in root.iter()}
    named = {e.get(key) for e in root.iter() for key in ("startid", "endid") if e.get(key)}
    assert named and {name.removeprefix("#") for name in named} <= known
    assert len(list(root.iter(f"{MEI}harm"))) == len(list(ET.fromstring(mei).iter(f"{MEI}harm")))


def test_bars_in_which_a_voice_has_the_line_are_never_blank() -> None:
    assert has_line(setting(), "altus", 9) and not has_line(setting(), "altus", 12)
    with pytest.raises(ValueError, match="nothing would be blank"):
        homework(setting(), [Blank("altus", 8, 10), Blank("bassus")])


def test_sheet_and_answers_say_what_they_are(tmp_path: Path) -> None:
    asked = ["homework", str(SOURCE), "--blank", "altus 11-12", "--clef", "altus=G2", "--to", str(tmp_path)]
    assert main([*asked, "--language", "it"]) == 0
    sheets = [tmp_path / f"second-{kind}.pdf" for kind in ("homework", "answers")]
    told = [" ".join(page.get_text() for page in pymupdf.open(path)) for path in sheets]
    assert "Compito" in told[0] and "Soluzioni" in told[1]
    drawn = [sum(len(page.get_drawings()) for page in pymupdf.open(path)) for path in sheets]
    assert drawn[0] < drawn[1]


@pytest.mark.parametrize("text", ["alto 3", "altus 6-3", "altus x", "", "altus 3-"])
def test_what_is_no_blank_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=f"^{text}$"):
        Blank.parse(text)


def test_a_wrong_call_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for asked in (["--blank", "altus 11", "--clef", "altus=X9"], ["--blank", "alto"]):
        with pytest.raises(SystemExit):
            main(["homework", str(SOURCE), *asked, "--to", str(tmp_path)])
    assert main(["homework", str(SOURCE), "--blank", "bassus", "--to", str(tmp_path / "new")]) == 1
    assert "nothing would be blank" in capsys.readouterr().err
    assert not (tmp_path / "new").exists()
