"""Suggests who plays what in a Magnificat or a Mass in which choir and organ take turns (*alternatim*): a
verset of the course for each verse of the organ, moved so that the choir keeps its reciting note.

Verses of the Magnificat: Luke 1, 46–55, and the doxology. Verses of the organ in the Mass: five in the
Kyrie, nine in the Gloria, the first and third Agnus, as in G. Frescobaldi, *Fiori musicali* (1635: Kyrie) and
F. Couperin, *Pieces d'orgue* (1690: all), from memory. Reciting notes: `analysis.tone_table`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Protocol

from builder.analysis import analyse
from builder.analysis.tone_table import TONES
from builder.edition.pdf.data import minutes as length
from builder.edition.service.order import STILL, Played, Sung, Wanted
from builder.language.texts import EditionTexts
from builder.music import Interval, Pitch
from builder.setting.transpose import SUITABLE, check_pitch, read_interval, spoken_interval, transpose
from builder.source import Verset
from builder.source.errors import Faults
from builder.source.write import yaml_text

MAGNIFICAT = (
    ("Magnificat", "Magnificat anima mea Dominum|Et exsultavit spiritus meus|Quia respexit humilitatem|"
     "Quia fecit mihi magna|Et misericordia ejus|Fecit potentiam|Deposuit potentes|Esurientes implevit bonis|"
     "Suscepit Israel|Sicut locutus est|Gloria Patri|Sicut erat"),
)  # fmt: skip
MASS = (
    ("Kyrie", "Kyrie eleison I|Kyrie eleison II|Kyrie eleison III|Christe eleison I|Christe eleison II|"
     "Christe eleison III|Kyrie eleison IV|Kyrie eleison V|Kyrie eleison VI"),
    ("Gloria", "Et in terra pax|Laudamus te|Benedicimus te|Adoramus te|Glorificamus te|Gratias agimus tibi|"
     "Domine Deus, Rex caelestis|Domine Fili unigenite|Domine Deus, Agnus Dei|Qui tollis, miserere|"
     "Qui tollis, suscipe|Qui sedes|Quoniam tu solus sanctus|Tu solus Dominus|Tu solus Altissimus|"
     "Cum Sancto Spiritu|Amen"),
    ("Sanctus", "Sanctus I|Sanctus II|Sanctus III, Dominus Deus Sabaoth|Pleni sunt caeli|Benedictus|Hosanna"),
    ("Agnus", "Agnus Dei I|Agnus Dei II|Agnus Dei III"),
)  # fmt: skip
SUNG = {"magnificat": MAGNIFICAT, "mass": MASS}
"""What may be suggested: its parts, and the verses of each, sung and played in turn."""
FARTHEST = 5
"""Semitones by which a verset is moved at most: a fourth either way."""
_USUAL = (STILL, *(read_interval(f"a {n} {way}") for n in SUITABLE for way in ("lower", "higher")))
BEAM = 40
"""How many beginnings of an order are gone on with."""
_NOTES = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


class Playable(Protocol):
    """What a plan must know of a verset: its notes, at the pitch at which the course has it, and its tone."""

    @property
    def verset(self) -> Verset: ...

    @property
    def tone(self) -> int: ...


@dataclass(frozen=True, slots=True)
class Offer:
    """A verset that could be played: how far it is moved, what is hard there, voices, minutes."""

    name: str
    interval: Interval
    hard: tuple[str, ...]
    voices: int
    minutes: Fraction


def suggest(
    wanted: Wanted, known: Mapping[str, Playable], w: EditionTexts, faults: Faults
) -> tuple[tuple[Sung | Played, ...], tuple[str, ...]]:
    """The verses in order, and what a musician should know of the choice: versets that come again, and what
    is hard at the pitch of the choir. A tone that the course has no verset in is an error, added to `faults`.

    >>> from types import SimpleNamespace
    >>> from builder.language.texts import edition_texts
    >>> from builder.source import EXAMPLE, parse
    >>> known = {"first": SimpleNamespace(verset=parse(EXAMPLE), tone=1)}
    >>> wanted = Wanted("magnificat", {"magnificat": 1}, "G", "choir")
    >>> items, told = suggest(wanted, known, edition_texts("en"), Faults("a.md"))
    >>> items[1].verset, items[1].instead, spoken_interval(items[1].interval)
    ('first', 'Et exsultavit spiritus meus', 'a tone lower')
    >>> told[0]
    'Magnificat in tone 1: verses of the organ 6, versets of the course 1; some come again.'
    """
    by_tone: dict[int, list[tuple[str, Verset]]] = {}
    for name in sorted(known):
        if (each := known[name]).tone in wanted.tones.values() and not unfinished(each.verset):
            by_tone.setdefault(each.tone, []).append((name, each.verset))
    items, told, used = list[Sung | Played](), list[str](), Counter[str]()
    for part, text in SUNG[wanted.of]:
        tone, verses = wanted.tones[part.lower()], text.split("|")
        label = part if len(SUNG[wanted.of]) > 1 else ""
        reciting = wanted.reciting or TONES[tone - 1].forms[0].reciting
        offers = [
            o for o in (_offer(n, v, tone, reciting, w.language) for n, v in by_tone.get(tone, ())) if o
        ]
        if not offers:
            found = f"no verset in tone {tone} that suits a choir reciting on {reciting}"
            faults.add(wanted.span.line, wanted.span.column, found, "a course with such a verset")
            continue
        played = verses[(wanted.first != "organ") :: 2]
        chosen = _chosen(len(played), offers, used)
        used.update(offer.name for offer in chosen)
        rows = iter(zip(played, chosen))
        if part == "Gloria":
            items.append(Sung("Gloria in excelsis Deo", tone, minutes=wanted.minutes, part=label))
        for n, verse in enumerate(verses):
            if (n % 2 == 0) == (wanted.first == "organ"):
                instead, offer = next(rows)
                items.append(Played(offer.name, instead, offer.interval, wanted.span, label))
            else:
                items.append(Sung(verse, tone, reciting, "", wanted.minutes, part=label))
        told += _told(part, tone, chosen, len({o.name for o in offers}), w)
    return tuple(items), tuple(dict.fromkeys(told))


def unfinished(verset: Verset) -> bool:
    """Whether a verset says that it is not finished, or breaks off without a close.

    >>> from builder.source import EXAMPLE, parse
    >>> unfinished(parse(EXAMPLE)), unfinished(parse(EXAMPLE.replace("none", "none\\n  unfinished: true")))
    (False, True)
    """
    last = max((g.note.onset for g in verset.given if g.note.pitch is not None), default=None)
    return verset.settings.unfinished or all(c.onset != last for c in analyse(verset).cadences)


def _offer(name: str, verset: Verset, tone: int, reciting: str, language: str) -> Offer | None:
    """A verset at the pitch of a choir; none where no usual interval leads there."""
    interval = distance(own_reciting(verset, tone), reciting)
    if interval is None:
        return None
    try:
        there = transpose(verset, interval)
    except ValueError:
        return None
    tuning = verset.settings.tuned
    before = {(f.rule, f.onset) for f in check_pitch(verset, tuning=tuning)}
    new = [f for f in check_pitch(there, tuning=tuning) if (f.rule, f.onset) not in before]
    hard = tuple(dict.fromkeys(f.told(language)[0] for f in new if f.severity != "note"))
    return Offer(name, interval, hard, len({g.voice for g in verset.given}), length(verset))


def own_reciting(verset: Verset, tone: int) -> str:
    """The reciting note that goes with a verset of a tone where it stands, by the letter on which it closes.

    >>> from builder.source import EXAMPLE, parse
    >>> own_reciting(parse(EXAMPLE), 1)
    'A'
    """
    close = next(g.note.pitch.letter for g in reversed(verset.given) if g.note.pitch is not None)
    forms = TONES[tone - 1].forms
    for form in forms:
        if form.close == close:
            return form.reciting
    usual = Pitch.parse(f"{forms[0].close}4")
    there = Pitch.parse(f"{close}4")
    away = Interval(there.diatonic - usual.diatonic, there.midi - usual.midi)
    return Pitch.parse(f"{forms[0].reciting}4").up(away).letter


def distance(one: str, other: str) -> Interval | None:
    """The shorter way from a note to another by their letters, a fourth at most; a tie goes downwards. None
    where the way has no usual name.

    >>> distance("A", "G"), distance("A", "D"), distance("A", "D#")
    (Interval(steps=-1, semitones=-2), Interval(steps=3, semitones=5), None)
    """
    start = Pitch.parse(f"{one}4")
    ends = (Pitch.parse(f"{other}{octave}") for octave in (3, 4, 5))
    ways = [Interval(end.diatonic - start.diatonic, end.midi - start.midi) for end in ends]
    best = min(ways, key=lambda way: (abs(way.semitones), way.semitones))
    return best if best in _USUAL and abs(best.semitones) <= FARTHEST else None


def _chosen(count: int, offers: Sequence[Offer], used: Counter[str]) -> list[Offer]:
    """A verset for each verse: the longest first, unlike in voices from verse to verse, the fullest last,
    none oftener than it must, and none twice in a row where there is another."""
    longest, fullest = max(o.minutes for o in offers), max(o.voices for o in offers)

    def cost(n: int, offer: Offer, before: Sequence[Offer]) -> float:
        times = used[offer.name] + sum(o.name == offer.name for o in before)
        price = 4.0 * times + 8.0 * len(offer.hard)
        if before:
            price += 30.0 * (before[-1].name == offer.name) + 2.0 * (before[-1].voices == offer.voices)
        if n == 0:
            price += 3.0 * float(1 - offer.minutes / longest)
        return price + 3.0 * (fullest - offer.voices) * (n == count - 1)

    rows: list[tuple[float, tuple[str, ...], list[Offer]]] = [(0.0, (), [])]
    for n in range(count):
        more = [(c + cost(n, o, row), (*names, o.name), [*row, o]) for c, names, row in rows for o in offers]
        rows = sorted(more, key=lambda each: each[:2])[:BEAM]
    return rows[0][2]


def _told(part: str, tone: int, chosen: Sequence[Offer], there: int, w: EditionTexts) -> Iterator[str]:
    if there < len(chosen):
        yield w("service.few", part=part, tone=tone, count=there, verses=len(chosen))
    for offer in dict.fromkeys(chosen):
        if offer.hard:
            move = spoken_interval(offer.interval)
            where = f"{offer.name} ({w.move(move)})" if offer.interval != STILL else offer.name
            yield w("service.hard", verset=where, what=" ".join(offer.hard))


def as_text(title: str, items: Sequence[Sung | Played], wanted: Wanted) -> str:
    """A page of a course with this order, to be edited.

    >>> wanted = Wanted("magnificat", {"magnificat": 1}, "A")
    >>> print(as_text("Evening", [Played("first", "Gloria Patri")], wanted))
    ---
    title: Evening
    service:
      sung: {tone: 1, begins: A}
      order:
        - {organ: first, for: Gloria Patri}
    ---
    <BLANKLINE>
    """
    sung = [_of_sung(item) for item in items if isinstance(item, Sung)]
    first = sung[0] if sung else _of_sung(Sung("", wanted.tone, wanted.reciting))
    usual = {key: value for key, value in first.items() if all(each[key] == value for each in sung)}
    head = ["---", f"title: {yaml_text(title)}", "service:"]
    head += [f"  sung: {_keys(usual)}"] if any(usual.values()) else []
    head += ["  order:"]
    return "\n".join([*head, *(f"    - {_entry(item, usual)}" for item in items), "---", ""])


def _entry(item: Sung | Played, usual: Mapping[str, str]) -> str:
    if isinstance(item, Played):
        move = spoken_interval(item.interval) if item.interval != STILL else ""
        return _keys({"organ": item.verset, "for": item.instead, "move": move, "part": item.part})
    own = {key: value for key, value in _of_sung(item).items() if key not in usual}
    return _keys({"choir": item.text, **own, "part": item.part})


def _of_sung(item: Sung) -> dict[str, str]:
    told = {"tone": str(item.tone or ""), "begins": item.begins, "ends": item.ends}
    return {**told, "minutes": f"{item.minutes:g}" if item.minutes else ""}


def _keys(values: Mapping[str, str]) -> str:
    """A line of keys and values as YAML."""
    written = (
        f"{key}: {value if _bare(value) else yaml_text(value)}" for key, value in values.items() if value
    )
    return "{" + ", ".join(written) + "}"


def _bare(value: str) -> bool:
    """Whether a value may stand without quotes: a number, or the letter of a note."""
    return value.replace(".", "", 1).isdigit() or value in tuple("ABCDEFG")
