"""Drills that are answered with sonorities over a bass: figures at sight, steps of the bass, cadences, short
lines. Each task is an exercise, judged as the exercises of a lesson are."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import count
from typing import Any

from builder.analysis.tone_table import TONES
from builder.invention import unseen_line
from builder.language.texts import Texts
from builder.music import Signature
from builder.pages.drills.course import UNTRANSPOSED, CourseMusic, bass_of, finals, transposed
from builder.pages.drills.snippet import Snippet, exercise_of, framed, readings_of

Task = dict[str, Any]
VOICES = (2, 3, 4)

_SIMPLE = ("", "6")
_RAISED = ("#", "b", "n", "5", "3", "8", "#6")
_SUSPENDED = ("4 3", "7 6", "9 8", "7 #6", "4 #")
_ROUND: dict[str, tuple[int | None, str, int | None, str]] = {
    "4 3": (3, "", None, ""),
    "4 #": (3, "", None, ""),
    "7 6": (2, "", -1, ""),
    "7 #6": (2, "", -1, ""),
    "9 8": (-1, "", None, ""),
    "6/5": (2, "", 1, ""),
    "7": (2, "", 3, ""),
}
"""What stands around a figure that is prepared or must go on: steps from its bass to the note before, with
its figure, and to the note after."""


def figures(music: CourseMusic, steps: int, words: Texts) -> Iterator[Task]:
    """Bass and figure, to be played as a sonority in two to four voices. Steps: no figure and the sixth;
    altered thirds and sixths; suspensions with their preparation; all others of the course."""
    turn = count()
    for step, named in enumerate(_graded(music.figures)[:steps], 1):
        for figure in named:
            for signature in UNTRANSPOSED:
                for letter in range(7):
                    key = f"figures:{figure or '-'}:{signature}:{letter}"
                    snippet = _around(figure, signature, letter)
                    found = _first(next(turn), key, step, snippet, music, words, figure=figure)
                    if found:
                        yield found[1]


def _graded(known: Sequence[str]) -> tuple[list[str], ...]:
    rows: tuple[list[str], ...] = ([], [], [], [])
    for figure in known:
        easy = (_SIMPLE, _RAISED, _SUSPENDED)
        rows[next((n for n, row in enumerate(easy) if figure in row), 3)].append(figure)
    return rows


def _first(
    turn: int, key: str, step: int, snippet: Snippet, music: CourseMusic, words: Texts, **ask: Any
) -> tuple[Snippet, Task] | None:
    """The task in two, three or four voices by turns, or in the next number of voices that has a setting."""
    for more in range(len(VOICES)):
        voices = VOICES[(turn + more) % len(VOICES)]
        tried = replace(snippet, voices=voices)
        for task in _task(f"{key}:{voices}", step, tried, music, words, voices=voices, **ask):
            return tried, task
    return None


def _around(figure: str, signature: str, letter: int) -> Snippet:
    """A figure over a letter of the bass, between the notes that it needs."""
    own = Signature.parse(signature)
    bass = 14 + 7 + letter if letter < 3 else 14 + letter  # F2 to E3
    if figure == "4/2":
        held = f"{own.pitch(bass)}/2~{{5/3}} {_note(own, bass, 2, '4/2')}"
        return Snippet((held, _note(own, bass - 1, 4, "6")), signature, 2, (_note(own, bass, 4),))
    before, its, after, next_ = _ROUND.get(figure, (None, "", None, ""))
    bars: tuple[str, ...] = tuple(
        _note(own, bass + way, 4, above)
        for way, above in ((before, its), (0, figure), (after, next_))
        if way is not None
    )
    last = bass + (after or 0)
    return Snippet(bars, signature, 2, (_note(own, last, 4),))


_VALUES = {1: "4", 2: "2", 4: "1", 8: "breve"}


def _note(signature: Signature, step: int, quarters: int, figure: str = "") -> str:
    above = f"{{{figure}}}" if figure else ""
    return f"{signature.pitch(step)}/{_VALUES[quarters]}{above}"


def _task(
    key: str, step: int, snippet: Snippet, music: CourseMusic, words: Texts, **ask: Any
) -> Iterator[Task]:
    """A task where the snippet has a lawful setting, else none."""
    found = framed(snippet, music.defaults)
    if found:
        yield {"id": key, "step": step, "ask": ask, "exercise": exercise_of(found, key, words)}


RULES_OF_THE_BASS = (
    (1, "mi-up", 1, 1, "6", ""),
    (1, "step-up", 1, 2, "", ""),
    (1, "step-down", -1, -2, "", ""),
    (1, "mi-down", -1, -1, "", "6"),
    (1, "fourth-up", 3, None, "", ""),
    (1, "fifth-down", -4, None, "", ""),
    (2, "third-up", 2, None, "", "6"),
    (2, "third-down", -2, None, "", ""),
    (2, "fifth-up", 4, None, "", ""),
    (2, "fourth-down", -3, None, "", ""),
    (3, "step-up", 1, 2, "5 6", ""),
    (3, "step-down", -1, -2, "6", "7 6"),
    (3, "close-fourth-up", 3, None, "4 3", ""),
    (3, "close-fifth-down", -4, None, "4 3", ""),
)
"""The rules of thumb by the motion of the bass: step, name, staff steps, semitones (None: any), what stands
over the first note and over the second. After F. Bianciardi, *Breve regola per imparar' a sonare sopra il
basso* (1607) and F. Gasparini, *L'armonico pratico al cimbalo* (1708), chapters IV and V; from memory."""


def bass(music: CourseMusic, steps: int, words: Texts) -> Iterator[Task]:
    """Motions of an unfigured bass by each degree, to be played with the sonorities of the old rules of
    thumb; what else is lawful counts as right. Steps: seconds and the fall of a fifth; leaps; sonorities in
    two parts."""
    turn = count()
    for step, name, way, size, first, second in RULES_OF_THE_BASS:
        if step > steps:
            continue
        for signature in UNTRANSPOSED:
            own = Signature.parse(signature)
            for low in range(17, 24):
                start = low + (7 if way < -1 and low < 20 else 0)
                a, b = own.pitch(start), own.pitch(start + way)
                if abs(b.midi - a.midi) == 6 or (size is not None and b.midi - a.midi != size):
                    continue
                bars = (_note(own, start, 4, first), _note(own, start + way, 4, second))
                snippet = Snippet(bars, signature, 2, (_note(own, start + way, 4),))
                key = f"bass:{name}:{step}:{signature}:{a.letter}"
                found = _first(next(turn), key, step, snippet, music, words, rule=name)
                if found:
                    yield _unfigured(found[1], found[0], music)


def _unfigured(task: Task, snippet: Snippet, music: CourseMusic) -> Task:
    """The task without its figures on the page. Third and fifth, and third and sixth, stand beside what the
    rule of thumb says: `rule` counts, for each sonority, the readings that are the rule's own."""
    events = task["exercise"]["events"]
    own = [len(event["variants"]) for event in events]
    bare = [bar.split("{")[0] for bar in snippet.bars]
    for figure in ("", "{6}"):
        known = readings_of(replace(snippet, bars=tuple(bar + figure for bar in bare)), music.defaults)
        for event in events:
            event["variants"] += [v for v in known.get(event["at"], ()) if v not in event["variants"]]
    for event in events:
        event["figure"] = []
    return {**task, "rule": own}


CADENCES = ((1, "semplice"), (1, "half"), (2, "composta"), (3, "mi"), (3, "stepwise"), (4, "doppia"))
"""Kinds of cadences, each with its step."""
TRANSPOSED = 5
"""The step of the cadences of transposed tones."""


def cadences(music: CourseMusic, steps: int, words: Texts) -> Iterator[Task]:
    """Every kind of cadence on every usual degree of the tones, in two to four voices. Steps: simple and
    half; with the suspended fourth; by step of the bass; double; all kinds in the transposed tones, there in
    two, three or four voices by turns."""
    for step, kind in CADENCES:
        if step > steps:
            continue
        for signature, letter in finals(music):
            for voices in VOICES:
                for bars in _close(kind, signature, letter):
                    key = f"cadences:{kind}:{signature}:{letter}:{voices}"
                    snippet = Snippet(bars, signature, voices)
                    goal = _goal(kind, signature, letter)
                    yield from _task(key, step, snippet, music, words, kind=kind, degree=goal, voices=voices)
    if steps >= TRANSPOSED:
        yield from _transposed(music, words)


def _transposed(music: CourseMusic, words: Texts) -> Iterator[Task]:
    turn = count()
    for signature, letter in transposed(music):
        for _, kind in CADENCES:
            for bars in _close(kind, signature, letter):
                key = f"cadences:{kind}:{signature}:{letter}"
                snippet = Snippet(bars, signature, 2)
                goal = _goal(kind, signature, letter)
                found = _first(next(turn), key, TRANSPOSED, snippet, music, words, kind=kind, degree=goal)
                if found:
                    yield found[1]


def _goal(kind: str, signature: str, letter: str) -> str:
    """The note of the bass on which a cadence of a final comes to rest: a half cadence on the fifth above."""
    if kind != "half":
        return letter
    return Signature.parse(signature).pitch(bass_of(letter, "A2").diatonic + 4).letter


def _close(kind: str, signature: str, letter: str) -> Iterator[tuple[str, ...]]:
    """The bass of a cadence on a degree, with its figures; nothing where the degree has no such one."""
    own, final = Signature.parse(signature), bass_of(letter, "A2").diatonic
    fifth = final - 3
    semitone = own.pitch(final + 1).midi - own.pitch(final).midi == 1
    home = _note(own, final, 4)
    if kind == "mi":
        if semitone:
            yield _note(own, final + 3, 4), _note(own, final + 1, 4, "7 6"), home
        return
    if semitone:
        return  # on mi there is no close by a raised leading note
    if kind == "semplice":
        yield home, _note(own, fifth, 4), home
    elif kind == "half":
        yield home, _note(own, final + 3, 4), _note(own, fifth, 4)
    elif kind == "composta":
        yield home, _note(own, fifth, 4, "4 3"), home
    elif kind == "stepwise":
        yield home, _note(own, final + 1, 4, "7 6"), home
    else:
        sharp = _raised_third(own, fifth)
        stacks = f"{sharp}:4 6/4:4 5/4:4 {sharp}:4"
        yield _note(own, fifth, 4, stacks), _note(own, final, 8)


def _raised_third(signature: Signature, bass: int) -> str:
    """The figure of a major third over a note."""
    low, third = signature.pitch(bass), signature.pitch(bass + 2)
    if third.midi - low.midi == 4:
        return "5/3"
    return "#" if third.alter == 0 else "n"


LINES = 4
"""Lines of each tone and number of voices."""
BARS = 6
"""How long they are, the close and its goal with them."""


def lines(music: CourseMusic, steps: int, words: Texts) -> Iterator[Task]:
    """Short figured lines that nobody has seen, each with its close. Steps: two voices, three, four."""
    for step in range(1, steps + 1):
        for tone in music.tones:
            form = TONES[tone - 1].forms[0]
            made = 0
            for n in range(3 * LINES):
                bars = unseen_line(tone, step + 1, BARS, f"line {n}") if made < LINES else ()
                if not bars:
                    continue
                snippet = Snippet(bars, form.signature, step + 1)
                key = f"lines:{tone}:{step + 1}:phrase-{n}"
                for task in _task(key, step, snippet, music, words, tone=tone, voices=step + 1):
                    made += 1
                    yield task
