"""A title in any script goes through every file of an edition."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import mido
import numpy as np
import pymupdf
import pytest
import soundfile
from lxml import etree
from titles import TITLES

from builder.edition.book.book import Book, book
from builder.edition.files import write_files
from builder.edition.imprint import Imprint
from builder.edition.pdf.sheet import pdf, single
from builder.language.braille import UNKNOWN, in_braille, without_sign
from builder.language.glyphs import STAND_IN, missing
from builder.language.texts import languages
from builder.setting.setting import Setting, set_verset
from builder.sound import encode
from builder.source import parse

SOURCE = """---
title: Amen
verset: {metre: C, signature: none, beat: half = 240}
---

```given
cantus C1 | D5/2 C#5/2 | D5/1
bassus F4 | A2/1{#} | D3/1{#}
```
"""
WITHOUT_GLYPH = {"clef 𝄞": "𝄞"}


@pytest.fixture(scope="module")
def setting() -> Setting:
    return set_verset(parse(SOURCE, "amen.md"))


def titled(setting: Setting, title: str) -> Setting:
    scores = {name: replace(score, title=title) for name, score in setting.scores.items()}
    return replace(setting, verset=replace(setting.verset, title=title), scores=scores)


def test_every_title_is_read_as_it_stands() -> None:
    for title in TITLES:
        source = SOURCE.replace("title: Amen", f"title: {json.dumps(title, ensure_ascii=False)}")
        assert parse(source).title == title


@pytest.mark.parametrize("title", TITLES)
def test_a_title_goes_through_every_file(setting: Setting, tmp_path: Path, title: str) -> None:
    signed = Imprint("en", (title,), title, title, title)
    named = titled(setting, title)
    for path in write_files(named, tmp_path, audio={}, sheets=False, imprint=signed):
        assert path.stat().st_size
    assert json.loads((tmp_path / "report.json").read_text("utf-8"))["title"] == title
    midi = mido.MidiFile(tmp_path / "amen-plain.mid", charset="utf-8")
    assert next(m.name for m in midi.tracks[0] if m.type == "track_name") == title
    work = etree.parse(tmp_path / "amen-plain.musicxml").findtext(".//work-title")
    assert work == title
    titles = etree.parse(tmp_path / "amen-plain.mei").iter("{http://www.music-encoding.org/ns/mei}title")
    assert any(t.text and title in t.text for t in titles)


@pytest.mark.parametrize("title", TITLES)
def test_a_title_is_printed_whole_or_with_a_stand_in_that_is_told(setting: Setting, title: str) -> None:
    printed = pymupdf.open(stream=single(titled(setting, title), "plain", imprint=Imprint("en", (title,))))
    lacking = missing([title])
    assert lacking == tuple(WITHOUT_GLYPH.get(title, ""))
    expected = title.replace(lacking[0], STAND_IN) if lacking else title
    assert printed.metadata["title"] == expected
    told = [text for text in titled(setting, title).warnings() if text.startswith("print has no glyph")]
    assert len(told) == len(lacking) and all(c in told[0] for c in lacking)


def test_check_foresees_what_print_and_braille_lack(setting: Setting) -> None:
    told = titled(setting, "讃 𝄞").report()["warnings"]
    assert any("𝄞 (U+1D11E)" in text and "print" in text for text in told)
    assert any("讃 (U+8B83)" in text and "braille" in text for text in told)


def test_a_mark_that_no_font_sets_to_its_letter_is_printed_as_the_stand_in(setting: Setting) -> None:
    named = titled(setting, "e\u0489 \U0001d11e\u0301 א\u0489")
    assert single(named, "plain").startswith(b"%PDF")


@pytest.mark.parametrize("title", TITLES)
def test_a_recording_carries_a_title_in_any_script(tmp_path: Path, title: str) -> None:
    tone = 0.1 * np.sin(np.arange(4410) * 440 * 2 * np.pi / 44100)
    paths = [tmp_path / "a.mp3", tmp_path / "a.flac"]
    encode(np.stack((tone, tone), 1), paths, {"title": title, "license": f"https://{title}", "artist": title})
    for path in paths:
        with soundfile.SoundFile(path) as sound:
            assert (sound.title, sound.artist) == (title, title)


@pytest.mark.parametrize("language", languages())
def test_the_words_of_the_edition_itself_need_no_stand_in(language: str) -> None:
    from builder.language.texts import edition_texts as words

    texts = [*words(language).texts.values(), words(language)("performance")]
    assert missing(texts) == ()
    assert all("⠿" not in in_braille(word, language) for word in words(language).section("label").values())


@pytest.mark.parametrize(
    ("print_", "braille"),
    [
        ("Verset in the first tone", "⠠⠧⠑⠗⠎⠑⠞ ⠊⠝ ⠞⠓⠑ ⠋⠊⠗⠎⠞ ⠞⠕⠝⠑"),
        ("BACH 1685", "⠠⠠⠃⠁⠉⠓ ⠼⠁⠋⠓⠑"),
        ("(yes) & no", "⠐⠣⠽⠑⠎⠐⠜ ⠈⠯ ⠝⠕"),
        ("γ", "⠨⠛"),
        ("très", "⠞⠗⠘⠡⠑⠎"),
        ("3½", "⠼⠉⠼⠁⠌⠃"),
    ],
)
def test_words_in_braille_are_those_of_the_literary_code(print_: str, braille: str) -> None:
    """Signs of Unified English Braille, from memory."""
    assert in_braille(print_) == braille


@pytest.mark.parametrize(
    ("print_", "dots"),
    [
        ("Слава", "6-234-123-1-2456-1"),
        ("שלום", "146-123-2456-134"),
        ("السلام عليكم", "1-123-234-1236-134 12356-123-24-13-134"),
        ("١٢", "3456-1-12"),
        ("さんび", "156-356-5-1236"),  # the eight-dot cells of that table, moved up by a row
        ("きょく", "4-246-146"),
        ("ミサ", "12356-156"),
    ],
)
def test_words_of_other_scripts_in_braille(print_: str, dots: str) -> None:
    """Letters after liblouis 3.24: ru-litbrl.ctb, he-IL.utb, ar-ar-g1-core.uti, ja-kantenji.utb. The capital
    letter is told as everywhere in a text of ours, by dot 6."""
    cells = ["".join(_cell(cell) for cell in word.split("-")) for word in dots.split(" ")]
    assert in_braille(print_) == " ".join(cells)


def _cell(dots: str) -> str:
    return chr(0x2800 + sum(1 << int(dot) - 1 for dot in dots))


def test_a_sign_of_no_table_is_a_full_cell_and_a_letter_that_is_one_is_not_told() -> None:
    assert in_braille("讃") == UNKNOWN and without_sign(["讃 한 讃"]) == ("讃", "한")
    assert in_braille("perché", "it").endswith(UNKNOWN) and without_sign(["perché め"], "it") == ()


@pytest.mark.parametrize("language", languages())
def test_no_straight_quotation_mark_is_printed(setting: Setting, language: str) -> None:
    """On the pages; the title of the file itself stays as it was typed."""
    title = "The 'first' of \"Ave\", l'altro at Saint Aldwin's"
    words = Book(title, authors=("D'Aldwin, Anna",), imprint=("Aldwin's press",), lang=language)
    for made in (
        pdf(titled(setting, title), imprint=Imprint(language, ("D'Aldwin, Anna",))),
        book([titled(setting, title)], words),
    ):
        with pymupdf.open(stream=made) as doc:
            text = " ".join(page.get_text() for page in doc)
            assert doc.metadata["title"] == title
        assert not set(text) & set("'\"")
        assert "The ‘first’ of “Ave”, l’altro at Saint Aldwin’s" in " ".join(text.split())
