"""What a list of versets shows of each: its first system, its sound, and how far the reader has come."""

from __future__ import annotations

import re
from collections.abc import Mapping
from html import escape

from builder.engraving import given_mei, page_svg
from builder.engraving.engrave import svg
from builder.language.texts import Texts, page_texts
from builder.music import Version
from builder.pages.exercise import exercise_key
from builder.pages.lesson import ROOT, Lesson
from builder.setting.setting import Setting

WIDTH, SCALE = 690.0, 38.0
"""Pixels and percent of a first system."""
_NAMES = re.compile(r' (?:data-id|data-n|class)="[^"]*"(?=[^<]*>)')
"""What music that is only looked at goes without: names of notes and bars."""


def shelved(setting: Setting, words: Texts) -> Mapping[str, str]:
    """What a list needs of a verset: `line`, its first system as a picture, and `work`, the names of the
    reader's work on its steps, with spaces between."""
    verset = setting.verset
    label = words("pages.firstSystem", title=verset.title)
    first = svg(given_mei(verset, setting.scores[Version.GIVEN]), width=WIDTH, scale=SCALE, label=label)[0]
    steps = [s for s in setting.analysis.steps if len(s.voices) > 1]
    work = " ".join(exercise_key(verset, s.start, s.end) for s in steps)
    return {"line": _NAMES.sub("", first), "work": work}


def place(lesson: Lesson) -> str:
    """The name of the slot in which a list shows a verset."""
    return f"shelf-{lesson.uri}"


def shelf(lessons: Mapping[str, Lesson], language: str) -> dict[str, str]:
    """HTML for each verset of a list, by its slot; the signs of all music stand in the first.

    >>> shelf({}, "en")
    {}
    """
    shown = {uri: each for uri, each in lessons.items() if each.summary.get("line")}
    defs, pictures = page_svg(each.summary["line"] for each in shown.values())
    found = {place(each): _shown(each, drawn, language) for each, drawn in zip(shown.values(), pictures)}
    for first in list(found)[:1]:
        found[first] = defs + found[first]
    return found


def _shown(lesson: Lesson, drawn: str, language: str) -> str:
    w = page_texts(language)
    sounds = [d.uri for d in lesson.downloads if d.uri.endswith(".mp3")]
    label = escape(w("pages.hear", title=lesson.title))
    sound = "".join(
        f'<audio controls preload="none" aria-label="{label}" src="{ROOT}{escape(uri)}"></audio>'
        for uri in sounds[:1]
    )
    told, work = (
        escape(w("pages.stepsBegun", n="{n}", steps="{steps}")),
        escape(lesson.summary.get("work", "")),
    )
    return (
        f'<div class="verset-shelf"><div class="verset-first">{drawn}</div>'
        f'<div class="verset-row">{sound}<span data-work="{work}" data-told="{told}"></span></div></div>'
    )
