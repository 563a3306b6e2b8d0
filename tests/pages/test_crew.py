"""Jobs done side by side: none stops another, none outlives the one that asked for it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

_JOBS = """
import os, signal, sys, time
from dataclasses import dataclass
from pathlib import Path
from builder.pages.crew import do_all
from builder.pages.store import Store

@dataclass(frozen=True)
class Writing:
    key: str
    name: str
    how: str
    folder: Path

    def make(self, work, keeper):
        (self.folder / f"{self.name}.{os.getpid()}").write_text("begun")
        first = len(list(self.folder.glob(f"{self.name}.*"))) < 2
        if self.how == "dies" or (self.how == "dies once" and first):
            os.kill(os.getpid(), signal.SIGKILL)
        if self.how == "fails":
            raise KeyError("what nobody foresaw")
        if self.how == "full":
            raise OSError(28, "No space left on device", "here.pdf")
        if self.how == "sleeps":
            time.sleep(60)
        (work / "made.txt").write_text(self.name)
        return {"name": self.name}

    def read(self, entry):
        if entry.value["name"] != self.name:
            raise ValueError("another's")
        return entry.file("made.txt").read_text()

def main():
    folder = Path(sys.argv[1])
    store = Store(folder / "store")
    store.open()
    jobs = [Writing(f"{n:032x}", f"job{n}", how, folder) for n, how in enumerate(sys.argv[2:])]
    done = do_all(jobs, store, 3)
    print(sorted(done.values.values()))
    for failure in done.failures.values():
        print(failure)

if __name__ == "__main__":
    main()
"""


@pytest.fixture
def script(tmp_path: Path) -> list[str]:
    path = tmp_path / "work.py"
    path.write_text(textwrap.dedent(_JOBS))
    return [sys.executable, str(path), str(tmp_path)]


def run(script: list[str], *how: str) -> list[str]:
    ran = subprocess.run([*script, *how], capture_output=True, text=True, timeout=120)
    assert ran.returncode == 0, ran.stderr
    return ran.stdout.splitlines()


def test_every_failure_is_told_and_all_others_are_done(script) -> None:
    told = run(script, "fine", "fails", "full", "fine")
    assert told[0] == "['job0', 'job3']"
    assert told[1] == "job1: something that nobody foresaw: KeyError: 'what nobody foresaw'"
    assert told[2] == "job2: No space left on device (here.pdf)"


def test_a_worker_that_is_killed_stops_nobody_else(script, tmp_path: Path) -> None:
    assert run(script, "fine", "dies once", "fine", "fine") == ["['job0', 'job1', 'job2', 'job3']"]
    assert not list((tmp_path / "store" / "making").glob("*/*"))


def test_a_job_whose_worker_always_dies_is_named(script) -> None:
    told = run(script, "fine", "dies", "fine")
    assert told[0] == "['job0', 'job2']"
    assert told[1] == "job1: its process was ended from outside, perhaps for want of memory"


def alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    stat = Path(f"/proc/{pid}/stat")
    return not stat.exists() or stat.read_text().rpartition(")")[2].split()[0] != "Z"


@pytest.mark.parametrize("by", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_workers_end_with_their_parent(script, tmp_path: Path, by: int) -> None:
    parent = subprocess.Popen(
        [*script, "sleeps", "sleeps", "sleeps"],
        stderr=subprocess.DEVNULL,
        # a shell gives what it runs in the background no interrupts; the parent here is to hear its own
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    workers: list[int] = []
    until = time.monotonic() + 60
    while len(workers) < 3 and time.monotonic() < until:
        time.sleep(0.1)
        workers = [int(p.suffix[1:]) for p in tmp_path.glob("job*.*")]
    assert len(workers) == 3
    parent.send_signal(by)
    parent.wait(timeout=60)
    until = time.monotonic() + 60
    while any(map(alive, workers)) and time.monotonic() < until:
        time.sleep(0.05)
    assert not any(map(alive, workers))
