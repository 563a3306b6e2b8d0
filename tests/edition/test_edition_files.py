"""Every file of a verset says what it is, who answers for it, and what may be done with it."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import mido
import pymupdf
import pytest
import soundfile

from builder.edition.files import write_files
from builder.edition.imprint import UNSIGNED, Imprint
from builder.setting.setting import Setting, set_verset
from builder.source import parse

SOURCE = """---
title: Amen
verset: {metre: C, signature: none, beat: half = 60}
---

```given
cantus C1 | D5/2 C#5/2 | D5/1
bassus F4 | A2/1{4 #} | D3/1{#}
```
"""
SIGNED = Imprint("en", ("Teacher, Anna", "A Choir"), "A press", "CC-BY-4.0", "Versets for the year")


@pytest.fixture(scope="module")
def setting() -> Setting:
    return set_verset(parse(SOURCE, "amen.md"))


@pytest.fixture(scope="module")
def folder(setting: Setting, tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("files")
    write_files(setting, made, imprint=SIGNED)
    return made


@pytest.mark.parametrize("ending", ["flac", "mp3"])
def test_a_recording_says_title_people_edition_licence_and_caution(folder: Path, ending: str) -> None:
    with soundfile.SoundFile(folder / f"amen-plain.{ending}") as sound:
        assert sound.title == "Amen (Plain)"
        assert sound.artist == "Teacher, Anna, A Choir"
        assert sound.album == "Versets for the year"
        caution = "With headphones start softly: full organ harms the ear."
        tuned = "Quarter-comma meantone, A at 440 Hz."
        assert sound.comment == f"{tuned} {caution} Licence: CC-BY-4.0."
        if ending == "flac":
            assert (sound.copyright, sound.license) == ("CC-BY-4.0", SIGNED.licence_url)
    if ending == "mp3":
        address = SIGNED.licence_url.encode()
        frame = b"WCOP" + len(address).to_bytes(4, "big") + b"\0\0" + address
        assert frame in (folder / "amen-plain.mp3").read_bytes()


@pytest.mark.parametrize(
    "language, title, caution",
    [
        ("it", "Amen (Semplice)", "In cuffia comincia piano"),
        ("de", "Amen (Schlicht)", "Mit Kopfhörern leise"),
    ],
)
def test_a_recording_speaks_the_language_of_the_edition(
    setting: Setting, tmp_path: Path, language: str, title: str, caution: str
) -> None:
    brief = replace(setting, scores={"plain": setting.scores["plain"]})
    write_files(brief, tmp_path, sheets=False, imprint=replace(SIGNED, lang=language))
    for ending in ("flac", "mp3"):
        with soundfile.SoundFile(tmp_path / f"amen-plain.{ending}") as sound:
            assert sound.title == title and caution in sound.comment


def test_encodings_say_people_and_licence(folder: Path) -> None:
    mei = (folder / "amen-plain.mei").read_text("utf-8")
    assert "<publisher>A press</publisher>" in mei and 'target="https://spdx.org/licenses/CC-BY-4.0' in mei
    assert mei.count("<name") == 3  # two people and the program
    music = (folder / "amen-given.musicxml").read_text("utf-8")
    assert "<rights>CC-BY-4.0</rights>" in music
    assert '<creator type="editor">Teacher, Anna</creator>' in music
    played = mido.MidiFile(file=io.BytesIO((folder / "amen-plain.mid").read_bytes()))
    assert [m.text for m in played.tracks[0] if m.type == "copyright"] == ["CC-BY-4.0"]


def test_prints_say_people_and_licence(folder: Path) -> None:
    with pymupdf.open(folder / "amen.pdf") as doc:
        assert doc.metadata["author"] == "Teacher, Anna, A Choir"
        assert "A press · Licence: CC-BY-4.0" in " ".join(page.get_text() for page in doc)


def test_where_nothing_is_stated_the_caution_stands_and_nothing_is_invented(
    setting: Setting, tmp_path: Path
) -> None:
    write_files(setting, tmp_path, audio={}, sheets=False)
    music = (tmp_path / "amen-given.musicxml").read_text("utf-8")
    assert f"<rights>{UNSIGNED.rights}</rights>" in music and "<creator" not in music
    assert "<unpub>" in (tmp_path / "amen-given.mei").read_text("utf-8")
