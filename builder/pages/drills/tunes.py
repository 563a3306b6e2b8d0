"""Drills that are answered with notes one after another: answers to a theme, patterns of diminution."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import count, groupby, pairwise
from typing import Any

from builder.analysis.tone_table import TONES, Form
from builder.counterpoint.rules.page_tables import tables
from builder.diminution import Pattern, patterns
from builder.language.texts import Texts
from builder.music import Pitch, Signature
from builder.pages.drills.course import UNTRANSPOSED, CourseMusic, Theme
from builder.pages.drills.shown import Task, right, shown, tune

RHYTHMS = ((2, 1, 1, 2, 2), (2, 2, 1, 1, 2), (3, 1, 2, 2), (2, 1, 1, 1, 1, 2), (2, 2, 2, 2))
"""Two bars of a theme, in quarter notes."""
_CLEF_OF = {"cantus": "C1", "altus": "C3", "tenor": "C4", "bassus": "F4"}


def make_theme(dice: random.Random, form: Form, tone: int, step: int) -> Theme:
    """A theme of two bars in a tone: it begins on the final (from the second step on, the fifth), leaps once
    between them at most, and goes on by steps and thirds within a sixth."""
    signature = Signature.parse(form.signature)
    final = Pitch.parse(f"{form.final}4").diatonic
    if final < 31:
        final += 7
    low, high = final - 4, final + 4
    begins = final if step == 1 else final + dice.choice((4, -3))
    rhythm = dice.choice(RHYTHMS)
    line = [begins]
    leap = {final: (4, -3), final + 4: (-4,), final - 3: (3,)}[begins] if step != 1 else (2, -3, 1)
    line.append(begins + dice.choice(leap))
    while len(line) < len(rhythm):
        moves = [
            m for m in (-1, -1, 1, 1, -2, 2) if low <= line[-1] + m <= high and _sung(signature, line[-1], m)
        ]
        line.append(line[-1] + dice.choice(moves))
    notes = tuple((str(signature.pitch(s)), str(v)) for s, v in zip(line, rhythm))
    return Theme(notes, "cantus", "C1", form.signature, tone, "")


def _sung(signature: Signature, step: int, move: int) -> bool:
    return abs(signature.pitch(step + move).midi - signature.pitch(step).midi) != 6


THEMES = 3
"""Themes of our own for each tone and step, beside those of the course."""


def answers(music: CourseMusic, steps: int, words: Texts) -> Iterator[Task]:
    """A theme, to be answered by another voice in any octave: exactly, in the mode, or with final and fifth
    exchanged. Steps: themes from the final; those that touch the fifth; the course's own."""
    for step in range(1, min(steps, 2) + 1):
        for tone in music.tones:
            form = TONES[tone - 1].forms[0]
            for n in range(THEMES):
                theme = make_theme(random.Random(f"theme {tone} {step} {n}"), form, tone, step)
                yield from _answer(f"answers:{tone}:{step}:{n}", step, theme, form.final)
    if steps == 3:
        for n, theme in enumerate(music.themes):
            yield from _answer(f"answers:own:{n}", 3, theme, TONES[theme.tone - 1].forms[0].final)


def _answer(key: str, step: int, theme: Theme, final: str) -> Iterator[Task]:
    pitches = [Pitch.parse(name) for name, _ in theme.notes]
    found = lawful_answers(pitches, Signature.parse(theme.signature), final)
    if found:
        drawn = [
            shown(p, Fraction(length), "" if n else theme.clef)
            for n, (p, (_, length)) in enumerate(zip(pitches, theme.notes))
        ]
        yield {
            "id": key,
            "step": step,
            "ask": {"tone": theme.tone},
            "shown": drawn,
            "fifths": Signature.parse(theme.signature).fifths,
            "right": [right(notes, kind) for notes, kind in found],
            "octave": True,
        }


def lawful_answers(
    theme: Sequence[Pitch], signature: Signature, final: str
) -> list[tuple[tuple[Pitch, ...], str]]:
    """The answers to a theme, each with its kind: `exact` at the fifth or fourth (Zarlino's *fuga*), `modal`
    by the same steps in the signature (his *imitatione*), `tonal` where final and fifth answer each other.
    *Istitutioni harmoniche* (1558), III 51 and 52; the tonal one is common practice of the organists.

    >>> d, a = Pitch.parse("D5"), Pitch.parse("A4")
    >>> [(str(n[0]), str(n[1]), kind) for n, kind in lawful_answers([d, a], Signature(), "D")]
    [('A5', 'E5', 'exact'), ('G5', 'D5', 'exact'), ('A5', 'D5', 'tonal')]
    """
    found: dict[tuple[Pitch, ...], str] = {}
    for offset in (4, 3):
        found.setdefault(tuple(_exact(p, offset) for p in theme), "exact")
        found.setdefault(tuple(signature.pitch(p.diatonic + offset) for p in theme), "modal")
    home = Pitch.parse(f"{final}4").step
    pair = {home: (home + 4) % 7, (home + 4) % 7: home}
    for first, then in ((4, 3), (3, 4)):
        for k in range(1, len(theme)):
            offsets = [first] * k + [then] * (len(theme) - k)
            if _exchanges(theme, offsets, pair):
                line = tuple(signature.pitch(p.diatonic + offset) for p, offset in zip(theme, offsets))
                found.setdefault(line, "tonal")
    return list(found.items())


def _exact(pitch: Pitch, steps: int) -> Pitch:
    """A fifth or fourth higher, pure."""
    natural = Pitch(pitch.diatonic + steps)
    return Pitch(natural.diatonic, pitch.midi + {4: 7, 3: 5}[steps] - natural.midi)


def _exchanges(theme: Sequence[Pitch], offsets: Sequence[int], pair: dict[int, int]) -> bool:
    """Whether final and fifth change places where an answer bends: every note of the shorter part that is
    final or fifth is answered by the other, and both are."""
    swapped = {p.step for p, by in zip(theme, offsets) if pair.get(p.step) == (p.step + by) % 7}
    kept = [p.step for p, by in zip(theme, offsets) if p.step in pair and pair[p.step] != (p.step + by) % 7]
    return len(swapped) == 2 and not kept


# Patterns of diminution

LADDER = 7
"""Degrees on which a pattern is asked for after the one that shows it: all of an octave."""
_FEWEST = 5
"""Of these, how many must bear it: where a leap of it would be forbidden, a degree is passed over."""
_HIGHEST = 40
"""Staff step above which a pattern is written an octave lower (A5)."""


def diminution(music: CourseMusic, steps: int, words: Texts) -> Iterator[Task]:
    """One pattern on one degree after another. Steps: sparse patterns upwards; the same downwards; fuller
    ones, both ways; the pattern wherever it fits in a phrase."""
    melody = tables()["melody"]
    every = [p for p in (*patterns(), *music.defaults.patterns) if p.interval is not None and p.steps[0] == 0]
    turn = count()
    for step in range(1, steps + 1):
        for pattern in _some(every, full=step > 2):
            for way in ((1,), (-1,), (1, -1), (1,))[step - 1]:
                n = next(turn)
                signature = Signature.parse(UNTRANSPOSED[n % 2])
                degree, clef = 28 + n % 7, ("C1", "G2", "C3")[n % 3]
                plain = _phrase(pattern, signature, n) if step == 4 else _ladder(pattern, degree, way)
                yield from _broken(pattern, plain, signature, clef, step, way, melody, words)


def pattern_table(music: CourseMusic, words: Texts) -> list[list[Any]]:
    """All patterns that begin on their plain note, for a reader who chooses: by interval (staff steps, title)
    each with its name, by figure and notes over C, its steps, its lengths in quarter notes, its source.

    >>> from builder.language.texts import page_texts
    >>> table = pattern_table(CourseMusic(), page_texts("en"))
    >>> table[0][0], table[0][1], table[0][2][0][1]
    (0, 'The same note again', [0, -2])
    """
    every = [p for p in (*patterns(), *music.defaults.patterns) if p.interval is not None and p.steps[0] == 0]
    every.sort(key=lambda p: (abs(p.interval or 0), -(p.interval or 0), p.density, -p.value, p.id))
    found: list[list[Any]] = []
    for interval, group in groupby(every, key=lambda p: p.interval):
        members = list(group)
        rows = [
            [_named(p, words), list(p.steps), [float(x) for x in p.lengths], words.cited(p.source)]
            for p in members
        ]
        title = words(f"pages.interval.{members[0].interval_name.replace(' ', '-')}")
        found.append([interval, title, rows])
    return found


def _named(pattern: Pattern, words: Texts) -> str:
    """What a pattern does: its figure, and its notes over C with the one it goes to."""
    steps = (*pattern.steps, pattern.interval or 0)
    notes = " ".join(words.written(Pitch(28 + step).letter) for step in steps)
    return f"{words(f'try.figure.{pattern.figure}')}: {notes}"


def _some(every: Sequence[Pattern], full: bool) -> Iterator[Pattern]:
    """Two patterns of each interval, of a half note, with different figures where there are."""
    fit = [p for p in every if p.value == 2 and (p.density > 1) == full]
    for _, group in groupby(
        sorted(fit, key=lambda p: (abs(p.interval or 0), p.interval, p.density, p.id)),
        key=lambda p: p.interval,
    ):
        yield from list({p.figure: p for p in reversed(list(group))}.values())[-2:]


def _ladder(pattern: Pattern, degree: int, way: int) -> list[tuple[int, int]]:
    """Plain notes with the way to the next: the pattern's own interval on one degree after another."""
    top = degree + LADDER + max(0, *pattern.steps, pattern.interval or 0)
    first = degree + (LADDER if way < 0 else 0) - (7 if top > _HIGHEST else 0)
    return [(first + way * k, pattern.interval or 0) for k in range(LADDER + 1)]


def _phrase(pattern: Pattern, signature: Signature, n: int) -> list[tuple[int, int]]:
    """Five plain notes among which the pattern's interval comes twice."""
    dice = random.Random(f"phrase {pattern.id} {n}")
    own, line = pattern.interval or 0, [31]
    back = -1 if own > 0 else 1
    for move in (own, back * dice.choice((1, 2)), own, back):
        line.append(line[-1] + move)
    return [*((a, b - a) for a, b in pairwise(line)), (line[-1], 0)]


def _broken(
    pattern: Pattern,
    plain: Sequence[tuple[int, int]],
    signature: Signature,
    clef: str,
    step: int,
    way: int,
    melody: dict[str, list[str]],
    words: Texts,
) -> Iterator[Task]:
    """A task where no rule on melody speaks against the pattern in its places: first the pattern with the
    note it goes to, then the plain notes it is asked for."""
    phrase = step == 4

    def bears(place: tuple[int, int]) -> bool:
        degree, goes = place
        notes = pattern.steps if goes == pattern.interval else (0,)
        line = [signature.pitch(degree + s) for s in (*notes, goes)]
        return not any(_refused(melody, a, b) for a, b in pairwise(line))

    fit = [place for place in plain if bears(place)]
    if len(fit) < (len(plain) if phrase else 1 + _FEWEST) or not bears(plain[0]):
        return
    model, *ladder = fit
    drawn = [
        *(shown(p, v, "" if n else clef) for n, (p, v) in enumerate(_model(pattern, model[0], signature))),
        shown(signature.pitch(model[0] + model[1]), 2),
    ]
    asked: list[Pitch] = []
    for k, (degree, goes) in enumerate(fit if phrase else ladder):
        first, target = signature.pitch(degree), signature.pitch(degree + goes)
        drawn.append(shown(first, 2, "", 0 if phrase and k else k + 2))
        asked += [signature.pitch(degree + s) for s in (pattern.steps if goes == pattern.interval else (0,))]
        if not phrase:
            drawn.append(shown(target, 2))
            asked.append(target)
    ask = {
        "figure": words(f"try.figure.{pattern.figure}"),
        "way": "up" if way > 0 else "down",
        "phrase": phrase,
        "source": words.cited(pattern.source),
    }
    yield tune(f"diminution:{step}:{pattern.id}:{way}", step, drawn, asked, signature.fifths, **ask)


def _model(pattern: Pattern, degree: int, signature: Signature) -> Iterator[tuple[Pitch, Fraction]]:
    pitches = (signature.pitch(degree + s) for s in pattern.steps)
    return zip(pitches, pattern.lengths, strict=True)


def _refused(melody: dict[str, list[str]], a: Pitch, b: Pitch) -> bool:
    steps = b.diatonic - a.diatonic
    return bool(melody.get(f"{steps},{b.midi - a.midi}", melody.get(f"{steps}", [])))
