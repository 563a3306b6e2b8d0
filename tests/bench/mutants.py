"""Would the tests notice? Changes one place of the code at a time and runs the room's own tests on it.

    python tests/bench/mutants.py [--sample 200] [--seed 1] [ROOM …]

Needs `mutmut` (the changes) and `pytest-cov` (which test reaches which line). It works on a copy. A change
is *noticed* when a test that reaches it, or stands in the same file as one that does (they share what was
made once), fails, or runs six times as long as before; what no test reaches is not noticed. A sample is drawn
over all rooms by a seed, and in each room by that seed and its name, so that rooms can be asked apart; the
table tells by room how many were noticed, and every change that was not, as a difference.
"""

from __future__ import annotations

import argparse
import difflib
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
ROOMS = ("counterpoint", "diminution", "analysis", "engraving", "edition", "pages")
TESTS_AT_MOST = 60
"""Of all tests that reach a line so many are run, the quickest first: whoever breaks a line that sixty tests
reach, and breaks none of them, has not been noticed."""
BESIDE = 5.0
"""Seconds of a test that is run because it stands beside one that reaches the line."""


Reach = dict[tuple[str, int], set[str]]
"""By file and line the tests that reach it."""


@dataclass(frozen=True)
class Mutant:
    """One change of one file."""

    room: str
    path: str
    code: str
    changed: tuple[int, ...]

    def difference(self, before: str) -> str:
        lines = difflib.unified_diff(before.splitlines(), self.code.splitlines(), lineterm="", n=0)
        return "\n".join(line for line in lines if not line.startswith(("---", "+++")))


def mutants(room: str, root: Path, sample: random.Random, at_most: int) -> Iterator[Mutant]:
    """So many changes of a room's files, drawn without putting back."""
    from mutmut.mutation.file_mutation import create_mutations, deep_replace

    places = []
    for path in sorted((root / "builder" / room).rglob("*.py")):
        module, found, *_ = create_mutations(str(path), path.read_text())
        places += [(path, module, mutation) for mutation in found]
    for path, module, mutation in sample.sample(places, min(at_most, len(places))):
        before = path.read_text()
        code = deep_replace(module, mutation.original_node, mutation.mutated_node).code
        changed = [
            number
            for tag, a, b, _, _ in difflib.SequenceMatcher(
                None, before.splitlines(), code.splitlines(), autojunk=False
            ).get_opcodes()
            if tag != "equal"
            for number in range(a + 1, max(b, a + 1) + 1)
        ]
        yield Mutant(room, str(path.relative_to(root)), code, tuple(changed))


def count(room: str, root: Path) -> int:
    """How many changes there could be."""
    from mutmut.mutation.file_mutation import create_mutations

    files = (root / "builder" / room).rglob("*.py")
    return sum(len(create_mutations(str(path), path.read_text())[1]) for path in files)


def reached(room: str, root: Path) -> tuple[Reach, dict[str, float]]:
    """Which tests of a room reach which line, and the seconds of each test."""
    from coverage import CoverageData

    data = root / f".{room}.coverage"
    rules = root / ".coveragerc"
    rules.write_text(f"[run]\ndata_file = {data}\n")
    options = [f"--cov=builder/{room}", "--cov-context=test", f"--cov-config={rules}", "--cov-report="]
    told = run([*options, "--durations=0", "--durations-min=0", *own_tests(room)], root, 7200)
    if told is None or told.returncode:
        raise SystemExit(f"the tests of {room} do not pass as they are:\n{told.stdout if told else 'no end'}")
    seconds: dict[str, float] = defaultdict(float)
    for time, test in re.findall(r"^([\d.]+)s \w+ +(\S.*)$", told.stdout, re.M):
        seconds[test] += float(time)
    found = CoverageData(str(data))
    found.read()
    lines: Reach = {}
    for file in found.measured_files():
        path = os.path.relpath(file, root)
        for line, contexts in found.contexts_by_lineno(file).items():
            lines[path, line] = {context.partition("|")[0] for context in contexts if context}
    return lines, seconds


def own_tests(room: str) -> list[str]:
    return [f"builder/{room}", f"tests/{room}"]


def run(arguments: list[str], root: Path, seconds: float) -> subprocess.CompletedProcess[str] | None:
    """The test runner on the copy; None when it takes longer."""
    call = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", *arguments]
    around = {**os.environ, "PYTHONPATH": str(root), "PYTHONDONTWRITEBYTECODE": "1"}
    try:
        return subprocess.run(call, cwd=root, env=around, capture_output=True, text=True, timeout=seconds)
    except subprocess.TimeoutExpired:
        return None


def asked(mutant: Mutant, lines: Reach, seconds: dict[str, float]) -> list[str]:
    """The tests to run on a change: those that reach it, then those that stand beside them."""
    tests = set().union(*(lines.get((mutant.path, line), set()) for line in mutant.changed))
    if not tests:  # what stands outside any function is read when the file is, before the first test
        tests = set().union(*(found for (path, _), found in lines.items() if path == mutant.path))
    files = {test.partition("::")[0] for test in tests}
    beside = {
        test
        for test in set(seconds).union(*lines.values()) - tests
        if test.partition("::")[0] in files and seconds.get(test, 0.0) < BESIDE
    }
    rows = (sorted(row, key=lambda test: (seconds.get(test, 0.0), test)) for row in (tests, beside))
    return [test for row in rows for test in row[:TESTS_AT_MOST]]


def noticed(mutant: Mutant, root: Path, lines: Reach, seconds: dict[str, float]) -> bool:
    """Whether a test notices the change."""
    chosen = asked(mutant, lines, seconds)
    if not chosen:
        return False
    path = root / mutant.path
    before = path.read_text()
    path.write_text(mutant.code)
    try:
        told = run(["-x", *chosen], root, 60 + 6 * sum(seconds.get(test, 0.0) for test in chosen))
    finally:
        path.write_text(before)
    return told is None or told.returncode != 0


def main() -> None:
    call = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    call.add_argument("rooms", nargs="*", default=ROOMS, choices=[*ROOMS, []], metavar="ROOM")
    call.add_argument("--sample", type=int, default=200)
    call.add_argument("--seed", type=int, default=1)
    given = call.parse_args()
    os.chdir(ROOT)  # where mutmut finds its settings
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder) / "copy"
        files = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
        for name in files.stdout.splitlines():
            (root / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, root / name)
        sizes = {room: count(room, root) for room in given.rooms}
        sample = random.Random(given.seed)
        drawn = sample.choices(list(sizes), weights=list(sizes.values()), k=given.sample)
        table = {}
        for room in given.rooms:
            lines, seconds = reached(room, root)
            own = random.Random(f"{given.seed} {room}")
            found = list(mutants(room, root, own, drawn.count(room)))
            good = 0
            for mutant in found:
                if noticed(mutant, root, lines, seconds):
                    good += 1
                else:
                    told = mutant.difference((root / mutant.path).read_text())
                    print(f"not noticed: {mutant.path}\n{told}\n", flush=True)
            table[room] = good, len(found)
            print(f"{room}: {good} of {len(found)} noticed (of {sizes[room]} places)", flush=True)
        good, all_ = (sum(column) for column in zip(*table.values()))
        print(f"all: {good} of {all_} noticed, {good / max(all_, 1):.0%}")


if __name__ == "__main__":
    main()
