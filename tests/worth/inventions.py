"""Are invented versets what was ordered, lawful, unlike one another, and figured as the masters' basses are?

    python tests/worth/inventions.py [SEEDS] [--first SEED] [--lines]

Tones x two, three and four voices x seeds, the characters in turn. Told: orders that no verset came of,
findings, drafts thrown away by reason, the nearest pair of themes and of lines, processor time, and how often
each sonority stands over a note, and how themes and lowest lines move, beside Palestrina's at odd places of
his list (nothing was learned there).
`--lines`: the findings of all levels of diminution too."""

from __future__ import annotations

import argparse
import itertools
import time
from collections import Counter
from collections.abc import Iterator
from difflib import SequenceMatcher
from random import Random

from passages import passages, pieces
from shapes import BAR, first_notes, line_rates, runs, stretches, theme_rates

from builder.analysis import analyse
from builder.invention import CHARACTERS, Invention, Order, OrderError, invent
from builder.invention.figures import SONORITIES, sonority_of
from builder.invention.inventing import BORNE
from builder.music import Note
from builder.setting.setting import set_verset
from builder.source import parse

VOICES = (("cantus", "tenor"), ("cantus", "altus", "bassus"), ("cantus", "altus", "tenor", "bassus"))


def orders(seeds: range) -> Iterator[Order]:
    for tone, voices, seed in itertools.product(range(1, 9), VOICES, seeds):
        character = CHARACTERS[seed % len(CHARACTERS)]
        yield Order(tone, voices, bars=12 + seed % 5, character=character, seed=seed)


def melody(made: Invention, most: int | None = None) -> tuple[tuple[int, float], ...]:
    """Interval to the next note, and length, of the line's first notes."""
    notes = [g.note for g in made.verset.given if g.note.pitch][:most]
    return tuple(
        (b.pitch.diatonic - a.pitch.diatonic, float(a.duration))
        for a, b in itertools.pairwise(notes)
        if a.pitch and b.pitch
    )


def nearest(lines: list[tuple[tuple[int, float], ...]]) -> tuple[float, int]:
    """The greatest likeness of two lines (1: the same), and how many pairs are the same."""
    most, same = 0.0, 0
    for a, b in itertools.combinations(lines, 2):
        same += a == b
        matcher = SequenceMatcher(None, a, b, autojunk=False)
        if matcher.real_quick_ratio() > most and matcher.quick_ratio() > most:
            most = max(most, matcher.ratio())
    return most, same


def rates(counts: Counter[str]) -> str:
    whole = sum(counts.values())
    return "  ".join(f"{s} {100 * counts[s] / whole:.1f}" for s in SONORITIES) if whole else "-"


def masters() -> dict[int, Counter[str]]:
    found: dict[int, Counter[str]] = {1: Counter(), 2: Counter(), 3: Counter()}
    for name, score in pieces("palestrina", odd=True, every=6):
        for passage in passages(name, score):
            last = passage.verset.given[-1].voice
            for g in passage.verset.given:
                kind = sonority_of(g.figures) if g.voice == last and g.note.pitch else None
                if kind:
                    found[len(passage.verset.voices) - 1][kind] += 1
    return found


def steps_of_theme(made: Invention) -> list[int]:
    notes = [g.note.pitch.diatonic for g in made.verset.given if g.note.pitch]
    return notes[: made.analysis.theme.notes]


def free_line(made: Invention) -> list[Note]:
    """What the lowest voice has behind its entry, but for its last note."""
    own = [g.note for g in made.verset.given if g.voice == made.verset.given[-1].voice and g.note.pitch]
    return own[made.analysis.theme.notes : -1]


def shapes(found: list[Invention]) -> None:
    """Tells how themes and lines move, ours and the masters'."""
    dice = Random(1)
    lengths = [made.analysis.theme.notes for made in found]
    common = [made for made in found if made.verset.metre.bar == BAR]
    print("ours   ", theme_rates(map(steps_of_theme, found)))
    print("ours   ", line_rates(s for made in common if (line := free_line(made)) for s in stretches(line)))
    scores = [score for _, score in pieces("palestrina", odd=True, every=6)]
    themes = (steps for score in scores for steps in first_notes(score, dice.choices(lengths, k=9)))
    print("masters", theme_rates(themes))
    lines = (run for score in scores for run in runs(score.parts[-1].sounding()))
    print("masters", line_rates(s for line in lines for s in stretches(line)))


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("seeds", type=int, nargs="?", default=8)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--lines", action="store_true")
    options = asked.parse_args()
    thrown: Counter[str] = Counter()
    findings: Counter[str] = Counter()
    found: list[Invention] = []
    sonorities: dict[int, Counter[str]] = {1: Counter(), 2: Counter(), 3: Counter()}
    none, misread, spent, slowest = 0, 0, 0.0, 0.0
    for order in orders(range(options.first, options.first + options.seeds)):
        began = time.process_time()
        try:
            made = invent(order)
        except OrderError:
            none += 1
            print("none:", order)
            continue
        took = time.process_time() - began
        spent, slowest = spent + took, max(slowest, took)
        found.append(made)
        thrown.update(dict(made.thrown))
        misread += analyse(parse(made.text)).entries != made.analysis.entries
        for f in made.realisation.findings:
            findings[f"{f.severity} {f.rule}" if f.rule not in BORNE else f"borne {f.rule}"] += 1
        last = made.verset.given[-1].voice
        for g in made.verset.given:
            kind = sonority_of(g.figures) if g.voice == last and g.note.pitch else None
            if kind:
                sonorities[len(made.verset.voices) - 1][kind] += 1
        if options.lines:
            for version, f in set_verset(made.verset).findings:
                if f.severity != "note" and f.rule not in BORNE:
                    findings[f"{version}: {f.severity} {f.rule}"] += 1
    print(f"{len(found)} versets, {none} orders without one, {misread} read otherwise when written out")
    print(f"{spent / max(1, len(found)):.2f} s of processor each, at most {slowest:.1f}")
    print("thrown:", thrown.most_common())
    print("findings:", findings.most_common())
    print("nearest themes:", nearest([melody(m, m.analysis.theme.notes) for m in found]))
    print("nearest lines:", nearest([melody(m) for m in found]))
    shapes(found)
    published = masters()
    for above, counts in sonorities.items():
        print(f"{above} above: ours {rates(counts)}\n         masters {rates(published[above])}")


if __name__ == "__main__":
    main()
