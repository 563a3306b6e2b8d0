"""While a course is served, the files of a verset (prints, encodings, recordings) are made when somebody asks
for one of them: a save is on its page in half the time."""

from __future__ import annotations

import logging
import threading
from collections.abc import Iterable, Mapping
from pathlib import Path
from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

from builder.pages.course import Options, lesson_files
from builder.pages.store import Store
from builder.pages.trouble import told_together
from builder.plugin.linking import link
from builder.source.errors import harmless_lines

log = logging.getLogger("mkdocs.plugins.verset")


class AskedFiles:
    """Makes the files of the course that is served now, those of one verset at a time."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._later: Mapping[str, str] = {}

    def begin(self, folder: Path, site: Path, options: Options, later: Mapping[str, str]) -> None:
        """A course was built from `folder` into `site`; `later` are the files that it lacks, and the source
        of each."""
        with self._lock:
            self._folder, self._site, self._options, self._later = folder, site, options, dict(later)

    def asked(self, uri: str) -> str:
        """See that a file is there; what is wrong, if it cannot be made."""
        if uri not in self._later:
            return ""
        with self._lock:
            source = self._later.get(uri)
            if source is None:  # made meanwhile, with another of its verset
                return ""
            store = Store(self._options.cache)
            store.open()
            try:
                files, failures = lesson_files(self._folder, self._options, store, source)
                for each in files:
                    link(each.path, self._site / each.uri)
            finally:
                store.close()
            if failures:
                return "\n".join(told_together(failures, self._options.cache, self._options.language))
            self._later = {file: of for file, of in self._later.items() if of != source}
            return ""


def with_files(app: WSGIApplication, files: AskedFiles, mount: str) -> WSGIApplication:
    """A server's application (WSGI, PEP 3333) that has the files of a verset made before it sends one."""

    def answer(environ: WSGIEnvironment, start: StartResponse) -> Iterable[bytes]:
        path = str(environ.get("PATH_INFO", "")).encode("latin-1", "replace").decode("utf-8", "replace")
        wrong = files.asked(path.removeprefix(mount)) if path.startswith(mount) else ""
        if not wrong:
            return app(environ, start)
        log.error(harmless_lines(wrong))
        start("503 Service Unavailable", [("Content-Type", "text/plain; charset=utf-8")])
        return [wrong.encode()]

    return answer
