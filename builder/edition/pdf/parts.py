"""Part books: a voice of a version alone, with its name and clef, for who plays or sings one part."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from builder.edition.imprint import UNSIGNED, Imprint
from builder.edition.pdf.chosen import MODERN, as_printed
from builder.edition.pdf.filling import fullest
from builder.edition.pdf.paper import chosen_paper, laid_out
from builder.edition.pdf.sheet import Pictures, Ready, heights_once, sheet, told_verset
from builder.edition.pdf.systems import systems
from builder.edition.pdf.typeset import typeset
from builder.engraving.barlines import barred
from builder.engraving.openscore import clefs_of, open_mei
from builder.language.texts import edition_texts
from builder.music import Version
from builder.setting.setting import Setting


def part_book(
    setting: Setting,
    voice: str,
    *,
    version: Version = Version.PLAIN,
    paper_name: str = "",
    imprint: Imprint = UNSIGNED,
) -> bytes:
    """Typeset one voice of a version on a sheet of its own; the lowest has the figures. `ValueError` for
    a voice that the version has not."""
    printing = setting.verset.provenance.printing
    shown, w = as_printed(setting, printing), edition_texts(imprint.lang)
    score = shown.scores[version]
    part = next((p for p in score.parts if p.voice == voice), None)
    if part is None:
        raise ValueError(f"no voice {voice!r}; there are {', '.join(p.voice for p in score.parts)}")
    clefs = MODERN if printing.modern else clefs_of(shown.verset)
    alone = replace(score, parts=(part,))
    mei = barred(open_mei(alone, clefs, figured=part is score.parts[-1]), printing.barring)
    page, measure = chosen_paper(paper_name, printing), heights_once()

    def made(size: float) -> Ready:
        own, pictures = replace(page, space=page.space * size), Pictures()
        told: dict[str, Any] = told_verset(setting, own, pictures, (), w)
        told["facts"] = [w.voice(voice).capitalize(), w.version(version), *told["facts"][2:]]
        drawn = systems(mei, width=own.column, space=own.space)
        pictures.add("1-part", drawn)
        alt = f"{w('alt.plain')}, {w.voice(voice)}"
        rows = laid_out(drawn, alone, "1-part", w)
        told["versions"] = [{"heading": "", "note": "", "alt": alt, "systems": rows}]
        return sheet(setting, own, imprint, told, pictures, measure)

    best = fullest(made, lambda ready: ready.shares)
    return typeset("sheet.typ", best.data, best.pictures.files)
