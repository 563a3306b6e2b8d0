"""The pictures of a PDF name their notes for who cannot see them; a blank does not tell its answer."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pymupdf
import pytest
from course import course_setting

from builder.edition.apparatus import pitch_name
from builder.edition.pdf.homework import homework
from builder.edition.pdf.sheet import pdf, single
from builder.edition.pdf.spoken import notes_told
from builder.edition.pdf.student import student_sheet
from builder.language.texts import edition_texts, languages
from builder.source import Blank


def alternatives(made: bytes) -> list[str]:
    """Every alternative text of a document (ISO 32000-1, 14.9.3), in order of its objects."""
    found = []
    with pymupdf.open(stream=made) as doc:
        for n in range(1, doc.xref_length()):
            kind, value = doc.xref_get_key(n, "Alt")
            if kind == "string":
                found.append(value)
    return found


@pytest.mark.parametrize("version", ["given", "plain", "diminished"])
def test_every_note_is_named_in_its_order(version: str) -> None:
    score = course_setting("eighth").scores[version]
    told = " ".join(a for a in alternatives(single(course_setting("eighth"), version)) if ": bar" in a)
    for part in score.parts:
        expected = [pitch_name(n, edition_texts()) for n in part.notes if n.pitch]
        spoken = " ".join(re.findall(rf"{part.voice.capitalize()}: (.*?)\.(?: |$)", told))
        assert re.findall(r"\b[A-G][♯♭♮𝄪𝄫\[\]]*\d\b", spoken) == expected


def test_all_systems_of_all_sheets_have_it() -> None:
    own = course_setting("sixth")
    for made in (pdf(own), student_sheet(own)):
        assert sum(": bar 1, " in text for text in alternatives(made)) >= 1


@pytest.mark.parametrize("language", languages())
def test_it_is_told_in_the_language_of_the_edition(language: str) -> None:
    w = edition_texts(language)
    told = notes_told(course_setting("sixth").scores["plain"], 1, 2, w)
    assert told.startswith(f"{w.voice('cantus').capitalize()}: {w('alt.bar', bar=1)}, ")


def test_a_blank_of_homework_does_not_tell_its_answer() -> None:
    own = course_setting("first")
    task, answers = homework(own, [Blank("cantus", 5, 8)])
    cantus = [n for n in own.scores["plain"].part("cantus").notes if n.pitch]
    bars = [b for b in own.scores["plain"].bars if 5 <= b.number <= 8]
    hidden = [n for n in cantus if bars[0].onset <= n.onset < bars[-1].end]
    assert hidden
    named = ["".join(re.findall(r"Cantus: (.*?)\.", text)) for text in alternatives(task)]
    told = ["".join(re.findall(r"Cantus: (.*?)\.", text)) for text in alternatives(answers)]
    assert not any(f"bar {n}," in text for text in named for n in range(5, 9))
    assert any("bar 5," in text for text in told)


def test_another_validator_finds_nothing(tmp_path: Path) -> None:
    """The part of ISO 14289-1 that *pdfua* (on PyPI) can check, where it is installed, or the command that
    VERSET_PDF_CHECK names; it takes a file and ends with 0 where it finds nothing."""
    command = os.environ.get("VERSET_PDF_CHECK", "pdfua check")
    if shutil.which(command.split()[0]) is None:
        pytest.skip("no validator of PDF is installed")
    for name, made in (("a", pdf(course_setting("eighth"))), ("b", student_sheet(course_setting("first")))):
        path = tmp_path / f"{name}.pdf"
        path.write_bytes(made)
        done = subprocess.run([*command.split(), str(path)], capture_output=True, text=True)
        assert done.returncode == 0, done.stdout
