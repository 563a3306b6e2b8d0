"""Is a verset that is moved for the choir the same setting, also in its diminutions?

    python tests/worth/moves.py [--invented N] [--versets N] [--moves 'a tone lower' ...] [--easy N]

The course's versets and invented ones, each at every move; with `--easy` at those that make at most so many
things hard for the line. Told for each: the share of notes at the new pitch that are those of the written
one, plain and at three levels, with errors and warnings before and after, the bars whose plain setting is
another, and the errors there are; then in how many moves all notes are the same."""

from __future__ import annotations

import argparse
import itertools
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from builder.analysis import analyse
from builder.counterpoint import Finding, Realisation, realise
from builder.diminution import diminutions
from builder.invention import CHARACTERS, Order, OrderError, invent
from builder.music import Score
from builder.setting.reading import read_verset
from builder.setting.setting import Defaults, as_played, is_error, set_otherwise, with_defaults
from builder.setting.transpose import spoken_interval, suits
from builder.source import Verset

CONTENT = Path(__file__).parents[2] / "content"
MOVES = ("a tone lower", "a minor third higher", "a fourth lower", "a fifth higher")
VOICES = (("cantus", "tenor"), ("cantus", "altus", "bassus"), ("cantus", "altus", "tenor", "bassus"))


def invented(count: int) -> Iterator[Verset]:
    for n, (tone, voices) in zip(range(count), itertools.cycle(itertools.product(range(1, 9), VOICES))):
        try:
            yield invent(Order(tone, voices, character=CHARACTERS[n % len(CHARACTERS)], seed=700 + n)).verset
        except OrderError as error:
            print(error, file=sys.stderr)


def levels(verset: Verset) -> tuple[Realisation, list[Score], list[list[Finding]]]:
    """The plain setting; plain and the three levels; and what the check finds in each, licences apart."""
    analysis, tuning = analyse(verset), verset.settings.tuned
    plain = realise(verset, analysis, tuning=tuning)
    made = diminutions(verset, analysis, plain, tuning=tuning)
    scores = [plain.score, *(made[n].score for n in (1, 2, 3))]
    found = [plain.findings, *(made[n].findings for n in (1, 2, 3))]
    return plain, scores, [[f for f in each if not f.allowed] for each in found]


def told(found: list[Finding]) -> str:
    """Errors and warnings, counted."""
    return f"{sum(map(is_error, found))}/{sum(f.severity == 'warning' for f in found)}"


def notes(score: Score, semitones: int) -> set[tuple[object, ...]]:
    return {
        (part.voice, n.onset, n.duration, n.pitch.midi + semitones)
        for part in score.parts
        for n in part.sounding()
        if n.pitch
    }


def easy(verset: Verset, most: int) -> list[str]:
    """The moves of which at most so many things are hard for the line."""
    found = suits(verset, tuning=verset.settings.tuned)
    return [spoken_interval(suit.interval) for suit in found if len(suit.findings) <= most]


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("--invented", type=int, default=12)
    asked.add_argument("--versets", type=int, default=100)
    asked.add_argument("--easy", type=int)
    asked.add_argument("--moves", nargs="*", default=MOVES)
    args = asked.parse_args()
    paths = sorted([*CONTENT.glob("versets/*.md"), *CONTENT.glob("tones/*.md")])[: args.versets]
    course = (with_defaults(read_verset(path), Defaults()) for path in paths)
    whole, same, follow, worse, moves = [0] * 4, [0] * 4, [0] * 4, [0] * 4, 0
    plain_same = [0] * 4
    begun = time.process_time()
    for verset in itertools.chain(course, invented(args.invented)):
        verset = replace(verset, settings=replace(verset.settings, move=""))
        _, home, before = levels(verset)
        for move in args.moves if args.easy is None else easy(verset, args.easy):
            try:
                there = as_played(replace(verset, settings=replace(verset.settings, move=move)), Defaults())
            except ValueError:
                continue
            plain, scores, now = levels(there)
            due = [notes(score, there.moved_by.semitones) for score in home]
            own = [notes(score, 0) for score in scores]
            shares = [len(a & b) / len(a | b) for a, b in zip(due, own)]
            moves += 1
            for n in range(4):
                whole[n] += len(due[n])
                follow[n] += len(due[n] & own[n])
                same[n] += due[n] == own[n]
                plain_same[n] += due[n] == own[n] and due[0] == own[0]
                worse[n] += max(0, sum(map(is_error, now[n])) - sum(map(is_error, before[n])))
            line = [f"{share:.3f} {told(a)}>{told(b)}" for share, a, b in zip(shares, before, now)]
            print(
                f"{verset.name:12} {move:22}",
                "  ".join(line),
                set_otherwise(there, plain)[0] or "",
                flush=True,
            )
            for n in range(4):
                for f in filter(is_error, now[n]):
                    print(f"    level {n}: {f.place}: {f.message}")
    print(f"{moves} moves; the same, plain and levels: {same}; with the plain the same: {plain_same}")
    print("notes that follow:", " ".join(f"{a / b:.3f}" for a, b in zip(follow, whole)))
    print(f"new errors {worse}; {time.process_time() - begun:.0f} s of processor")


if __name__ == "__main__":
    main()
