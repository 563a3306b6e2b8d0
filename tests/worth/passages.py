"""Passages of the masters as sources: the lowest line of a stretch with one set of voices, the figures that
the voices above it imply, and the voicing that the master chose at each of our sonorities.

A passage is set by the project exactly as a verset is. Pieces are taken from music21's corpus; the list of a
composer is halved by place: models learn from even places, odd ones are kept for reports.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations, pairwise
from pathlib import Path

from builder.analysis import analyse
from builder.counterpoint.check.musicxml import UnreadableScore, from_music21
from builder.counterpoint.figured_bass.events import Event, events
from builder.counterpoint.figured_bass.sonority import consonant, read_figure
from builder.music import (
    KEYBOARD,
    VOICES,
    Bar,
    Clef,
    Figure,
    FigureSign,
    Metre,
    Note,
    Pitch,
    Score,
    Signature,
)
from builder.source import Verset
from builder.source.verset import GivenNote

CLEFS = {"cantus": "C1", "altus": "C3", "tenor": "C4", "bassus": "F4"}
BEAT = Fraction(1)
STACKS = {
    *((4,), (4, 5), (3, 4), (3, 4, 6), (4, 6), (2,), (2, 4), (2, 4, 6), (2, 6), (2, 5), (2, 4, 5)),
    *((7,), (3, 7), (5, 7), (3, 5, 7), (5, 6), (3, 5, 6), (9,), (3, 9), (5, 9), (3, 5, 9), (6, 9), (3, 6, 9)),
    *((7, 9), (3, 7, 9), (4, 9), (4, 5, 9)),
}
"""Figures in which a passage is written beside the plain ones; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Passage:
    """A stretch of a piece: its sonorities as the project cuts them, and the pitches of the upper voices that
    the master has there, highest first (None where his notes stand outside what can be written as
    figures)."""

    piece: str
    first_bar: int
    verset: Verset
    events: tuple[Event, ...]
    chosen: tuple[tuple[Pitch, ...] | None, ...]

    @property
    def bars(self) -> Fraction:
        """Length in bars of four quarters."""
        return (self.events[-1].end - self.events[0].onset) / 4


def half(composer: str, *, odd: bool) -> list[Path]:
    """The files of a composer at even places of the corpus's list (the first has place 0), from which models
    learn, or at odd ones, which reports read."""
    import music21

    return list(music21.corpus.getComposer(composer)[int(odd) :: 2])


def pieces(composer: str, *, odd: bool, every: int = 1, first: int = 0) -> Iterator[tuple[str, Score]]:
    """Two- to four-voice pieces in common time, halved from breve bars, from one half of a composer's
    list."""
    import music21

    for path in half(composer, odd=odd)[first::every]:
        if str(path).endswith(".rntxt"):
            continue
        try:
            score = from_music21(music21.corpus.parse(path), path.name)
        except (UnreadableScore, music21.exceptions21.Music21Exception, ValueError):
            continue
        if len(score.parts) <= 4 and score.metre.symbol in ("4/2", "C", "4/4", "2/2", "C|"):
            yield path.name, halved(score) if score.metre.symbol == "4/2" else score


def halved(score: Score) -> Score:
    """The same score in note values half as long."""
    half = Fraction(1, 2)
    bars = tuple(Bar(b.number, b.onset * half, b.length * half) for b in score.bars)
    parts = tuple(
        replace(p, notes=tuple(replace(n, onset=n.onset * half, duration=n.duration * half) for n in p.notes))
        for p in score.parts
    )
    return replace(score, metre=Metre.parse("C"), bars=bars, parts=parts)


def passages(name: str, score: Score, least: Fraction = Fraction(8)) -> Iterator[Passage]:
    """The passages of a piece of at least so many quarters: the same voices sound throughout, the lowest
    voice is the lowest, no voices cross, and every sonority can be written in figures."""
    lines = [p.sounding() for p in score.parts]
    for start, end, sounding in _stretches(lines, least):
        found = _passage(name, score, [_cut(lines[v], start, end) for v in sounding], start, end)
        if found is not None:
            yield found


def _cut(line: Sequence[Note], start: Fraction, end: Fraction) -> list[Note]:
    """The notes of a line between two times, both ends cut."""
    found = []
    for n in line:
        first, last = max(n.onset, start), min(n.end, end)
        if last > first:
            found.append(replace(n, onset=first, duration=last - first, tied=False))
    return found


def _stretches(
    lines: Sequence[Sequence[Note]], least: Fraction
) -> Iterator[tuple[Fraction, Fraction, tuple[int, ...]]]:
    """Times between which the same two to four voices sound, none of them ever crossed."""
    times = sorted({t for line in lines for n in line for t in (n.onset, n.end)})
    begun: tuple[Fraction, tuple[int, ...]] | None = None
    waiting = [iter(line) for line in lines]
    now = [next(line, None) for line in waiting]
    for time in [*times, times[-1] + 1 if times else Fraction(0)]:
        for v, line in enumerate(waiting):
            while (note := now[v]) is not None and note.end <= time:
                now[v] = next(line, None)
        sounding = tuple(v for v, n in enumerate(now) if n is not None and n.onset <= time)
        pitches = [n.pitch.midi for v in sounding if (n := now[v]) is not None and n.pitch is not None]
        whole = 2 <= len(pitches) <= 4 and pitches == sorted(pitches, reverse=True)
        if begun is not None and (not whole or sounding != begun[1]):
            if time - begun[0] >= least:
                yield begun[0], time, begun[1]
            begun = None
        if begun is None and whole:
            begun = time, sounding


def _passage(
    name: str, score: Score, lines: Sequence[Sequence[Note]], start: Fraction, end: Fraction
) -> Passage | None:
    voices = _named(lines)
    if voices is None:
        return None
    bars, shift = _frame(score, start, end, len(voices) - 1)
    lines = [[replace(n, onset=n.onset + shift) for n in line] for line in lines]
    given = []
    for place, (voice, line) in enumerate(zip(voices, lines[:-1])):
        # The upper voices enter one after another in bars of their own; those are not set.
        given.append(
            GivenNote(Note(4 * place * BEAT, 4 * BEAT, line[0].pitch), voice, Clef.parse(CLEFS[voice]))
        )
    upper, bass = lines[:-1], lines[-1]
    figured = [
        (note, (Figure(note.onset, note.duration, (), dash=True),))
        if _passes(bass, i, upper)
        else (note, figures_over(note, upper, score.signature))
        for i, note in enumerate(bass)
    ]
    if any(f is None for _, f in figured):
        return None
    own = [GivenNote(n, voices[-1], Clef.parse(CLEFS[voices[-1]]), f or ()) for n, f in figured]
    gap = own[0].note.onset - given[-1].note.end
    if gap > 0:
        given.append(
            GivenNote(Note(given[-1].note.end, gap, None), voices[-2], Clef.parse(CLEFS[voices[-2]]))
        )
    verset = Verset(name, name, name, Metre.parse("C"), score.signature, bars, (*given, *own))
    verset = spelled_out(verset, upper, start + shift)
    cut = [e for e in events(verset, analyse(verset)) if e.onset >= start + shift]
    if len(cut) < 4:
        return None
    cut[0] = replace(cut[0], joined=False, opening=False)
    cut[-1] = replace(cut[-1], closing=False)
    chosen = tuple(_chosen(e, upper) for e in cut)
    return Passage(name, score_bar(score, start), verset, tuple(cut), chosen)


def _passes(bass: Sequence[Note], i: int, upper: Sequence[Sequence[Note]]) -> bool:
    """Whether a note of the lowest voice only passes, or neighbours, under voices that are held and clash
    with it: a source writes a dash there."""
    if not 0 < i < len(bass) - 1:
        return False
    before, note, after = (n.pitch for n in bass[i - 1 : i + 2])
    assert before is not None and note is not None and after is not None
    by_step = abs(note.diatonic - before.diatonic) == 1 == abs(after.diatonic - note.diatonic)
    over = [found[1] for line in upper if (found := at(line, bass[i].onset)) is not None]
    held = all(n.onset < bass[i].onset and n.end >= bass[i].end for n in over)
    clash = any(n.pitch is not None and not consonant(note, n.pitch) for n in over)
    return by_step and held and clash


def score_bar(score: Score, time: Fraction) -> int:
    return next((b.number for b in score.bars if b.onset <= time < b.end), score.bars[-1].number)


def _frame(score: Score, start: Fraction, end: Fraction, above: int) -> tuple[tuple[Bar, ...], Fraction]:
    """Bars of four quarters for the entries and the passage, and by how much the passage moves."""
    place = (
        start - next((b.onset for b in score.bars if b.onset <= start < b.end), start) if score.bars else 0
    )
    first = 4 * (above + 1) * BEAT + place % 4
    count = int(-(-(first + end - start) // 4))
    return tuple(Bar(n + 1, 4 * n * BEAT, 4 * BEAT) for n in range(count)), first - start


def _named(lines: Sequence[Sequence[Note]]) -> tuple[str, ...] | None:
    """Names of voices, so that their notes lie within the compass; None where no names would do."""
    best: tuple[int, tuple[str, ...]] | None = None
    for names in combinations(VOICES, len(lines)):
        outside = 0
        for voice, line in zip(names, lines):
            low, high = (p.diatonic for p in KEYBOARD[voice])
            outside += sum(not low <= n.pitch.diatonic <= high for n in line if n.pitch is not None)
        if best is None or outside <= best[0]:
            best = outside, names
    return best[1] if best is not None and best[0] == 0 else None


def at(line: Sequence[Note], time: Fraction) -> tuple[int, Note] | None:
    return next(((i, n) for i, n in enumerate(line) if n.onset <= time < n.end), None)


def meant(bass: Pitch, line: Sequence[Note], time: Fraction, end: Fraction) -> Pitch:
    """The pitch of a voice at a time; of an accented passing note the one it passes to."""
    found = at(line, time)
    assert found is not None
    i, note = found
    assert note.pitch is not None
    after = line[i + 1] if i + 1 < len(line) else None
    if note.onset == time and note.duration <= BEAT / 2 and after is not None and after.pitch is not None:
        short = after.onset < end and abs(after.pitch.diatonic - note.pitch.diatonic) == 1
        if short and not consonant(bass, note.pitch) and consonant(bass, after.pitch):
            return after.pitch
    return note.pitch


def beat_end(time: Fraction, note: Note) -> Fraction:
    """Where the beat of a time ends, or the note before it."""
    return min(time - time % BEAT + BEAT, note.end)


def falls(note: Note, line: Sequence[Note]) -> Iterator[Fraction]:
    """When, between the beats of a note of the lowest voice, a voice falls by step from a clash with it that
    it held over the beat: a source writes 4 3, 7 6, 9 8 there."""
    bass = note.pitch
    assert bass is not None
    for before, after in pairwise(line):
        time = after.onset
        inside = note.onset < time < note.end and time % BEAT and before.end == time
        if not inside or before.pitch is None or after.pitch is None:
            continue
        held = before.onset < max(note.onset, time - time % BEAT)
        down = after.pitch.diatonic - before.pitch.diatonic == -1
        if held and down and not consonant(bass, before.pitch) and consonant(bass, after.pitch):
            yield time


def figures_over(
    note: Note, upper: Sequence[Sequence[Note]], signature: Signature, *, within: bool = False
) -> tuple[Figure, ...] | None:
    """What the voices above a note imply: figures at its onset and at each beat where the sonority is another
    one (`within`: and where a suspension falls within a beat); None where no figure says it."""
    bass = note.pitch
    assert bass is not None
    times = [note.onset]
    beat = note.onset + BEAT - note.onset % BEAT
    while beat < note.end:
        times.append(beat)
        beat += BEAT
    if within:
        times = sorted({*times, *(time for line in upper for time in falls(note, line))})
    found: list[tuple[Fraction, tuple[FigureSign, ...]]] = []
    for i, time in enumerate(times):
        end = times[i + 1] if i + 1 < len(times) else note.end
        end = max(end, beat_end(time, note))
        tones = {meant(bass, line, time, end) for line in upper}
        signs = _signs(bass, tones, signature)
        if signs is None:
            if i == 0:
                return None
            continue
        if not found or signs != found[-1][1]:
            found.append((time, signs))
    if len(found) == 1 and not found[0][1]:
        return ()
    ends = [t for t, _ in found[1:]] + [note.end]
    return tuple(
        Figure(time, end - time, signs or _plain(bass, [meant(bass, line, time, end) for line in upper]))
        for (time, signs), end in zip(found, ends)
    )


def _plain(bass: Pitch, tones: Sequence[Pitch]) -> tuple[FigureSign, ...]:
    """The figure that calls a plain sonority back: its third, else its fifth, else the octave."""
    numbers = {(t.diatonic - bass.diatonic) % 7 + 1 for t in tones}
    return (FigureSign(next((n for n in (3, 5) if n in numbers), 8)),)


def _signs(bass: Pitch, tones: set[Pitch], signature: Signature) -> tuple[FigureSign, ...] | None:
    """The figure for some tones over a bass; empty for a plain third and fifth."""
    numbers = {(t.diatonic - bass.diatonic) % 7 + 1: t for t in tones}
    if 1 in numbers:
        numbers[8] = numbers.pop(1)
    if len({(t.step, t.alter) for t in tones}) != len({t.step for t in tones}):
        return None
    plain = set(numbers) <= {3, 5, 8}
    if 2 in numbers and 3 in numbers and 4 not in numbers:
        numbers[9] = numbers.pop(2)
    stack = [n for n in numbers if n != 8 and not (n == 3 and 6 in numbers and 5 not in numbers)]
    if plain:
        stack = []
    if set(numbers) <= {3, 6, 8} and 6 in numbers:
        stack = [6]
    elif not plain and tuple(sorted(stack)) not in STACKS:
        return None
    found = read_figure(bass, tuple(FigureSign(n) for n in sorted(stack, reverse=True)), signature)
    given = {m.number: m.alter for m in found.members}
    signs = []
    for number in sorted({*stack, *numbers} - {8}, reverse=True):
        tone = numbers[number]
        sign = ""
        if given.get(number, signature.alter(tone.step)) != tone.alter:
            natural = signature.alter(tone.step)
            sign = "n" if tone.alter == 0 else "#" if tone.alter > natural else "b"
        if number in stack or sign:
            signs.append(FigureSign(number, sign, lone=number == 3 and number not in stack))
    return tuple(signs)


def spelled_out(verset: Verset, upper: Sequence[Sequence[Note]], start: Fraction) -> Verset:
    """The same source with numbers and signs written out wherever its reader would take other tones than the
    master's: by the accidentals in force, by a sixth supplied, by a leading note raised."""
    for _ in range(5):
        cut = {e.onset: e for e in events(verset, analyse(verset))}
        given = tuple(_figured(g, upper, cut, verset.signature) for g in verset.given)
        given = tuple(new if g.note.onset >= start else g for g, new in zip(verset.given, given))
        if given == verset.given:
            break
        verset = replace(verset, given=given)
    return verset


def _figured(
    given: GivenNote, upper: Sequence[Sequence[Note]], cut: Mapping[Fraction, Event], signature: Signature
) -> GivenNote:
    """A note with its figures, those that are read otherwise written out."""
    bass = given.note.pitch
    if bass is None:
        return given
    whole = Figure(given.note.onset, given.note.duration, ())
    found = []
    for figure in given.figures or (whole,):
        event = cut.get(figure.onset)
        lines = [line for line in upper if at(line, figure.onset) is not None]
        if event is None or event.hold or len(lines) < len(upper):
            found.append(figure)
            continue
        end = max(event.end, beat_end(figure.onset, given.note))
        tones = (meant(bass, line, figure.onset, end) for line in lines)
        wanted = {(t.diatonic - bass.diatonic) % 7 + 1: t.alter for t in tones}
        wanted.pop(1, None)
        read = {(m.number - 1) % 7 + 1: m.alter for m in event.variants[0].members}
        wrong = {n for n, alter in wanted.items() if read.get(n) != alter}
        written = {(s.number - 1) % 7 + 1: s for s in figure.signs}
        if not written and (wrong or (6 in read and 6 not in wanted)):
            written = {n: FigureSign(n) for n in wanted} or {1: FigureSign(8)}
        for n in wrong:
            before = written.get(n, FigureSign(n))
            sign = _sign(wanted[n], signature.alter((bass.diatonic + n - 1) % 7))
            # A sign before it may have brought the tone back already.
            written[n] = FigureSign(before.number, "" if sign == before.sign else sign)
        signs = tuple(sorted(written.values(), key=lambda s: -s.number))
        found.append(replace(figure, signs=signs))
    figures = tuple(f for f in found if f.signs or len(found) > 1)
    return replace(given, figures=figures)


def _sign(alter: int, own: int) -> str:
    """The sign that gives a tone its alteration, whatever is in force."""
    if alter == 0:
        return "n"
    return "#" if alter > own or alter == own > 0 else "b"


def read_otherwise(event: Event, note: Note, upper: Sequence[Sequence[Note]]) -> int:
    """How many tones of the upper voices at a sonority over a note the reader of its figure alters
    otherwise."""
    read = {(m.number - 1) % 7: m.alter for m in event.variants[0].members}
    end = max(event.end, beat_end(event.onset, note))
    tones = {meant(event.bass, line, event.onset, end) for line in upper}
    return sum(read.get((t.diatonic - event.bass.diatonic) % 7, t.alter) != t.alter for t in tones)


def _chosen(event: Event, upper: Sequence[Sequence[Note]]) -> tuple[Pitch, ...] | None:
    found = []
    for line in upper:
        if at(line, event.onset) is None:
            return None
        found.append(meant(event.bass, line, event.onset, event.end))
    return tuple(found)
