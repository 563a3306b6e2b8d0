"""From a plain realisation to a diminished one, and back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from builder.analysis import Analysis
from builder.counterpoint import Realisation
from builder.diminution import relay
from builder.diminution import weights as w
from builder.diminution.gate import Gate
from builder.diminution.guard import mark
from builder.diminution.lawful import clash
from builder.diminution.offers import Offer, Shelf, Wish, offers, shortest_note
from builder.diminution.pattern import Pattern
from builder.diminution.pinned import pinned
from builder.diminution.result import Choice, Diminution
from builder.diminution.tables import patterns
from builder.diminution.texture import Stem, Texture, lay_out
from builder.music import Note, Part, Pitch, Score
from builder.source import Verset

ROUNDS = 6
"""How often offers that the check of the whole refuses are barred and the search run again."""


def diminish(
    verset: Verset,
    analysis: Analysis,
    realisation: Realisation,
    *,
    level: int | None = None,
    seed: int | None = None,
    tables: Sequence[Pattern] | None = None,
    given_line: bool = True,
) -> Diminution:
    """Break the long notes of a plain realisation into graceful shorter ones.

    `level` 1 first graces, 2 half-note diminution, 3 full (none: the source's, else 2). Each `seed`
    gives its own diminution, always the same. `tables` are the patterns (none: the house's);
    `given_line` lets the given line move after its entries, sparingly.

    Guarantee: no voice but a pinned one departs from its plain notes in an entry of the theme; at
    levels 1 and 2 the result is the cheapest relay of lawful figures, exactly, for the costs in
    `weights`; at level 3 a second relay is added, the cheapest given the first. What the check of
    the whole score still refuses is barred and the search run again.

    Raises `ValueError` for a level that is not 1, 2 or 3.
    """
    level = level or verset.settings.level or 2
    seed = verset.settings.seed if seed is None else seed
    if level not in w.LEVELS:
        raise ValueError(f"level {level}: there are three, 1 (first graces), 2 (half notes) and 3 (full)")
    table = patterns() if tables is None else tuple(tables)
    plain = realisation.score
    hand = pinned(verset, plain, table)
    gate = Gate(verset, analysis, realisation)
    barred: frozenset[tuple[int, int, str]] = frozenset()
    for turn in range(ROUNDS + 1):
        texture = lay_out(plain)
        for choice in hand:
            _lay_choice(texture, choice)
        mark(texture, analysis, [(c.voice, c.onset, c.onset + c.duration) for c in hand])
        cost, chosen = _choose(texture, verset, analysis, table, level, seed, given_line, barred)
        choices = _in_order(plain, (*hand, *(_choice(texture, o) for o in chosen)))
        score = _surface(plain, choices)
        refused = gate.refused(score, texture, chosen)
        if not refused or turn == ROUNDS:
            break
        barred |= refused
    if refused:
        choices, score = _without(plain, texture, hand, chosen, gate)
    return Diminution(score, level, seed, choices, gate.findings(score), round(cost, 3))


def skeleton(diminution: Diminution) -> Score:
    """The plain realisation inside a diminished one: every choice gives its plain notes back."""
    parts = []
    for part in diminution.score.parts:
        mine = [c for c in diminution.choices if c.voice == part.voice]
        kept = [
            n for n in part.sounding() if not any(c.onset <= n.onset < c.onset + c.duration for c in mine)
        ]
        notes = [*kept, *(n for c in mine for n in (c.replaced or (c.plain,)))]
        parts.append(Part(part.voice, tuple(sorted(notes, key=lambda n: n.onset))))
    return replace(diminution.score, version="plain", parts=tuple(parts))


def _choose(
    texture: Texture,
    verset: Verset,
    analysis: Analysis,
    table: Sequence[Pattern],
    level: int,
    seed: int,
    given_line: bool,
    barred: frozenset[tuple[int, int, str]],
) -> tuple[float, list[Offer]]:
    """The relays of a level, one after another, each the best given those before."""
    weights = w.LEVELS[level]
    value, beats = verset.tempo
    shortest = shortest_note(texture.unit, value * Fraction(beats) / 60, weights.fastest)
    shelf = Shelf(table, texture.unit, weights, shortest)
    wish = _wish(texture, verset, analysis, level, seed)
    if not given_line:
        for stems in texture.stems:
            for stem in stems:
                if wish.given(stem):
                    stem.earliest = stem.end
    total = 0.0
    chosen: list[Offer] = []
    for layer in range(weights.layers):
        taken = frozenset((o.stem.voice, o.stem.index) for o in chosen)
        found = offers(texture, shelf, wish, taken=taken, barred=barred, second=layer > 0)
        cost, picked = _varied(found, texture, weights, shelf.figures)
        total += cost
        for offer in picked:
            _lay(texture, offer)
        chosen += picked
    return total, chosen


def _varied(
    found: list[Offer], texture: Texture, weights: w.Weights, figures: int
) -> tuple[float, list[Offer]]:
    """The best relay; when one figure has more than its share, the best with that figure dearer."""
    beat = int(texture.score.metre.beat * texture.unit)
    near = max(beat, texture.unit)
    dearer = [0.0] * figures
    cost, picked = 0.0, list[Offer]()
    for _ in range(4):
        terms = relay.Terms(near, int(weights.room * texture.unit), weights.crowd, tuple(dearer))
        cost, picked = relay.best(found, lambda p, q: clash(texture, p, q), terms)
        counts = Counter(o.figure for o in picked)
        share = max(2, len(picked) // 6)
        often = [(figure, n - share) for figure, n in sorted(counts.items()) if n > share]
        if not often:
            break
        for figure, excess in often:
            dearer[figure] += w.USED_OFTEN * excess
    return cost, picked


def _wish(texture: Texture, verset: Verset, analysis: Analysis, level: int, seed: int) -> Wish:
    closes = sorted(texture.tick(c.onset) for c in analysis.cadences)
    bar = float(verset.metre.bar * texture.unit)
    growing = []
    for tick in range(texture.size):
        ahead = next((c for c in closes if c > tick), None)
        growing.append(w.growth(tick / texture.size, None if ahead is None else (ahead - tick) / bar))
    given = {(g.voice, g.note.onset) for g in verset.given if g.note.pitch is not None}
    stretches = [(g.voice, g.note.onset, g.note.end) for g in verset.given if g.note.pitch is not None]
    entries = [(texture.tick(e.onset), texture.tick(e.end)) for e in analysis.entries]

    def is_given(stem: Stem) -> bool:
        name, onset = texture.voices[stem.voice], stem.note.onset
        return (name, onset) in given or any(v == name and a <= onset < b for v, a, b in stretches)

    return Wish(
        growing.__getitem__,
        w.LEVELS[level],
        level,
        is_given,
        lambda t: any(a <= t < b for a, b in entries),
        seed,
    )


def _lay(texture: Texture, offer: Offer) -> None:
    line = texture.lines[offer.stem.voice]
    for n, tick in enumerate(offer.ticks):
        end = offer.ticks[n + 1] if n + 1 < len(offer.ticks) else offer.end
        line.lay(tick, end, offer.dias[n], offer.keys[n])


def _lay_choice(texture: Texture, choice: Choice) -> None:
    line = texture.lines[texture.voices.index(choice.voice)]
    line.silence(texture.tick(choice.onset), texture.tick(choice.onset + choice.duration))
    for note in choice.notes:
        if note.pitch is not None:
            line.lay(texture.tick(note.onset), texture.tick(note.end), note.pitch.diatonic, note.pitch.midi)


def _choice(texture: Texture, offer: Offer) -> Choice:
    """The offer as notes."""
    stem, pattern = offer.stem, offer.pattern
    bounds = (*offer.ticks, offer.end)
    notes = tuple(
        Note(
            texture.time(a),
            Fraction(b - a, texture.unit),
            Pitch(dia, key - Pitch(dia).midi),
            editorial=stem.note.editorial and dia == stem.pitch.diatonic,
        )
        for a, b, dia, key in zip(bounds, bounds[1:], offer.dias, offer.keys)
    )
    after = texture.stems[stem.voice][stem.index + 1].note if stem.after else None
    return Choice(
        texture.voices[stem.voice],
        stem.note.onset,
        stem.note.duration,
        pattern.id,
        pattern.figure,
        stem.note,
        notes,
        after,
        pattern.late,
        character=pattern.character,
        source=pattern.source,
    )


def _in_order(plain: Score, choices: Sequence[Choice]) -> tuple[Choice, ...]:
    order = [p.voice for p in plain.parts]
    return tuple(sorted(choices, key=lambda c: (c.onset, order.index(c.voice))))


def _surface(plain: Score, choices: Sequence[Choice]) -> Score:
    """The plain score with the choices' notes set in."""
    parts = []
    for part in plain.parts:
        mine = [c for c in choices if c.voice == part.voice]
        kept = [
            n for n in part.sounding() if not any(c.onset <= n.onset < c.onset + c.duration for c in mine)
        ]
        notes = [*kept, *(n for c in mine for n in c.notes)]
        parts.append(Part(part.voice, tuple(sorted(notes, key=lambda n: n.onset))))
    return replace(plain, version="diminished", parts=tuple(parts))


def _without(
    plain: Score, texture: Texture, hand: Sequence[Choice], chosen: list[Offer], gate: Gate
) -> tuple[tuple[Choice, ...], Score]:
    """Drop what is still refused until nothing is; the plain notes stay."""
    while True:
        choices = _in_order(plain, (*hand, *(_choice(texture, o) for o in chosen)))
        score = _surface(plain, choices)
        refused = gate.refused(score, texture, chosen)
        kept = [o for o in chosen if (o.stem.voice, o.stem.index, o.pattern.id) not in refused]
        if len(kept) == len(chosen):
            return choices, score
        chosen = kept
