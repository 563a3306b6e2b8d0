"""Does the jobs of a course side by side, in processes that end with the one that started them.

No job stops another: what fails is gathered, and told together at the end with the file it belongs to.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import wait
from pathlib import Path
from typing import Any

from builder.pages.jobs import Job
from builder.pages.kept import Levels
from builder.pages.store import Entry, Store
from builder.pages.trouble import Failure, tried


@dataclass(frozen=True, slots=True)
class Done:
    """What was made or kept, and what failed, by key; and which keys were made anew."""

    values: Mapping[str, Any]
    failures: Mapping[str, Failure]
    made: frozenset[str]


def do_all(
    jobs: Sequence[Job[Any]],
    store: Store,
    processes: int,
    tell: Callable[[int, int, str], None] = lambda done, all, name: None,
    *,
    apart: bool = False,
) -> Done:
    """Do every job whose work is not kept yet, side by side (`processes` 0: one for each processor). `tell`
    is called as each is done: how many are, of how many, and its name. `apart`: even a single one in a
    process of its own, since another thread may be at work in this one."""
    wanted = {job.key: job for job in jobs}
    kept = store.get_all(wanted)
    values = {key: value for key, job in wanted.items() if (value := _read(job, kept[key])) is not None}
    missing = [job for key, job in wanted.items() if key not in values]
    for job in missing:
        if kept[job.key]:  # whole, but not what this job makes
            store.discard(job.key)
    failures: dict[str, Failure] = {}
    for n, (job, failure) in enumerate(_worked(missing, store, processes, apart), 1):
        tell(n, len(missing), job.name)
        value = None if failure else _read(job, store.get(job.key))
        if failure is None and value is None:
            failure = Failure(job.name, "what was made of it cannot be read back from the cache")
        if failure:
            failures[job.key] = failure
        else:
            values[job.key] = value
    told = {job.key: failures[job.key] for job in missing if job.key in failures}
    return Done(values, told, frozenset(job.key for job in missing) - failures.keys())


def _read(job: Job[Any], entry: Entry | None) -> Any:
    """The value of an entry, or None where there is none of this job's."""
    try:
        return job.read(entry) if entry else None
    except (ValueError, OSError, RecursionError):
        return None


def _worked(
    missing: Sequence[Job[Any]], store: Store, processes: int, apart: bool
) -> Iterator[tuple[Job[Any], Failure | None]]:
    """Each job as it is done."""
    workers = min(len(missing), processes or os.cpu_count() or 1)
    if not missing or (workers <= 1 and not apart):
        for job in missing:
            yield job, _work(store.folder, job)
        return
    left = dict.fromkeys(range(len(missing)))
    try:
        with _pool(workers) as pool:
            running: dict[Future[Failure | None], int] = {
                pool.submit(_work, store.folder, job): n for n, job in enumerate(missing)
            }
            for future in as_completed(running):
                failure = future.result()
                del left[running[future]]
                yield missing[running[future]], failure
    except BrokenProcessPool:
        # The system ended one of the processes, most often for want of memory, and the others with it:
        # nothing says which job it was. Each that is left gets a process of its own, none beside it.
        for n in left:
            yield missing[n], _alone(store, missing[n])


def _alone(store: Store, job: Job[Any]) -> Failure | None:
    try:
        with _pool(1) as pool:
            return pool.submit(_work, store.folder, job).result()
    except BrokenProcessPool:
        return Failure(job.name, "its process was ended from outside, perhaps for want of memory")


@contextmanager
def _pool(workers: int) -> Iterator[ProcessPoolExecutor]:
    """Processes that leave nothing running behind, whatever happens to us."""
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(workers, mp_context=context, initializer=_begin)
    try:
        yield pool
    except BaseException:
        for process in list((pool._processes or {}).values()):
            process.kill()
        raise
    finally:
        pool.shutdown(cancel_futures=True)


def _begin() -> None:
    """In a new process: an interruption is the parent's to deal with, and its end is ours."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def _work(folder: Path, job: Job[Any]) -> Failure | None:
    """Do one job and keep what it makes in the store, or say why not."""
    store = Store(folder)

    def make() -> None:
        with store.making() as work:
            store.keep(job.key, work, job.make(work, Levels(store)))

    return tried(job.name, make)
