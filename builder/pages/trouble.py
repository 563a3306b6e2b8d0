"""What fails, as a message for people; what nobody foresaw, with a log for those who mend the program."""

from __future__ import annotations

import contextlib
import platform
import tempfile
import traceback
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import TypeVar

from builder.source import SourceError, SourceErrors
from builder.source.wording import told

LOG = "verset-builder.log"
Made = TypeVar("Made")


@dataclass(frozen=True, slots=True)
class Failure:
    """A job that could not be done: what it was to make, why, and for what nobody foresaw the trace."""

    name: str
    text: str
    trace: str = ""
    refused: tuple[SourceError, ...] = ()

    def __str__(self) -> str:
        return self.told()

    def told(self, language: str = "en") -> str:
        """The failure in a language; what the system said of it stays in the system's own."""
        text = "\n".join(error.told(language) for error in self.refused) or told(self.text, language)
        return text if text.startswith(f"{self.name}:") else f"{self.name}: {text}"


def tried(name: str, call: Callable[[], Made]) -> Made | Failure:
    """What a call gives; where it fails, a `Failure` of this name that says why in a teacher's words.

    >>> tried("first.md", lambda: 3)
    3
    >>> tried("first.md", lambda: open("/nowhere/first.md")).text
    'No such file or directory (/nowhere/first.md)'
    """
    try:
        return call()
    except SourceErrors as refused:
        return Failure(name, str(refused), refused=refused.errors)
    except OSError as problem:
        return Failure(name, of_the_system(problem))
    except MemoryError:
        return Failure(name, "there is not enough memory for it")
    except Exception as problem:
        return Failure(name, unforeseen(problem), traceback.format_exc())


def of_the_system(problem: OSError) -> str:
    """Why the system refused something, with the file where it names one: a full disk, a folder that may not
    be written.

    >>> of_the_system(PermissionError(13, "Permission denied", "site/index.html"))
    'Permission denied (site/index.html)'
    """
    return f"{problem.strerror or problem}{f' ({problem.filename})' if problem.filename else ''}"


def unforeseen(problem: BaseException) -> str:
    """One line, of at most 300 characters, on an error that nobody foresaw.

    >>> unforeseen(KeyError("cantus"))
    "something that nobody foresaw: KeyError: 'cantus'"
    """
    return f"something that nobody foresaw: {type(problem).__name__}: {problem}".splitlines()[0][:300]


def told_together(failures: Iterable[Failure], folder: Path | None = None, language: str = "en") -> list[str]:
    """All failures as lines for people. For what nobody foresaw a log is written as well, and the last line
    says where it lies; see `log_of`.

    >>> told_together([Failure("first.md", "Is a directory"), Failure("second.md", "No space left")])
    ['first.md: Is a directory', 'second.md: No space left']
    """
    found = list(failures)
    lines = [failure.told(language) for failure in found]
    if traces := [f"{failure.name}\n{failure.trace}" for failure in found if failure.trace]:
        lines.append(asked_for(log_of(traces, folder), language))
    return lines


def log_of(traces: Iterable[str], folder: Path | None = None) -> Path | None:
    """Write traces into a log in `folder`, or among the system's temporary files where there is none or it
    cannot be written; gives its place, or None where nothing can be written at all. The last log is replaced.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     path = log_of(["KeyError: 'cantus'"], Path(folder))
    ...     print(path.name, path.read_text("utf-8").splitlines()[1:])
    verset-builder.log ["KeyError: 'cantus'"]
    """
    versions = f"verset-builder {version('verset-builder')}, Python {platform.python_version()}, "
    text = "\n".join([versions + platform.platform(), *traces])
    for place in filter(None, (folder, Path(tempfile.gettempdir()))):
        with contextlib.suppress(OSError):
            path = place / LOG
            path.write_text(text, "utf-8", errors="replace")
            return path
    return None


def asked_for(log: Path | None, language: str = "en") -> str:
    """What asks for a report, in a language.

    >>> asked_for(Path("a.log"), "it")
    'segnalarlo, per favore, con il file indicato e il registro: a.log'
    """
    if log is None:
        return told("no log could be written; please report it, with the words above and the file", language)
    return told(f"please report it with the file it names and the log: {log}", language)
