"""New versets in every tone: the line to be set at sight, our setting when it is asked for, its source."""

from __future__ import annotations

from builder.engraving import flow, given_mei, keyboard_mei
from builder.invention import CHARACTERS, Invention, Order, invent
from builder.language.markup import md
from builder.language.texts import texts
from builder.music import Version, notated
from builder.pages.lesson import LessonPage, slot
from builder.pages.pieces.piece import Asked, Piece, drawn_and_played
from builder.pages.practice import WIDTHS
from builder.setting.setting import with_defaults
from builder.sound import instrument, play_data
from builder.sound.tempo import tempo_map

ENTRIES = (
    ("cantus", "tenor"),
    ("cantus", "altus", "bassus"),
    ("cantus", "altus", "tenor", "bassus"),
    ("altus", "tenor"),
    ("cantus", "tenor", "bassus"),
)
"""Voices in the order of their entries, by turns."""


def fresh(asked: Asked) -> Piece:
    """A page for each tone with a new verset, and a list of them. Another number, other versets."""
    say = texts("invention", asked.language)
    pages, lines = [], [say("page.lead"), ""]
    for tone in range(1, 9):
        made = invent(order(tone, asked.number), language=asked.language)
        page = _page(made, tone, asked)
        pages.append(page)
        voices = asked.words.listing([asked.words.voice(v) for v in made.verset.voices])
        told = say("page.line", voices=voices, bars=len(made.verset.bars))
        lines.append(f"- [{page.title}]({asked.link(page.uri)}): {told}")
    return Piece("\n".join(lines) + "\n", {}, tuple(pages))


def order(tone: int, number: int) -> Order:
    """What is asked for in a tone: voices, character and length take turns.

    >>> order(1, 0).voices, order(2, 0).character, order(2, 1).character
    (('cantus', 'altus', 'bassus'), 'durezze', 'tripla')
    """
    turn = tone + number
    voices = ENTRIES[turn % len(ENTRIES)]
    return Order(tone, voices, 12 + turn % 5, CHARACTERS[turn % len(CHARACTERS)], seed=number)


def _page(made: Invention, tone: int, asked: Asked) -> LessonPage:
    say = texts("invention", asked.language)
    title = made.verset.title
    markdown = (
        f"# {md(title)}\n\n{say('page.ask')}\n\n{slot('music')}\n\n## {say('page.source')}\n\n"
        f"{say('page.keep')}\n\n````markdown\n{made.text}````\n"
    )
    return LessonPage(asked.sub(f"tone-{tone}"), title, markdown, {"music": _music(made, asked)})


def _music(made: Invention, asked: Asked) -> str:
    """The line and the plain setting, to see and to hear; the setting waits until it is asked for."""
    verset = with_defaults(made.verset, asked.defaults)
    given = notated(verset.score())
    plain = notated(made.realisation.score)
    engraved = {
        Version.GIVEN: flow(given_mei(verset, given), label=verset.title, widths=WIDTHS),
        Version.PLAIN: flow(keyboard_mei(plain, figured=True), label=verset.title, widths=WIDTHS),
    }
    play = play_data(
        verset,
        {Version.GIVEN: given, Version.PLAIN: plain},
        tempo_map(verset, made.analysis, asked.defaults.breathing),
        registration=instrument(verset, made.analysis).registration,
        articulation=asked.defaults.articulation,
        recorded=asked.defaults.pipes,
    )
    return drawn_and_played(engraved, play, verset.title, asked, first=Version.GIVEN, later=(Version.PLAIN,))
