"""Cadences: where the line closes, on which degree, and by which formula.

Read from the motion of the lowest voice and the figures over it. A cadence stands at the end of a
phrase and closes on a strong beat or a long note; the same notes in passing are none (common
practice). The double cadence and the compound one are told apart by their figures (L. Penna,
*Li primi albori musicali*, 1672; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from builder.analysis.findings import Cadence
from builder.analysis.formulas import (
    FOURTH,
    SEVENTH,
    SIX_FOUR,
    SIXTH,
    TRIAD,
    is_major,
    over,
    row,
    stacks,
)
from builder.analysis.line import Sung, long_value, rises, weight_of
from builder.language.texts import Texts
from builder.music import Figure, Interval, Pitch
from builder.music.figure import DASH
from builder.source import Verset


@dataclass(frozen=True, slots=True)
class Close:
    """A place where a cadence may close: the note before it (with its repeats and octaves), the
    note it closes on, and what comes after that."""

    verset: Verset
    before: tuple[Sung, ...]
    goal: Sung
    after: Sung | None

    @property
    def motion(self) -> Interval:
        return Interval.between(self.before[-1].pitch, self.goal.pitch)

    @property
    def kinds(self) -> tuple[str, ...]:
        return tuple(kind for kind, _, _ in row(self.before))

    @property
    def last_figure(self) -> Figure | None:
        return row(self.before)[-1][1]

    @property
    def breaks(self) -> bool:
        """The phrase ends here beyond doubt: silence, the end, or the lower voices fall silent."""
        return self.goal.before_rest or (self.after is not None and rises(self.goal, self.after))

    @property
    def long(self) -> bool:
        return self.goal.duration >= long_value(self.verset.metre)

    @property
    def strong(self) -> bool:
        weight = weight_of(self.verset, self.goal.onset)
        return weight >= 2 or (weight == 1 and self.long)

    @property
    def length(self) -> Fraction:
        return self.goal.onset - self.before[0].onset

    @property
    def rests_on_goal(self) -> bool:
        """The sonority on the goal is one of rest."""
        return stacks(self.goal)[0][0] == TRIAD or (self.goal.before_rest and self.last_of_goal)

    @property
    def last_of_goal(self) -> bool:
        return stacks(self.goal)[-1][0] == TRIAD

    def cadence(self, kind: str, degree: Pitch, evidence: Sequence[str]) -> Cadence:
        onset = self.goal.onset
        return Cadence(
            self.before[0].onset, onset, self.verset.place(onset), degree.letter, kind, "; ".join(evidence)
        )


def cadences(verset: Verset, notes: Sequence[Sung], say: Texts, final: str = "") -> tuple[Cadence, ...]:
    """Every cadence of a line, in order. `final` is the letter of the final where it is not the
    last note: half cadences rest on the fifth above it."""
    found: list[Cadence] = []
    for close in closes(verset, notes):
        for reading in (_from_the_fifth, _by_step_down, _by_step_up, _evaded):
            cadence = reading(close, say)
            if cadence:
                found.append(cadence)
                break
    taken = {c.onset for c in found}
    halves = [h for h in _halves(verset, notes, say, final) if h.onset not in taken]
    return tuple(sorted([*found, *halves], key=lambda c: c.onset))


def closes(verset: Verset, notes: Sequence[Sung]) -> list[Close]:
    """Every pair of a note and the next that sound without a break between them and, but for the
    end of the verset, have a voice above."""
    found = []
    for n in range(1, len(notes)):
        goal, last = notes[n], notes[n - 1]
        if goal.after_rest or last.pitch.letter == goal.pitch.letter:
            continue
        alone = not last.above or not goal.above
        if alone and n < len(notes) - 1:
            continue
        first = n - 1
        while first and not notes[first].after_rest and notes[first - 1].pitch.letter == last.pitch.letter:
            first -= 1
        before = tuple(notes[first:n])
        if last.above:
            before = tuple(b for b in before if b.above)
        found.append(Close(verset, before, goal, notes[n + 1] if n + 1 < len(notes) else None))
    return found


def formula(close: Close) -> str:
    """The formula over a fifth degree, by its figures: `semplice`, `composta`, `doppia` or none."""
    kinds = tuple(k for n, k in enumerate(close.kinds) if n == 0 or close.kinds[n - 1] != k)
    plain = tuple(TRIAD if k == SEVENTH else k for k in kinds)
    if any(plain[n : n + 4] == (TRIAD, SIX_FOUR, FOURTH, TRIAD) for n in range(len(plain))):
        return "doppia"
    if plain[-2:] == (FOURTH, TRIAD):
        return "composta"
    return "semplice" if plain[-1] == TRIAD else ""


def _from_the_fifth(close: Close, say: Texts) -> Cadence | None:
    """The bass falls a fifth or rises a fourth to the close."""
    motion = close.motion
    if motion.semitones % 12 != 5 or motion.steps % 7 != 3 or not close.rests_on_goal:
        return None
    kind = formula(close)
    if not kind:
        return None
    if not (_simple_stands(close) if kind == "semplice" else _suspended_stands(close)):
        return None
    degree = close.goal.pitch
    names = {"fifth": say.written(close.before[-1].pitch.letter), "degree": say.written(degree.letter)}
    way = say("cadence.motion.fall" if motion.steps < 0 else "cadence.motion.rise")
    words = [say("cadence.dominant", motion=way, **names), say(f"cadence.{kind}", **names)]
    if kind == "semplice" and SIX_FOUR in close.kinds:
        words[-1] = say("cadence.six-four", **names)
    if kind == "doppia" and not _equal_parts(close):
        words.append(say("cadence.unequal"))
    if not is_major(close.before[-1].pitch, _third(close)):
        words.append(say("cadence.no-sign"))
    if not close.goal.above:
        words.append(say("cadence.alone"))
    return close.cadence(kind, degree, words)


def _third(close: Close) -> Pitch:
    return over(close.before[-1].pitch, close.last_figure, 3, close.verset.signature)


def _suspended_stands(close: Close) -> bool:
    """A suspension makes the close plain: it must fall on a strong beat and last a beat."""
    return close.breaks or (close.strong and close.goal.duration >= close.verset.metre.beat)


def _simple_stands(close: Close) -> bool:
    """Without a suspension the phrase must end beyond doubt: a break, or a long note on a strong
    beat after a fifth degree of a beat at least whose leading note is written, in one voice's line."""
    beat = close.verset.metre.beat
    if close.length < beat and not close.breaks:
        return False
    if close.breaks:
        return close.strong or close.goal.before_rest
    signed = any(s.number == 3 and s.sign for s in (close.last_figure.signs if close.last_figure else ()))
    raised = signed and is_major(close.before[-1].pitch, _third(close))
    same_voice = close.before[-1].voice == close.goal.voice
    return same_voice and raised and close.long and weight_of(close.verset, close.goal.onset) >= 2


def _equal_parts(close: Close) -> bool:
    lengths = [duration for _, _, duration in row(close.before)]
    return len(set(lengths[-4:])) == 1


def _by_step_down(close: Close, say: Texts) -> Cadence | None:
    """The bass falls a step to the close with the sixth over it: by a semitone the cadence of mi,
    by a tone the clausula of the tenor."""
    if close.motion.steps != -1 or close.motion.semitones not in (-1, -2):
        return None
    kinds = close.kinds
    alone = not close.goal.above and close.after is None
    if alone:
        kinds = (SIXTH,)
    if kinds[-1] != SIXTH or not close.rests_on_goal:
        return None
    suspended = SEVENTH in kinds[:-1]
    sixth = over(close.before[-1].pitch, close.last_figure, 6, close.verset.signature)
    major = is_major(close.before[-1].pitch, sixth)
    mi = close.motion.semitones == -1
    signed = any(s.number == 6 and s.sign for s in (close.last_figure.signs if close.last_figure else ()))
    if not _step_stands(close, suspended, signed and major and not mi):
        return None
    degree = close.goal.pitch
    names = {
        "start": say.written(close.before[-1].pitch.letter),
        "degree": say.written(degree.letter),
    }
    kind = "mi" if mi else "composta" if suspended else "semplice"
    words = [say("cadence.mi" if mi else "cadence.tenor", **names)]
    words.append(say("cadence.seventh" if suspended else "cadence.unsuspended"))
    if not mi and not major and not alone:
        words.append(say("cadence.no-sign"))
    if alone:
        words = [say("cadence.mi.alone" if mi else "cadence.tenor.alone", **names), say("cadence.alone")]
    return close.cadence(kind, degree, words)


def _step_stands(close: Close, suspended: bool, raised: bool) -> bool:
    if close.breaks:
        return close.strong or close.goal.before_rest
    if suspended:
        halts = close.goal.duration >= close.before[-1].duration and not _goes_on_suspended(close)
        return halts and close.strong and close.goal.duration >= close.verset.metre.beat
    return raised and close.long and close.strong


def _goes_on_suspended(close: Close) -> bool:
    """The goal leads on in a chain of suspensions."""
    chain = close.after is not None and stacks(close.after)[0][0] == SEVENTH
    return bool(chain and close.after and close.after.pitch.diatonic == close.goal.pitch.diatonic - 1)


def _by_step_up(close: Close, say: Texts) -> Cadence | None:
    """The bass rises a semitone to the close: the clausula of the cantus."""
    if (close.motion.steps, close.motion.semitones) != (1, 1) or not close.rests_on_goal:
        return None
    if close.kinds[-1] != SIXTH and close.goal.above:
        return None
    held = _bass_held(close)
    alone = not close.goal.above
    if not ((held and close.strong) or (close.breaks and (close.strong or close.goal.before_rest))):
        return None
    degree = close.goal.pitch
    names = {"start": say.written(close.before[-1].pitch.letter), "degree": say.written(degree.letter)}
    words = [say("cadence.cantus", **names)]
    words.append(
        say("cadence.bass-suspended" if held else "cadence.alone" if alone else "cadence.unsuspended")
    )
    return close.cadence("composta" if held else "semplice", degree, words)


def _bass_held(close: Close) -> bool:
    """The note before the leading note is the final itself, held under a second."""
    notes = [g for g in close.verset.given if g.note.end == close.before[0].onset and g.note.pitch]
    if not notes:
        return False
    seconds = any(
        any(s.number == 2 or (s.number == 9 and len(f.signs) > 1) for s in f.signs)
        for g in notes
        for f in g.figures
    )
    return seconds and notes[-1].note.pitch == close.goal.pitch


def _evaded(close: Close, say: Texts) -> Cadence | None:
    """The whole formula over the fifth degree, and then another goal: a step up, a third down, or
    the right note with figures that withhold the close."""
    kind = formula(close)
    third = _third(close)
    if kind not in ("composta", "doppia") or not is_major(close.before[-1].pitch, third):
        return None
    if close.length < close.verset.metre.beat or weight_of(close.verset, close.goal.onset) < 1:
        return None
    promised = close.before[-1].pitch.up(Interval(3, 5))
    names = {"fifth": say.written(close.before[-1].pitch.letter), "degree": say.written(promised.letter)}
    steps = close.motion.steps % 7
    if steps == 3 and close.motion.semitones % 12 == 5:
        if close.rests_on_goal or not close.strong:
            return None
        figure = close.goal.figures[0] if close.goal.figures else DASH
        return close.cadence("evaded", promised, [say("cadence.evaded.figure", figure=figure, **names)])
    if steps not in (1, 5):
        return None
    goal = say.written(close.goal.pitch.letter)
    return close.cadence("evaded", promised, [say("cadence.evaded", goal=goal, **names)])


def _halves(verset: Verset, notes: Sequence[Sung], say: Texts, final: str) -> list[Cadence]:
    """Phrases that come to rest on the fifth above the final."""
    found = []
    last = Pitch.parse(f"{final}4") if final else notes[-1].pitch
    fifth = last.up(Interval(4, 7))
    for n, note in enumerate(notes):
        ends = note.before_rest or rises(note, notes[n + 1])
        signs = note.figures[-1].signs if note.figures else ()
        rests = stacks(note)[-1][0] == TRIAD
        if not (ends and note.above and rests and note.pitch.letter == fifth.letter):
            continue
        if note.duration < verset.metre.beat and weight_of(verset, note.onset) < 2:
            continue
        start = notes[n - 1].onset if n and not note.after_rest else note.onset
        key = "cadence.half" if n < len(notes) - 1 else "cadence.half.end"
        words = [say(key, degree=say.written(note.pitch.letter))]
        third = over(note.pitch, note.figures[-1] if signs else None, 3, verset.signature)
        if is_major(note.pitch, third):
            words.append(say("cadence.half.raised"))
        place = verset.place(note.onset)
        found.append(Cadence(start, note.onset, place, note.pitch.letter, "half", "; ".join(words)))
    return found
