"""What a list of versets needs of each beyond its facts."""

from __future__ import annotations

from collections.abc import Mapping

from builder.engraving import given_mei
from builder.engraving.engrave import svg
from builder.engraving.page import unnamed
from builder.language.texts import Texts
from builder.music import Version
from builder.pages.exercise import exercise_key
from builder.setting.setting import Setting

WIDTH, SCALE = 690.0, 38.0
"""Pixels and percent of a first system."""


def shelved(setting: Setting, words: Texts) -> Mapping[str, str]:
    """What a list needs of a verset: `line`, its first system as a picture, and `work`, the names of the
    reader's work on its steps, with spaces between."""
    verset = setting.verset
    label = words("pages.firstSystem", title=verset.title)
    first = svg(given_mei(verset, setting.scores[Version.GIVEN]), width=WIDTH, scale=SCALE, label=label)[0]
    steps = [s for s in setting.analysis.steps if len(s.voices) > 1]
    work = " ".join(exercise_key(verset, s.start, s.end) for s in steps)
    return {"line": unnamed(first), "work": work}
