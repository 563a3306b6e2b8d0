"""Theme and entries: who comes in when, and how each imitates the first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder.analysis.findings import Entry, Theme
from builder.analysis.imitation import STEPS_ALONE, Match, imitate, same_intervals, without_accidentals
from builder.analysis.line import Sung, stretches
from builder.analysis.wording import Say, distance, letter, listing, where
from builder.music import Pitch
from builder.source import Verset

RESTATED = 5
"""Notes a theme must have to be heard as coming again in the midst of a voice's line."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A place where an entry may stand: the notes from there to where another voice takes the
    line, and how they imitate the first voice."""

    notes: tuple[Sung, ...]
    match: Match | None


def theme_and_entries(verset: Verset, notes: Sequence[Sung], say: Say) -> tuple[Theme, tuple[Entry, ...]]:
    """The theme and every entry in order. At least one note must sound.

    A voice enters where the line changes to it. A voice that has entered before enters again only
    with the theme: after another voice, after a rest, or restated note for note.
    """
    runs = stretches(tuple(notes))
    first = runs[0]
    found = [Candidate(run, imitate(first, run)) for run in runs[1:]]
    size = max((c.match.skipped + c.match.count for c in found if c.match), default=0)
    answered = size > 0
    theme_notes = first[:size] if answered else _phrase(first)
    heard = {first[0].voice}
    entries = [_first_entry(verset, theme_notes, answered, say)]
    for candidate in found:
        voice = candidate.notes[0].voice
        if candidate.match or voice not in heard:
            entries.append(_entry(verset, theme_notes, candidate, say))
        heard.add(voice)
    if answered:
        entries += [_entry(verset, theme_notes, c, say) for c in _again(runs, theme_notes, entries)]
    entries.sort(key=lambda e: e.onset)
    theme = Theme(
        len(theme_notes),
        theme_notes[-1].end - theme_notes[0].onset,
        tuple(n.pitch for n in theme_notes),
    )
    return theme, tuple(entries)


def _phrase(run: Sequence[Sung]) -> tuple[Sung, ...]:
    """The notes up to the first rest."""
    for n, note in enumerate(run):
        if note.before_rest:
            return tuple(run[: n + 1])
    return tuple(run)


def _again(
    runs: Sequence[tuple[Sung, ...]], theme: tuple[Sung, ...], entries: Sequence[Entry]
) -> list[Candidate]:
    """The whole theme restated inside the stretch of a voice."""
    found: list[Candidate] = []
    free_from = max(e.end for e in entries[:1])
    for run in runs:
        for n in range(1, len(run)):
            note = run[n]
            over = any(e.onset <= note.onset < e.end for e in entries) or note.onset < free_from
            if over or (len(theme) < RESTATED and not note.after_rest):
                continue
            match = imitate(theme, run[n:], strict=not note.after_rest)
            if match and match.count == len(theme) and not match.added:
                found.append(Candidate(run[n:], match))
                free_from = run[n + match.count - 1].end
    return found


def _first_entry(verset: Verset, theme: Sequence[Sung], answered: bool, say: Say) -> Entry:
    first = theme[0]
    key = "entry.theme" if answered else "entry.alone"
    return Entry(
        first.voice,
        first.onset,
        theme[-1].end,
        verset.place(first.onset),
        first.pitch,
        first.clef,
        "theme",
        len(theme),
        say(key, notes=len(theme)),
    )


def _entry(verset: Verset, theme: tuple[Sung, ...], candidate: Candidate, say: Say) -> Entry:
    notes, match = candidate.notes, candidate.match
    first = notes[0]
    place = verset.place(first.onset)
    if match is None:
        length = theme[-1].end - theme[0].onset
        end = next((n.end for n in notes if n.end - first.onset >= length), notes[-1].end)
        words = _free(theme, notes, say)
        return Entry(first.voice, first.onset, end, place, first.pitch, first.clef, "free", 0, words)
    kind, words = _judged(verset, theme, notes, match, say)
    last = notes[match.added + match.count - 1]
    return Entry(first.voice, first.onset, last.end, place, first.pitch, first.clef, kind, match.count, words)


def _free(theme: Sequence[Sung], notes: Sequence[Sung], say: Say) -> str:
    """What a free entry has in common with the theme, whatever the rhythm."""
    mirrored = _agreeing(theme, notes, -1)
    words = say("entry.free", matched=_agreeing(theme, notes, 1))
    if mirrored >= STEPS_ALONE:
        words = f"{words}; {say('entry.mirror', matched=mirrored)}"
    return words


def _agreeing(theme: Sequence[Sung], notes: Sequence[Sung], way: int) -> int:
    """How many notes from the head on move by the theme's steps, or (`way` -1) against them."""
    count = 1
    for n in range(1, min(len(theme), len(notes))):
        step = theme[n].pitch.diatonic - theme[n - 1].pitch.diatonic
        if notes[n].pitch.diatonic - notes[n - 1].pitch.diatonic != way * step:
            break
        count += 1
    return count


def _judged(
    verset: Verset, theme: tuple[Sung, ...], notes: tuple[Sung, ...], match: Match, say: Say
) -> tuple[str, str]:
    """Kind of an answer and the evidence for it."""
    mine = theme[match.skipped : match.skipped + match.count]
    theirs = notes[match.added : match.added + match.count]
    after_mine = theme[match.skipped + match.count :]
    after_theirs = notes[match.added + match.count :]
    pitches = [n.pitch for n in mine], [n.pitch for n in theirs]
    differs = same_intervals(*pitches)
    aside: tuple[str, ...] = ()
    if differs is not None and not match.bends:
        plain_mine, aside_mine = without_accidentals(mine, next(iter(after_mine), None), verset.signature)
        plain_theirs, aside_theirs = without_accidentals(
            theirs, next(iter(after_theirs), None), verset.signature
        )
        if same_intervals(plain_mine, plain_theirs) is None:
            differs = None
            aside = tuple(
                say(
                    f"entry.accidental.{a.reason}",
                    pitch=letter(say, a.note.pitch.name),
                    place=where(say, verset.place(a.note.onset)),
                )
                for a in (*aside_mine, *aside_theirs)
            )
    kind = "exact" if differs is None else "tonal"
    parts = [_extent(kind, theme, match, say), *_concessions(match, say)]
    if differs is not None and match.bends:
        parts.append(_bend(verset, mine, theirs, match, say))
    elif differs is not None:
        parts.append(say("bend.semitone", note=match.skipped + differs + 1))
    parts += aside
    if match.skipped + match.count < len(theme):
        parts.append(say("entry.cut"))
    return kind, "; ".join(parts)


def _extent(kind: str, theme: Sequence[Sung], match: Match, say: Say) -> str:
    offset = max(match.offsets, key=lambda o: (match.offsets.count(o), o))
    way = "level.same" if not offset else "level.above" if offset > 0 else "level.below"
    level = say(way, interval=distance(say, offset) if offset else "")
    whole = ".whole" if match.count == len(theme) else ""
    return say(f"entry.{kind}{whole}", matched=match.count, notes=len(theme), level=level)


def _concessions(match: Match, say: Say) -> list[str]:
    parts = []
    if match.scale > 1:
        parts.append(say("entry.longer", times=match.scale))
    elif match.scale < 1:
        parts.append(say("entry.shorter", times=1 / match.scale))
    if not match.rhythm:
        parts.append(say("entry.rhythm"))
    if match.first_value:
        parts.append(say("entry.first-value"))
    if match.skipped or match.added:
        key = {(1, 0): "without-first", (0, 1): "extra-first", (1, 1): "other-first"}
        parts.append(say(f"entry.{key[match.skipped, match.added]}"))
    return parts


def _bend(verset: Verset, mine: Sequence[Sung], theirs: Sequence[Sung], match: Match, say: Say) -> str:
    """The evidence for a bent answer: final and fifth that change places, or the bent note."""
    final = [g.note.pitch for g in verset.given if g.note.pitch][-1].step
    pair = {final: (final + 4) % 7, (final + 4) % 7: final}
    swapped: dict[tuple[Pitch, Pitch], None] = {}
    for a, b in zip(mine, theirs):
        if pair.get(a.pitch.step) == b.pitch.step:
            swapped.setdefault((a.pitch, b.pitch))
    if len({a.step for a, _ in swapped}) == 2:
        told = [say("bend.pair", theme=letter(say, a.name), answer=letter(say, b.name)) for a, b in swapped]
        return say("bend.exchange", pairs=listing(say, told))
    bent = next(n for n in range(1, len(match.offsets)) if match.offsets[n] != match.offsets[n - 1])
    return say(
        "bend.step",
        note=match.skipped + bent + 1,
        theme=letter(say, mine[bent].pitch.name),
        answer=letter(say, theirs[bent].pitch.name),
    )
