"""The file of a drill, and what all drills of a course share; the piece of a page that opens them."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from html import escape
from typing import Any

from builder.language.texts import Texts
from builder.music import read_tuning
from builder.pages.assets import HOME, own_uris
from builder.pages.drills.asked import Wish
from builder.pages.drills.course import SIGNATURES, CourseMusic
from builder.pages.drills.entries import entries
from builder.pages.drills.names import clefs, hexachord_table, syllables
from builder.pages.drills.shown import Task
from builder.pages.drills.snippet import shared
from builder.pages.drills.sonorities import bass, cadences, figures, lines
from builder.pages.drills.tunes import answers, diminution, pattern_table
from builder.pages.lesson import ROOT
from builder.sound import Registration, keyboard_frequencies, rank_data, room_data, voicing_data

MAKERS: Mapping[str, Callable[[CourseMusic, int, Texts], Iterator[Task]]] = {
    "clefs": clefs,
    "syllables": syllables,
    "figures": figures,
    "bass": bass,
    "cadences": cadences,
    "answers": answers,
    "diminution": diminution,
    "entries": entries,
    "lines": lines,
}
"""What makes the tasks of each drill, up to a step."""

_LEVEL = 0.35  # of the loudness that a page begins with


def drill_data(name: str, music: CourseMusic, steps: int, words: Texts) -> str:
    """The tasks of a drill in JSON."""
    return _json(list(MAKERS[name](music, steps, words)))


def common_data(music: CourseMusic, words: Texts) -> str:
    """What all drills of a course need, in JSON: texts, the keys and pipes of the organ, the rules on single
    notes, the hexachords."""
    tuning = read_tuning(dict(music.defaults.tunings).get(music.defaults.tuning, music.defaults.tuning))
    keys = keyboard_frequencies(tuning, music.defaults.pitch)
    organ = Registration.parse(music.defaults.registration or "principale")
    return _json(
        {
            "words": {
                **words.section("drills"),
                "voiceNames": words.section("voices"),
                "names": words.section("names"),
                "try": words.section("try"),
                "midi": words.section("midi"),
                "keyboardLabel": words("reader.keyboardLabel"),
            },
            "play": {
                "keys": keys,
                "ranks": rank_data(organ, music.defaults.pitch, keys[0], keys[-1], music.defaults.pipes),
                "room": room_data(),
                "voicing": voicing_data(organ, keys),
                "level": _LEVEL,
            },
            "exercise": shared(SIGNATURES, music.defaults),
            "hexachords": hexachord_table(),
            "patterns": pattern_table(music, words),
        }
    )


def _json(data: Any) -> str:
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"))


def drill_uri(name: str) -> str:
    """Where the file of a drill lies on a site; `common` has what all share."""
    return f"{HOME}/drill-{name}.js"


def drill_file(name: str, data: str) -> str:
    """The file of a drill: a page from a disk may not fetch data, but run a script that has them.

    >>> drill_file("clefs", "[]")
    '(window.versetDrills??={})["clefs"]=[];\\n'
    """
    return f"(window.versetDrills??={{}})[{json.dumps(name)}]={data};\n"


def opening(wish: Wish, words: Texts) -> str:
    """The piece of a page in which drills are opened. Its scripts are loaded when a reader begins."""
    scripts = [*own_uris(words.language), f"{HOME}/drills.js", drill_uri("common")]
    data = {
        "steps": dict(wish),
        "scripts": [f"{ROOT}{uri}" for uri in scripts],
        "files": {name: f"{ROOT}{drill_uri(name)}" for name in wish},
        "names": {name: words(f"drills.name.{name}") for name in wish},
        "words": {key: words(f"drills.{key}") for key in ("title", "lead", "begin", "loading", "failed")},
    }
    text = _json(data).replace("<", "\\u003c")
    title = escape(words("drills.title"))
    items = "".join(
        f"<li>{escape(words(f'drills.name.{n}'))}: {escape(words(f'drills.about.{n}'))}</li>" for n in wish
    )
    return (
        f'<section class="verset-drills" lang="{words.language}" aria-label="{title}">'
        f'<ul class="verset-drill-list">{items}</ul>'
        f"<noscript><p>{escape(words('drills.noScript'))}</p></noscript>"
        f'<script type="application/json" class="verset-drill-wish">{text}</script></section>'
    )
