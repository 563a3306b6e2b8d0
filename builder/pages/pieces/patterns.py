"""The table of diminutions: a page for each interval, every pattern engraved and sounding."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby

from builder.diminution import Pattern, patterns
from builder.language.markup import md
from builder.language.texts import Texts
from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version, notated
from builder.pages.lesson import LessonPage, slot
from builder.pages.pieces.piece import Asked, Piece, heard


def diminutions(asked: Asked) -> Piece:
    """A list of the intervals, and for each a page of its patterns."""
    w = asked.words
    pages, lines = [], []
    ordered = sorted((*patterns(), *asked.defaults.patterns), key=_by_interval)
    for name, group in groupby(ordered, key=lambda p: p.interval_name):
        members = sorted(group, key=lambda p: (-p.value, p.density, p.id))
        page = _page(name.replace(" ", "-"), members, asked)
        pages.append(page)
        count = w("pages.patternsCount", n=len(members))
        lines.append(f"- [{page.title}]({asked.link(page.uri)}): {count}")
    return Piece("\n".join(lines) + "\n", {}, tuple(pages))


def _by_interval(pattern: Pattern) -> tuple[bool, int, int]:
    """What suits any interval first, then from the smallest interval to the largest, up before down."""
    steps = pattern.interval or 0
    return pattern.interval is not None, abs(steps), -steps


def _page(name: str, members: Sequence[Pattern], asked: Asked) -> LessonPage:
    w = asked.words
    title = w(f"pages.interval.{name}")
    scores = {
        Version.PLAIN: _in_a_row(title, members, True),
        Version.DIMINISHED: _in_a_row(title, members, False),
    }
    markdown = f"# {title}\n\n{w('pages.patternsLead')}\n\n{slot('patterns')}\n\n{_table(members, w)}\n"
    return LessonPage(asked.sub(name), title, markdown, {"patterns": heard(scores, title, asked)})


def _table(members: Sequence[Pattern], w: Texts) -> str:
    columns = ("patternFigure", "pattern", "patternCharacter", "patternPlace", "patternSource")
    rows = [
        f"| {w('pages.patternBar')} | " + " | ".join(w(f"pages.{c}") for c in columns) + " |",
        "|---" * (len(columns) + 1) + "|",
    ]
    for n, p in enumerate(members, 1):
        character = _told("patternCharacters", p.character, w)
        places = ", ".join(_told("patternPlaces", place, w) for place in p.where)
        facts = (w.as_figure(p.figure), p.id, character, places, w.cited(p.source))
        rows.append(f"| {n} | " + " | ".join(md(f) for f in facts) + " |")
    return "\n".join(rows)


def _told(kind: str, word: str, w: Texts) -> str:
    """A word of a table in the language; one that a course has made up for its own patterns as it stands."""
    return w.texts.get(f"pages.{kind}.{word}", word)


def _in_a_row(title: str, members: Sequence[Pattern], plain: bool) -> Score:
    """Each pattern, or the plain note it breaks, in a bar of its own with the note it goes to."""
    now, bars, notes = Fraction(0), [], []
    for n, pattern in enumerate(members, 1):
        start = Pitch.parse("C5" if (pattern.interval or 0) <= 0 else "F4")
        *broken, target = pattern.example(start)
        held = max(pattern.value, Fraction(1))
        shown = [Note(Fraction(0), pattern.value, start)] if plain else broken
        notes += [Note(now + note.onset, note.duration, note.pitch) for note in shown]
        notes.append(Note(now + pattern.value, held, target.pitch))
        bars.append(Bar(n, now, pattern.value + held))
        now += pattern.value + held
    version = Version.PLAIN if plain else Version.DIMINISHED
    part = Part("cantus", tuple(notes))
    return notated(Score(title, version, Metre.parse("C"), Signature(), tuple(bars), (part,)))
