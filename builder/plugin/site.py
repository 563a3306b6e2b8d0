"""A course's site, built by a call and not by the generator's own command."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from mkdocs.commands.build import build
from mkdocs.config import load_config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import MkDocsException

from builder.pages.course import Course, Options, course_versets, warm_course
from builder.pages.store import Store, StoreError
from builder.pages.trouble import Failure
from builder.plugin.config import course_options
from builder.plugin.nav import in_order
from builder.plugin.plugin import VersetPlugin
from builder.plugin.progress import Progress
from builder.source import Verset


class SiteError(ValueError):
    """What the generator or the plugin has against a course; every line of it."""


@dataclass(frozen=True, slots=True)
class Site:
    """A course as its `mkdocs.yml` describes it: folder of that file, title and description, where the
    site goes, and what the plugin is to do."""

    config_file: Path
    root: Path
    title: str
    description: str
    folder: Path
    opens_from_disk: bool


def course_file(path: Path) -> Path:
    """The `mkdocs.yml` that a call names: the file itself, or the folder it lies in.

    >>> course_file(Path("no-such-course/mkdocs.yml")).as_posix()
    'no-such-course/mkdocs.yml'
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     course_file(Path(folder)).name
    'mkdocs.yml'
    """
    return path / "mkdocs.yml" if path.is_dir() else path


def read_site(config_file: Path) -> tuple[Site, Options]:
    """Read a course's `mkdocs.yml`; nothing is built. `SiteError` when the file is wrong or the plugin
    `verset` is not in it.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     (Path(folder) / "docs").mkdir()
    ...     config_file = Path(folder) / "mkdocs.yml"
    ...     _ = config_file.write_text("site_name: Versets\\nplugins: [verset: {level: 3}]\\n")
    ...     site, options = read_site(config_file)
    >>> site.title, site.folder.name, options.defaults.level
    ('Versets', 'site', 3)
    """
    with _told():
        config = _config(config_file)
        root = config_file.resolve().parent
        plugin = _plugin(config, config_file)
        options = course_options(plugin.config, root, config.site_name)
        return _site(config, config_file), options


def build_for_release(config_file: Path) -> Course:
    """Build a course's site strictly, as its `mkdocs.yml` says, and what a release holds beside it; gives
    the course. `SiteError` with everything that was told when it fails: the site stays as it was.

    A course of one page, without versets; then a link in it leads nowhere:

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     (Path(folder) / "docs").mkdir()
    ...     config_file, page = Path(folder) / "mkdocs.yml", Path(folder) / "docs/index.md"
    ...     _ = config_file.write_text("site_name: Versets\\nplugins: [verset]\\n")
    ...     _ = page.write_text("Play *slowly*.")
    ...     course = build_for_release(config_file)
    ...     made = Path(folder) / "site/index.html"
    ...     print(course.failures, "<em>slowly</em>" in made.read_text())
    ...     _ = page.write_text("[Play](nowhere.md) quickly.")
    ...     try:
    ...         build_for_release(config_file)
    ...     except SiteError as refused:
    ...         print("nowhere.md" in str(refused), "<em>slowly</em>" in made.read_text())
    () True
    True True
    """
    with _told():
        config = _config(config_file)
        plugin = _plugin(config, config_file)
        plugin.release = True
        config.plugins.on_startup(command="build", dirty=False)
        try:
            build(config)
        finally:
            config.plugins.on_shutdown()
            plugin.release = False  # the generator gives the same plugin to the next course of this process
        return plugin.course


def warm(config_file: Path, shard: tuple[int, int]) -> tuple[int, str, tuple[Failure, ...]]:
    """Fill a share of a course's store, without a site (see `warm_course`): how many versets the share has,
    the language of the course, and what failed. `SiteError` when the course or its store cannot be used.

    Of a course with one verset the first share of two has it, and the second nothing:

    >>> from tempfile import TemporaryDirectory
    >>> from builder.source import EXAMPLE
    >>> with TemporaryDirectory() as folder:
    ...     (Path(folder) / "docs").mkdir()
    ...     _ = (Path(folder) / "docs/two.md").write_text(EXAMPLE)
    ...     config_file, plugin = Path(folder) / "mkdocs.yml", "verset: {audio: false, pdf: false}"
    ...     _ = config_file.write_text(f"site_name: Versets\\nplugins: [{plugin}]\\n")
    ...     warm(config_file, (1, 2)), warm(config_file, (2, 2))
    ((1, 'en', ()), (0, 'en', ()))
    """
    with _told():
        config = _config(config_file)
        root = config_file.resolve().parent
        plugin = _plugin(config, config_file)
        options = replace(course_options(plugin.config, root, config.site_name), order=in_order(config.nav))
        store = Store(options.cache)
        try:
            store.check([Path(config.docs_dir), Path(config.site_dir)], within=[root])
            store.open()
        except StoreError as problem:
            raise SiteError(str(problem)) from None
        progress = Progress(language=options.language)
        try:
            count, failures = warm_course(Path(config.docs_dir), options, store, shard, progress.tell)
            return count, options.language, failures
        finally:
            store.close()


def versets(config_file: Path) -> tuple[dict[str, Verset], str, tuple[Failure, ...]]:
    """The versets of a course by name, its language, and what could not be read; nothing is built.
    `SiteError` when its `mkdocs.yml` is wrong.

    >>> from tempfile import TemporaryDirectory
    >>> from builder.source import EXAMPLE
    >>> with TemporaryDirectory() as folder:
    ...     (Path(folder) / "docs").mkdir()
    ...     _ = (Path(folder) / "docs/two.md").write_text(EXAMPLE)
    ...     config_file = Path(folder) / "mkdocs.yml"
    ...     _ = config_file.write_text("site_name: Versets\\nplugins: [verset: {language: de}]\\n")
    ...     found, language, failures = versets(config_file)
    >>> [verset.title for verset in found.values()], language, failures
    (['Two voices'], 'de', ())
    """
    with _told():
        config = _config(config_file)
        plugin = _plugin(config, config_file)
        options = course_options(plugin.config, config_file.resolve().parent, config.site_name)
        found, failures = course_versets(Path(config.docs_dir), options)
        return found, options.language, failures


def _config(config_file: Path) -> MkDocsConfig:
    return load_config(str(config_file), strict=True)


def _plugin(config: MkDocsConfig, config_file: Path) -> VersetPlugin:
    for plugin in config.plugins.values():
        if isinstance(plugin, VersetPlugin):
            return plugin
    raise SiteError(f"{config_file}: no plugin verset among its plugins")


def _site(config: MkDocsConfig, config_file: Path) -> Site:
    return Site(
        config_file,
        config_file.resolve().parent,
        config.site_name,
        config.site_description or "",
        Path(config.site_dir),
        not config.use_directory_urls,
    )


class _Listener(logging.Handler):
    """Keeps what is told, each thing once."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        text = record.getMessage()
        if text not in self.lines:
            self.lines.append(text)


@contextmanager
def _told() -> Iterator[None]:
    """Turn the generator's ways of failing into one error that holds all that was logged."""
    log, listener = logging.getLogger("mkdocs"), _Listener()
    log.addHandler(listener)
    try:
        yield
    except MkDocsException as problem:
        lines = [*listener.lines, str(problem)]
        raise SiteError("\n".join(dict.fromkeys(line for line in lines if line))) from None
    finally:
        log.removeHandler(listener)
