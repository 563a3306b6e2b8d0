"""From a plain realisation to a diminished one, and back."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from builder.analysis import Analysis
from builder.counterpoint import Realisation
from builder.diminution import weights as w
from builder.diminution.chooser import Chooser
from builder.diminution.gate import Gate
from builder.diminution.guard import mark
from builder.diminution.offers import Offer
from builder.diminution.pattern import Pattern
from builder.diminution.pinned import pinned
from builder.diminution.result import Choice, Diminution
from builder.diminution.tables import patterns
from builder.diminution.texture import Texture, lay_out
from builder.music import Note, Part, Pitch, Score
from builder.source import Verset

ROUNDS = 6
"""How often figures that the check of the whole refuses are barred and the search run again there."""


def diminish(
    verset: Verset,
    analysis: Analysis,
    realisation: Realisation,
    *,
    level: int | None = None,
    seed: int | None = None,
    tables: Sequence[Pattern] | None = None,
    given_line: bool = True,
    tuning: str = "quarter-comma",
) -> Diminution:
    """Break the long notes of a plain realisation into graceful shorter ones.

    `level` 1 first graces, 2 half-note diminution, 3 full (none: the source's, else 2). Each `seed`
    gives its own diminution, always the same. `tables` are the patterns (none: the house's);
    `given_line` lets the given line move after its entries, sparingly. `tuning` is what the keys are
    judged by.

    Guarantee: no voice but a pinned one departs from its plain notes in an entry of the theme; at
    levels 1 and 2 the result is the cheapest relay of lawful figures (from level 2 also of the ideas
    made of them), exactly, for the costs in `weights`; at level 3 a second relay is added, the
    cheapest given the first. What the check of the whole score still refuses is barred, and the bars
    around it are searched again in the same way, joined to what lies before and after.

    Raises `ValueError` for a level that is not 1, 2 or 3.
    """
    level = level or verset.settings.level or 2
    seed = verset.settings.seed if seed is None else seed
    if level not in w.LEVELS:
        raise ValueError(f"level {level}: there are three, 1 (first graces), 2 (half notes) and 3 (full)")
    table = patterns() if tables is None else tuple(tables)
    plain = realisation.score
    hand = pinned(verset, plain, table)
    gate = Gate(verset, analysis, realisation, tuning)
    texture = lay_out(plain)
    for choice in hand:
        _lay_choice(texture, choice)
    mark(texture, analysis, [(c.voice, c.onset, c.onset + c.duration) for c in hand])
    chooser = Chooser(texture, verset, analysis, table, level, seed, given_line)
    for turn in range(ROUNDS + 1):
        chosen = chooser.figures()
        choices = _in_order(plain, (*hand, *(_choice(texture, o) for o in chosen)))
        score = _surface(plain, choices)
        refused = gate.refused(score, texture, chosen)
        if not refused or turn == ROUNDS:
            break
        chooser.mend(refused)
    if refused:
        choices, score = _without(plain, texture, hand, chosen, gate)
    return Diminution(score, level, seed, choices, gate.findings(score), round(chooser.cost(), 3))


def skeleton(diminution: Diminution) -> Score:
    """The plain realisation inside a diminished one: every choice gives its plain notes back."""
    plain = [(c.voice, n) for c in diminution.choices for n in (c.replaced or (c.plain,))]
    return replace(_set(diminution.score, diminution.choices, plain), version="plain")


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
    notes = [(c.voice, n) for c in choices for n in c.notes]
    return replace(_set(plain, choices, notes), version="diminished")


def _set(score: Score, choices: Sequence[Choice], notes: Sequence[tuple[str, Note]]) -> Score:
    """The score with its notes under the choices taken out and others set in."""
    parts = []
    for part in score.parts:
        spans = sorted((c.onset, c.onset + c.duration) for c in choices if c.voice == part.voice)
        starts = [begin for begin, _ in spans]
        kept = []
        for note in part.sounding():
            before = bisect_right(starts, note.onset) - 1
            if before < 0 or note.onset >= spans[before][1]:
                kept.append(note)
        kept += [n for voice, n in notes if voice == part.voice]
        parts.append(Part(part.voice, tuple(sorted(kept, key=lambda n: n.onset))))
    return replace(score, parts=tuple(parts))


def _without(
    plain: Score, texture: Texture, hand: Sequence[Choice], chosen: list[Offer], gate: Gate
) -> tuple[tuple[Choice, ...], Score]:
    """Drop what is still refused until nothing is; the plain notes stay."""
    while True:
        choices = _in_order(plain, (*hand, *(_choice(texture, o) for o in chosen)))
        score = _surface(plain, choices)
        refused = {(r.voice, r.index) for r in gate.refused(score, texture, chosen)}
        kept = [o for o in chosen if (o.stem.voice, o.stem.index) not in refused]
        if len(kept) == len(chosen):
            return choices, score
        chosen = kept
