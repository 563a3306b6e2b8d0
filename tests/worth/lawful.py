"""What the masters' own basses show of the rules: what cannot be built, reached, sounded or kept.

    python tests/worth/lawful.py palestrina|chorales|pinned [--odd] [--every N] [--first K] [--most N]

`palestrina`: voicings of G. P. da Palestrina over his own basses that are not among ours, places without a
way, and how settings drawn over his basses treat diminished sonorities of the sixth. `chorales`: the basses
and figures of J. S. Bach's chorales, set in four voices: figures not sounded, accidentals other than his,
errors, places without a way (`--later`: with the licences of a later style). `pinned`: our own cantus set by
hand in the same chorales. Even places of music21's lists by default; odd ones for reports only.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from choices import row_of
from learn import kept
from passages import CLEFS, Passage, at, figures_over, passages, read_otherwise, spelled_out

from builder.analysis import analyse
from builder.counterpoint import realise
from builder.counterpoint.check.finding import Realisation
from builder.counterpoint.check.musicxml import UnreadableScore, from_music21
from builder.counterpoint.figured_bass.events import events
from builder.counterpoint.figured_bass.sonority import consonant
from builder.counterpoint.search.costs import Weights
from builder.counterpoint.search.draws import drawn
from builder.counterpoint.search.lattice import Lattice, Path, build
from builder.music import VOICES, Bar, Clef, Figure, Metre, Note, Score
from builder.source import Verset
from builder.source.verset import GivenNote, Licence, Pin

BEAT = Fraction(1)


def palestrina(some: Iterable[Passage]) -> Counter[str]:
    """Counts over passages: voicings of his and those of them that cannot be built; places and those without
    a way; diminished sonorities of the sixth in settings of ours (of all voices), those with a doubled sixth,
    and those whose tritone leaps away with both its tones."""
    found: Counter[str] = Counter()
    for n, passage in enumerate(some):
        lattice = build(passage.events, Weights.of({}))
        found["places"] += sum(not e.hold for e in passage.events)
        found["no way"] += len(lattice.blocked)
        for i, (event, chosen) in enumerate(zip(passage.events, passage.chosen)):
            if chosen is not None and not event.hold:
                found["voicings"] += 1
                found["not buildable"] += row_of(lattice, i, chosen) is None
        found.update(_tritones(lattice, drawn(lattice, (n,), 1)[0]))
    return found


def _tritones(lattice: Lattice, path: Path) -> Iterator[str]:
    rows = [lattice.row(i, state) for i, state in enumerate(path)]
    for i, (layer, row) in enumerate(zip(lattice.layers, rows)):
        numbers, notes = layer.number[row].tolist(), layer.m[row].tolist()
        thirds = [v for v, n in enumerate(numbers) if n == 3]
        sixths = [v for v, n in enumerate(numbers) if n == 6]
        met = [(a, b) for a in thirds for b in sixths if (notes[a] - notes[b]) % 12 == 6]
        if not met or lattice.events[i].hold:
            continue
        yield "diminished"
        if len(sixths) > 1:
            yield "sixth doubled"
        after = lattice.layers[i + 1] if i + 1 < len(rows) else None
        if after is not None and after.shape.upper == layer.shape.upper:
            moves = abs(after.d[rows[i + 1]] - layer.d[row]).tolist()
            if any(moves[a] > 1 and moves[b] > 1 for a, b in met):
                yield "both leap"


def chorale_scores(*, odd: bool, most: int) -> Iterator[tuple[str, Score]]:
    """Chorales of four voices in bars of four quarters, from one half of music21's list."""
    import music21

    found = 0
    for path in list(music21.corpus.chorales.Iterator(returnType="filename"))[int(odd) :: 2]:
        if found == most:
            return
        try:
            score = from_music21(music21.corpus.parse(path), str(path))
        except (UnreadableScore, music21.exceptions21.Music21Exception, ValueError):
            continue
        if len(score.parts) == 4 and score.metre.bar == 4:
            found += 1
            yield str(path), score


def chorale(name: str, score: Score) -> tuple[Verset, list[list[Note]]]:
    """A verset whose bass is the chorale's, with what his voices imply over each of its notes in figures,
    signs written where the reader would alter otherwise; and his upper voices, moved with it. Where no figure
    says what sounds, none is written; a dissonance over a note that passes between the beats has a dash."""
    parts = {p.voice: p.sounding() for p in score.parts}
    start = Fraction(12)
    moved = {v: [replace(n, onset=n.onset + start, tied=False) for n in parts[v]] for v in VOICES}
    upper = [moved[v] for v in VOICES[:3]]
    given = [
        GivenNote(Note(4 * n * BEAT, 4 * BEAT, moved[v][0].pitch), v, Clef.parse(CLEFS[v]))
        for n, v in enumerate(VOICES[:3])
    ]
    clef = Clef.parse("F4")
    for n, note in enumerate(moved["bassus"]):
        beats = [note.onset, *(BEAT * n for n in range(int(note.onset) + 1, int(-(-note.end // 1))))]
        whole = all(at(line, time) is not None for line in upper for time in beats)
        figures = figures_over(note, upper, score.signature, within=True) if whole else None
        if figures and _passes_between(moved["bassus"], n, upper):
            figures = (Figure(note.onset, note.duration, (), dash=True),)
        given.append(GivenNote(note, "bassus", clef, figures or ()))
    count = int(-(-given[-1].note.end // 4))
    bars = tuple(Bar(n + 1, 4 * n * BEAT, 4 * BEAT) for n in range(count))
    verset = Verset(name, name, name, Metre.parse("C"), score.signature, bars, tuple(given))
    return spelled_out(verset, upper, start), upper


def _passes_between(bass: Sequence[Note], n: int, upper: Sequence[Sequence[Note]]) -> bool:
    """Whether a note of the bass begins off the beat, is as short as that, comes and goes by step, and
    clashes with a voice."""
    if not 0 < n < len(bass) - 1 or not bass[n].onset % BEAT or bass[n].duration > BEAT / 2:
        return False
    before, note, after = (x.pitch for x in bass[n - 1 : n + 2])
    assert before is not None and note is not None and after is not None
    by_step = abs(note.diatonic - before.diatonic) == 1 == abs(after.diatonic - note.diatonic)
    over = [found[1].pitch for line in upper if (found := at(line, bass[n].onset)) is not None]
    return by_step and any(p is not None and not consonant(note, p) for p in over)


LATER = tuple(
    Licence(rule, 0, "figured bass after 1700", of_course=True)
    for rule in ("suspension-unprepared", "suspension-unresolved")
)
"""What a course of a later style allows: dissonances that are struck, and that need not fall."""


def chorales(some: Iterable[tuple[str, Score]], licences: tuple[Licence, ...] = ()) -> Counter[str]:
    """Counts over chorales set by us."""
    found: Counter[str] = Counter()
    for name, score in some:
        verset, upper = chorale(name, score)
        verset = replace(verset, licences=licences)
        analysis = analyse(verset)
        found["chorales"] += 1
        for event in events(verset, analysis):
            if event.voice == "bassus" and not event.hold and all(at(x, event.onset) for x in upper):
                found["bass notes"] += 1
                note = verset.given_at(event.onset).note
                found["other accidental"] += read_otherwise(event, note, upper)
        _told(realise(verset, analysis), found)
    return found


def _told(made: Realisation, found: Counter[str]) -> None:
    blocked = {f.onset for f in made.findings if f.rule == "no-way"}
    found["no way"] += len(blocked)
    for finding in made.findings:
        near = any(abs(finding.onset - onset) <= 2 for onset in blocked)
        if finding.allowed:
            found["allowed"] += 1
        elif finding.rule == "figure-not-sounded":
            found["not sounded" + (" where no way led" if near else "")] += 1
        elif finding.severity == "error" and finding.rule != "no-way":
            found["errors" + (" where no way led" if near else "")] += 1
            found[f"  {finding.rule}"] += not near


def pinned(some: Iterable[Verset], licences: tuple[Licence, ...] = ()) -> Counter[str]:
    """Counts over versets set again with our own cantus set by hand: figures not sounded and errors and
    warnings that were not there before."""
    found: Counter[str] = Counter()
    for verset in some:
        verset = replace(verset, licences=licences)
        analysis = analyse(verset)
        first = realise(verset, analysis)
        line = [n for n in first.score.part("cantus").sounding() if n.onset >= _entered(verset)]
        pins = (Pin("plain", "cantus", tuple(replace(n, tied=False) for n in line)),)
        then = realise(replace(verset, pins=pins), analysis)
        found["versets"] += 1
        blocked = [f.onset for made in (first, then) for f in made.findings if f.rule == "no-way"]
        before, after = (_faults(x, blocked) for x in (first, then))
        new = after - before
        found["with new findings"] += bool(new)
        found["with more findings"] += after.total() > before.total()
        found.update({f"  new {rule}": n for rule, n in new.items()})
    return found


def _entered(verset: Verset) -> Fraction:
    """When the cantus leaves the given line to the next voice."""
    return next((g.note.onset for g in verset.given if g.voice != "cantus"), verset.end)


def _faults(made: Realisation, blocked: Sequence[Fraction]) -> Counter[str]:
    """Errors and warnings but those near places without a way."""
    return Counter(
        f.rule
        for f in made.findings
        if f.severity in ("error", "warning") and not f.allowed and f.rule != "no-way"
        if not any(abs(f.onset - onset) <= 2 for onset in blocked)
    )


def main() -> None:
    """Reads, sets, counts."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("what", choices=("palestrina", "chorales", "pinned"))
    asked.add_argument("--odd", action="store_true", help="for reports only")
    asked.add_argument("--every", type=int, default=5)
    asked.add_argument("--first", type=int, nargs="*", default=[0])
    asked.add_argument("--most", type=int, default=1000, help="chorales at most")
    asked.add_argument("--later", action="store_true", help="with the licences of a later style")
    options = asked.parse_args()
    if options.what == "palestrina":
        read = (
            passage
            for first in options.first
            for name, score in kept("palestrina", odd=options.odd, every=options.every, first=first)
            for passage in passages(name, score, 4)
        )
        found = palestrina(read)
    elif options.what == "chorales":
        scores = chorale_scores(odd=options.odd, most=options.most)
        found = chorales(scores, LATER if options.later else ())
    else:
        scores = chorale_scores(odd=options.odd, most=options.most)
        found = pinned((chorale(*each)[0] for each in scores), LATER if options.later else ())
    for name, times in found.items():
        print(f"{name}: {times}")


if __name__ == "__main__":
    main()
