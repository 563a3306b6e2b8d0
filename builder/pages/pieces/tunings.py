"""The tunings: a page for each, its notes, its fifths and thirds against pure ones, its triads to hear."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from builder.language.texts import Texts, opened, texts
from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version, notated, spelled
from builder.music.temperament import TUNINGS
from builder.pages.lesson import LessonPage, slot
from builder.pages.pieces.piece import Asked, Piece, heard
from builder.sound import describe

TRIADS = ("Eb4", "Bb4", "F4", "C4", "G4", "D4", "A4", "E4", "B4", "F#4", "C#4", "G#4")
"""Roots along the line of fifths, from the flattest to the sharpest of the twelve usual keys."""


def tunings(asked: Asked) -> Piece:
    """A list of the tunings, and a page for each."""
    pages = [_page(name, asked) for name in TUNINGS]
    lines = [
        f"- [{page.title}]({asked.link(page.uri)}): {_about(name, asked)}"
        for name, page in zip(TUNINGS, pages, strict=True)
    ]
    return Piece("\n".join(lines) + "\n", {}, tuple(pages))


def _page(name: str, asked: Asked) -> LessonPage:
    w = asked.words
    told = describe(name, asked.defaults.pitch)
    title = opened(w.as_tuning(name))
    heads = [w(f"pages.{key}") for key in ("tuningNote", "tuningNotes", "tuningHertz")]
    rows = [(w.written(n["letter"]), f"{n['cents']:.2f}", f"{n['hertz']:.2f}") for n in told["notes"]]
    table = "\n".join(f"| {' | '.join(row)} |" for row in (heads, ["---:"] * 3, *rows))
    markdown = (
        f"# {title}\n\n{_about(name, asked)}\n\n{slot('chart')}\n\n"
        f"## {w('pages.tuningHear')}\n\n{w('pages.tuningHearLead')}\n\n{slot('triads')}\n\n"
        f"## {w('pages.tuningTable')}\n\n{table}\n"
    )
    slots = {
        "chart": _chart(told["fifths"], w("pages.tuningFifths"), "701.96", w)
        + _chart(told["major_thirds"], w("pages.tuningThirds"), "386.31", w),
        "triads": heard({Version.PLAIN: _triads(title)}, title, asked, tuning=name),
    }
    return LessonPage(asked.sub(name), title, markdown, slots)


def _about(name: str, asked: Asked) -> str:
    return texts("tunings", asked.words.language)(f"{name}.about")


def _triads(title: str) -> Score:
    """A major triad on each usual key, a bar each, from the flattest to the sharpest."""
    length = Fraction(4)
    bars = tuple(Bar(n + 1, n * length, length) for n in range(len(TRIADS)))
    voices: dict[str, list[Note]] = {"cantus": [], "altus": [], "tenor": []}
    for n, name in enumerate(TRIADS):
        root = Pitch.parse(name)
        for voice, steps, semitones in (("cantus", 4, 7), ("altus", 2, 4), ("tenor", -7, -12)):
            pitch = spelled(root.diatonic + steps, root.midi + semitones)
            voices[voice].append(Note(n * length, length, pitch))
    parts = tuple(Part(voice, tuple(notes)) for voice, notes in voices.items())
    return notated(Score(title, Version.PLAIN, Metre.parse("C"), Signature(), bars, parts))


def _chart(intervals: list[dict[str, Any]], title: str, pure: str, w: Texts) -> str:
    """Bars that rise above or fall below the line of the pure interval, with the numbers beside them; below,
    the upper note over the lower one."""
    width, height, middle, scale = 44, 190, 85, 1.3
    drawn = []
    for n, interval in enumerate(intervals):
        off = float(interval["off"])
        size = max(1.0, min(60.0, abs(off) * scale))
        top = middle - size if off > 0 else middle
        x = n * width + 12
        wolf = " verset-wolf" if interval["wolf"] else ""
        number = top - 4 if off > 0 else top + size + 16
        notes = [w.written(interval[which]) for which in ("high", "low")]
        names = "".join(
            f'<text x="{x + 10}" y="{y}">{note}</text>'
            for note, y in zip(notes, (height - 22, height - 4), strict=True)
        )
        drawn.append(
            f'<rect class="verset-off{wolf}" x="{x}" y="{top:.1f}" width="{width - 24}" height="{size:.1f}"/>'
            f'{names}<text x="{x + 10}" y="{number:.1f}">{off:+.0f}</text>'
        )
    total = len(intervals) * width
    told = ", ".join(
        f"{w.written(i['low'])}–{w.written(i['high'])} {float(i['off']):+.1f}" for i in intervals
    )
    head = w("pages.tuningPure", title=title, cents=pure)
    return (
        f'<figure class="verset-chart"><figcaption>{head}</figcaption>'
        f'<svg role="img" aria-label="{title}: {told}" viewBox="0 0 {total} {height}">'
        f'<line x1="0" x2="{total}" y1="{middle}" y2="{middle}"/>{"".join(drawn)}</svg></figure>'
    )
