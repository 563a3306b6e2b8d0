"""The plan of a service in which choir and organ take verses in turn (*alternatim*): tone, length, and
the note that the organ hands to the choir.

Common practice, no source: the choir takes its first note from the last sound of the organ, so that
note should be in it (unison, major third or fifth above the close); the organ enters on the note on
which the choir ends, or a fourth or fifth from it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

from builder.edition.pdf.data import minutes as length
from builder.edition.pdf.data import spoken_time
from builder.edition.service.order import STILL, Order, Played, Sung
from builder.edition.service.suggest import Playable, suggest
from builder.language.markup import Marked, address, md
from builder.language.texts import EditionTexts, edition_texts
from builder.music import Pitch
from builder.setting.transpose import spoken_interval, transpose
from builder.source.errors import Faults, listing, nearest, shorten

# Semitones above the close -> what the choir hears it as.
_IN_THE_SOUND = {0: "close", 4: "third", 7: "fifth"}
_ENTRY = (0, 5, 7)


@dataclass(frozen=True, slots=True)
class Row:
    """A verse in the plan. `kind` is `choir` or `organ`; `begins` and `closes` are letters (empty when
    not known); `takes` says what the choir takes its note from; `move` how far a verset is moved."""

    kind: str
    text: str
    verset: str
    tone: int | None
    minutes: Fraction
    begins: str
    closes: str
    takes: str = ""
    move: str = ""
    part: str = ""


@dataclass(frozen=True, slots=True)
class Service:
    """A service as planned, with what a musician should look at before the day, in the language `lang`."""

    name: str
    title: str
    rows: tuple[Row, ...]
    warnings: tuple[str, ...]
    intro: str = ""
    lang: str = "en"

    @property
    def minutes(self) -> Fraction:
        return sum((r.minutes for r in self.rows), Fraction(0))


def plan(order: Order, known: Mapping[str, Playable], *, language: str = "en") -> Service:
    """Lay out a service: who has each verse, how long it lasts, and what the choir takes its note from.
    `known` are the versets of the course by name; `SourceErrors` names every one that is not there, and
    every move that cannot be made.

    >>> from types import SimpleNamespace
    >>> from builder.source import EXAMPLE, parse
    >>> order = Order("evening", "evening.md", "Evening", (Played("first"), Sung("Second verse", begins="A")))
    >>> service = plan(order, {"first": SimpleNamespace(verset=parse(EXAMPLE), tone=1)})
    >>> [(row.kind, row.closes, row.takes) for row in service.rows]
    [('organ', 'D', 'A, a fifth above the close'), ('choir', '', '')]
    """
    w = edition_texts(language)
    faults = Faults(order.path)
    items, told = suggest(order.wanted, known, w, faults) if order.wanted else (order.items, ())
    made = [_row(item, known, faults) for item in items]
    faults.stop()
    rows = [row for row in made if row is not None]
    rows = [_taking(row, after, w) for row, after in zip(rows, [*rows[1:], None])]
    warnings = (*told, *_warnings(rows, w))
    return Service(order.name, order.title, tuple(rows), warnings, order.intro, language)


def _row(item: Sung | Played, known: Mapping[str, Playable], faults: Faults) -> Row | None:
    if isinstance(item, Sung):
        long = Fraction(item.minutes).limit_denominator(600)
        return Row("choir", item.text, "", item.tone, long, item.begins, item.ends, part=item.part)
    if item.verset not in known:
        there = listing(sorted(known)) if known else "a verset of the course, and there is none"
        hint = nearest(item.verset, known)
        faults.add(item.span.line, item.span.column, f"the verset {shorten(item.verset)}", there + hint)
        return None
    asked = known[item.verset]
    try:
        verset = transpose(asked.verset, item.interval)
    except ValueError as error:
        faults.add(item.span.line, item.span.column, str(error), "a nearer pitch")
        return None
    sounding = [g.note.pitch for g in verset.given if g.note.pitch is not None]
    return Row(
        "organ",
        item.instead or verset.title,
        verset.name,
        asked.tone,
        length(verset),
        sounding[0].letter,
        sounding[-1].letter,
        move=spoken_interval(item.interval) if item.interval != STILL else "",
        part=item.part,
    )


def _above(low: str, high: str) -> int:
    """Semitones from one letter up to another within the octave."""
    return (Pitch.parse(f"{high}4").midi - Pitch.parse(f"{low}4").midi) % 12


def _taking(row: Row, after: Row | None, w: EditionTexts) -> Row:
    """An organ row with what the choir takes its note from."""
    if (
        row.kind != "organ"
        or after is None
        or after.kind != "choir"
        or not after.begins
        or row.part != after.part
    ):
        return row
    heard = _IN_THE_SOUND.get(_above(row.closes, after.begins), "nowhere")
    return replace(row, takes=w(f"service.from-{heard}", note=after.begins))


def _warnings(rows: Sequence[Row], w: EditionTexts) -> Iterator[str]:
    """What does not meet, each thing once with all its places; between parts of a service nothing need."""
    met: dict[str, list[int]] = {}
    for n, (row, after) in enumerate(pairwise(rows), 1):
        if row.part == after.part:
            for what in _between(row, after, w):
                met.setdefault(what, []).append(n)
    for what, places in met.items():
        if len(places) == 1:
            yield w("service.verses", one=places[0], two=places[0] + 1, what=what)
        else:
            yield w("service.verses-more", pairs=", ".join(f"{n}–{n + 1}" for n in places), what=what)


def _between(row: Row, after: Row, w: EditionTexts) -> Iterator[str]:
    """What does not meet between a verse and the next."""
    if row.kind == after.kind:
        yield w(f"service.turns-{row.kind}")
    elif row.tone and after.tone and row.tone != after.tone:
        yield w(f"service.tones-{row.kind}", one=row.tone, two=after.tone)
    if not row.closes or not after.begins or row.kind == after.kind:
        return
    apart = _above(row.closes, after.begins)
    close, start = w.written(row.closes), w.written(after.begins)
    if row.kind == "organ" and apart not in _IN_THE_SOUND:
        yield w("service.no-note", close=close, start=start)
    if row.kind == "choir" and apart not in _ENTRY:
        yield w("service.no-entry", close=close, start=start)


def service_data(service: Service) -> dict[str, Any]:
    """The plan as JSON takes it."""
    return {
        "name": service.name,
        "title": service.title,
        "minutes": round(float(service.minutes), 2),
        "rows": [
            {
                "kind": r.kind,
                "text": r.text,
                "verset": r.verset,
                "tone": r.tone,
                "minutes": round(float(r.minutes), 2),
                "begins": r.begins,
                "closes": r.closes,
                "takes": r.takes,
                "move": r.move,
            }
            for r in service.rows
        ],
        "warnings": list(service.warnings),
    }


_HEADS = ("who", "verse", "tone", "length", "begins", "closes", "takes")


def service_heads(service: Service) -> list[str]:
    """The heads of the columns of `service_rows`."""
    w = edition_texts(service.lang)
    return ["", *(w(f"service.{head}") for head in _HEADS)]


def service_rows(service: Service) -> list[list[str]]:
    """The plan as a table, for a page or a sheet."""
    w = edition_texts(service.lang)
    return [
        [
            str(n),
            w(f"service.{row.kind}"),
            row.text + (f" ({w.move(row.move)})" if row.move else ""),
            str(row.tone or ""),
            spoken_time(row.minutes) if row.minutes else "",
            w.written(row.begins),
            w.written(row.closes),
            row.takes,
        ]
        for n, row in enumerate(service.rows, 1)
    ]


def service_page(service: Service, links: Mapping[str, str] | None = None) -> str:
    """The plan as Markdown for a page: a table, the time of the whole, warnings. `links` gives the address
    of a verset's page by its name.

    >>> played = Row("organ", "First verse", "first", 1, Fraction(1, 2), "D", "D")
    >>> shown = service_page(Service("evening", "Evening", (played,), ()), {"first": "versets/first/"})
    >>> print(shown.splitlines()[2])
    | 1 | Organ | [First verse](versets/first/) | 1 | 30 s | D | D |  |
    """
    there, w, heads = links or {}, edition_texts(service.lang), service_heads(service)
    lines = [service.intro, ""] if service.intro else []
    # On a page the column of numbers has a head too, for readers who hear the table.
    lines += [f"| {' | '.join(head or '№' for head in heads)} |", f"|{'---|' * len(heads)}"]
    for row, cells in zip(service.rows, service_rows(service)):
        shown = [md(c) for c in cells]
        if row.verset in there:
            shown[2] = Marked(f"[{shown[2]}]({address(there[row.verset])})")
        lines.append(f"| {' | '.join(shown)} |")
    lines += ["", w("service.together", time=spoken_time(service.minutes)), ""]
    if service.warnings:
        lines += [f"## {w('service.before')}", "", *(f"- {md(told)}" for told in service.warnings), ""]
    return "\n".join(lines)
