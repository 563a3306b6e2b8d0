"""Judges an entry: how it answers the theme, and the evidence for it in words."""

from __future__ import annotations

from collections.abc import Sequence

from builder.analysis.findings import Entry
from builder.analysis.imitation import STEPS_ALONE, Match, same_intervals, without_accidentals
from builder.analysis.line import Sung
from builder.language.texts import Texts
from builder.music import Pitch
from builder.source import Verset


def first_entry(verset: Verset, theme: Sequence[Sung], answered: bool, say: Texts) -> Entry:
    """The entry of the first voice, which has the theme."""
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
        first.onset,
    )


def free_entry(verset: Verset, theme: Sequence[Sung], notes: Sequence[Sung], say: Texts) -> Entry:
    """The entry of a voice that does not take up the theme; it lasts as long as the theme would."""
    first = notes[0]
    length = theme[-1].end - theme[0].onset
    end = next((n.end for n in notes if n.end - first.onset >= length), notes[-1].end)
    place = verset.place(first.onset)
    words = _free(theme, notes, say)
    return Entry(first.voice, first.onset, end, place, first.pitch, first.clef, "free", 0, words, first.onset)


def answer(
    verset: Verset,
    theme: tuple[Sung, ...],
    notes: tuple[Sung, ...],
    match: Match,
    remarks: Sequence[str],
    final: str,
    say: Texts,
) -> Entry:
    """An entry with the theme. Notes that link to it belong to the voice's line, not to the entry;
    `remarks` are evidence from outside the line."""
    first = notes[match.links]
    kind, words = _judged(verset, theme, notes, match, remarks, final, say)
    last = notes[match.added + match.count - 1]
    return Entry(
        first.voice,
        first.onset,
        last.end,
        verset.place(first.onset),
        first.pitch,
        first.clef,
        kind,
        match.count,
        words,
        notes[0].onset,
    )


def _free(theme: Sequence[Sung], notes: Sequence[Sung], say: Texts) -> str:
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
    verset: Verset,
    theme: tuple[Sung, ...],
    notes: tuple[Sung, ...],
    match: Match,
    remarks: Sequence[str],
    final: str,
    say: Texts,
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
                    pitch=say.written(a.note.pitch),
                    place=say.where(verset.place(a.note.onset)),
                )
                for a in (*aside_mine, *aside_theirs)
            )
    kind = "exact" if differs is None else "modal"
    told: list[str] = []
    if differs is not None and match.bends:
        kind, bend = _bend(final, mine, theirs, match, say)
        told.append(bend)
    elif differs is not None:
        told.append(say("bend.semitone", note=match.skipped + differs + 1))
    parts = [_extent(kind, theme, match, say), *remarks, *_concessions(match, say), *told, *aside]
    if match.skipped + match.count < len(theme):
        parts.append(say("entry.cut"))
    return kind, "; ".join(parts)


def _extent(kind: str, theme: Sequence[Sung], match: Match, say: Texts) -> str:
    offset = max(match.offsets, key=lambda o: (match.offsets.count(o), o))
    way = "level.same" if not offset else "level.above" if offset > 0 else "level.below"
    level = say(way, interval=say.distance(offset) if offset else "")
    whole = ".whole" if match.count == len(theme) else ""
    return say(f"entry.{kind}{whole}", matched=match.count, notes=len(theme), level=level)


def _concessions(match: Match, say: Texts) -> list[str]:
    parts = []
    if match.scale > 1:
        parts.append(say("entry.longer", times=match.scale))
    elif match.scale < 1:
        parts.append(say("entry.shorter", times=1 / match.scale))
    if not match.rhythm:
        parts.append(say("entry.rhythm"))
    if match.first_value:
        parts.append(say("entry.first-value"))
    if match.links:
        parts.append(say("entry.link" if match.links == 1 else "entry.links", notes=match.links))
    elif match.skipped:
        parts.append(say("entry.other-first" if match.added else "entry.without-first"))
    return parts


def _bend(
    final: str, mine: Sequence[Sung], theirs: Sequence[Sung], match: Match, say: Texts
) -> tuple[str, str]:
    """Kind of a bent answer and the evidence: `tonal` where final and fifth change places, else
    `altered`."""
    swapped = _swapped(final, mine, theirs, match)
    if swapped:
        told = [say("bend.pair", theme=say.written(a), answer=say.written(b)) for a, b in swapped]
        return "tonal", say("bend.exchange", pairs=say.listing(told))
    bent = next(n for n in range(1, len(match.offsets)) if match.offsets[n] != match.offsets[n - 1])
    return "altered", say(
        "bend.step",
        note=match.skipped + bent + 1,
        theme=say.written(mine[bent].pitch),
        answer=say.written(theirs[bent].pitch),
    )


def _swapped(
    final: str, mine: Sequence[Sung], theirs: Sequence[Sung], match: Match
) -> list[tuple[Pitch, Pitch]]:
    """The pairs in which final and fifth answer each other, where an answer at the fourth and one at the
    fifth meet on them: both ways round, or one where that is what bends the answer."""
    levels = [offset % 7 for offset in match.offsets]
    if set(levels) != {3, 4}:
        return []
    step = Pitch.parse(f"{final}4").step
    pair = {step: (step + 4) % 7, (step + 4) % 7: step}
    swaps = [
        (a.pitch, b.pitch, n)
        for a, b, n in zip(mine, theirs, levels)
        if pair.get(a.pitch.step) == b.pitch.step
    ]
    rare = min((3, 4), key=levels.count)
    both = len({a.step for a, _, _ in swaps}) == 2
    if not both and not any(level == rare for _, _, level in swaps):
        return []
    return list(dict.fromkeys((a, b) for a, b, _ in swaps))
