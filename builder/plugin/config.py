"""What a teacher may write under `verset` in `mkdocs.yml`."""

from __future__ import annotations

import re
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, TypeVar

import yaml
from mkdocs.config import config_options as opt
from mkdocs.config.base import Config
from mkdocs.exceptions import PluginError

from builder.diminution import load_tables, patterns
from builder.edition.book.book import Book
from builder.edition.pdf.paper import paper
from builder.language.texts import ENGLISH, languages
from builder.music import read_tuning
from builder.pages.course import Options
from builder.setting.reading import course_licences
from builder.setting.setting import Defaults
from builder.sound import (
    LEGATO,
    NON_LEGATO,
    PLAYED,
    STRICT,
    Articulation,
    Breathing,
    Registration,
    read_pipes,
)
from builder.source import SourceErrors
from builder.source.bibliography import of_course
from builder.source.errors import UNPRINTED, visible
from builder.source.front import DENSITIES, PITCHES
from builder.source.provenance import NOTHING_SAID, Provenance

MOST_PROCESSES = 256
BENDS = (0, 2)
"""Shares and seconds by which time may bend and notes be parted."""
Numbers = TypeVar("Numbers", Breathing, Articulation)


class VersetConfig(Config):
    """Options of the plugin."""

    language = opt.Choice(languages(), default=ENGLISH)
    """Language of the interface texts; a page can differ with `language:` in its front matter."""

    tuning = opt.Type(str, default="quarter-comma")
    """Tuning of versets that name none."""

    tunings = opt.Type(dict, default={})
    """The course's own tunings by name, each twelve cents from C in a line of text."""

    pitch = opt.Type((int, float), default=440)
    """Frequency of A4 in hertz of versets that name none."""

    registration = opt.Type(str, default="")
    """Registration of versets that name none; empty: advised from tone and character."""

    pipes = opt.Type(str, default="")
    """A folder of recorded pipes beside `mkdocs.yml`, heard instead of the house's own."""

    level = opt.Choice((1, 2, 3), default=2)
    """Level of diminution of versets that name none."""

    density = opt.Type((int, float), default=1)
    """Small notes at levels 2 and 3, as a share of the usual number, of versets that name none."""

    allow = opt.Type(list, default=[])
    """Rules that the course allows in all its versets, each {rule: …, because: …}, for a later style."""

    tables = opt.ListOfItems(opt.Type(str), default=[])
    """Files of the course's own patterns of diminution, beside `mkdocs.yml`."""

    breathing = opt.Type((bool, dict), default=True)
    """How time bends: false for a strict beat, or numbers for `entry`, `cadence`, `inner`, `final`."""

    articulation = opt.Type((bool, dict), default=True)
    """How notes are parted: false to hold each to its end, or numbers for `strong`, `beat`, `weak` …"""

    audio = opt.Type(bool, default=True)
    """Whether to render audio files (the sound made in the page does not need them)."""

    pdf = opt.Type(bool, default=True)
    """Whether to typeset the printed edition."""

    book = opt.Type(dict, default={})
    """Words of the book that a page offers with `<!-- verset:book -->`: `title`, `subtitle`, `authors` (a
    list), `version`, `preface`, `performance`, `imprint` (a list), `publisher`, `papers` (a list);
    and what a release asks for: `name` (short, for file names), `licence` (an SPDX identifier),
    `licence_file` (beside `mkdocs.yml`)."""

    edition = opt.Type(dict, default={})
    """What is said of sources and edition for versets that do not say it themselves: `composer`, `place`,
    `date`, `witnesses`, `relation`, `method`, `editors`, `published`, as in their front matter."""

    realisation = opt.Choice(("small", "full"), default="small")
    """Size of the notes that are not the source's."""

    cache = opt.Type(str, default=".cache/verset-store")
    """Folder of finished work, beside `mkdocs.yml`; safe to delete. It must be a folder of its own."""

    cache_size = opt.Type(int, default=4000)
    """Megabytes that finished work may take; what was longest unused goes first, what is used stays."""

    policy = opt.Type(bool, default=True)
    """Whether every page says that only the site's own files and scripts may load and run."""

    processes = opt.Type(int, default=0)
    """Versets built side by side; 0: as many as the machine has processors."""


def course_options(chosen: VersetConfig, root: Path, title: str = "Versets") -> Options:
    """The options of a course, whose site has this title; `PluginError` in a teacher's words for what
    does not exist."""
    try:
        own = tuple(
            (_text("tunings", name), _text(f"tunings: {name}", c)) for name, c in chosen.tunings.items()
        )
        for name in (chosen.tuning, *dict(own)):
            read_tuning(name, dict(own))
        _within("pitch", chosen.pitch, PITCHES)
        _within("density", chosen.density, DENSITIES)
        _within("processes", chosen.processes, (0, MOST_PROCESSES))
        if chosen.registration:
            Registration.parse(chosen.registration)
        pipes = read_pipes(root / chosen.pipes) if chosen.pipes else None
        breathing = _numbers("breathing", chosen.breathing, PLAYED, STRICT)
        articulation = _numbers("articulation", chosen.articulation, NON_LEGATO, LEGATO)
        licences = course_licences(chosen.allow)
        extra = load_tables([root / name for name in chosen.tables], taken=[p.id for p in patterns()])
        front = _book(chosen.book, title, chosen.language)
        said = _edition(chosen)
        front = replace(front, said=said)
    except SourceErrors as refused:
        raise PluginError(str(refused)) from None
    except (ValueError, OSError) as problem:
        raise PluginError(f"mkdocs.yml, verset: {problem}") from None
    defaults = Defaults(
        tuning=chosen.tuning,
        pitch=float(chosen.pitch),
        registration=chosen.registration,
        level=chosen.level,
        density=float(chosen.density),
        tunings=own,
        patterns=extra,
        breathing=breathing,
        articulation=articulation,
        licences=licences,
        pipes=pipes,
        small=chosen.realisation == "small",
        provenance=said,
    )
    return Options(
        defaults=defaults,
        language=chosen.language,
        audio=chosen.audio,
        pdf=chosen.pdf,
        book=front,
        cache=root / chosen.cache,
        cache_size=chosen.cache_size * 1_000_000,
        processes=chosen.processes,
    )


def _edition(chosen: VersetConfig) -> Provenance:
    """What the course says of sources and edition; `PluginError` in its language with all that is wrong."""
    if not chosen.edition:
        return NOTHING_SAID
    path = chosen.config_file_path or "mkdocs.yml"
    text = Path(path).read_text("utf-8") if Path(path).is_file() else ""
    try:
        return of_course(chosen.edition, text, path)
    except SourceErrors as wrong:
        raise PluginError(wrong.told(chosen.language)) from None
    except yaml.YAMLError:
        # an option that did not come from a file
        found = "edition: only texts, numbers, dates, lists and keys with values may stand there"
        raise PluginError(found) from None


def _book(asked: dict[str, Any], title: str, language: str) -> Book:
    """The words of the book; lists as tuples."""
    kinds = {field.name: field.type for field in fields(Book) if field.name not in ("lang", "said")}
    told: dict[str, Any] = {"title": _text("site_name", title)}
    for key, value in asked.items():
        if key not in kinds:
            raise ValueError(f"book: {key!r}; there may stand {', '.join(sorted(kinds))}")
        if "tuple" in str(kinds[key]):
            items = value if isinstance(value, list) else [value]
            told[key] = tuple(_text(f"book: {key}", item) for item in items)
        else:
            told[key] = _text(f"book: {key}", value)
    for name in told.get("papers", ()):
        paper(name)
    return Book(**told, lang=language)


def _text(name: str, value: object) -> str:
    """A text, or a number as text; `ValueError` for all else."""
    if not isinstance(value, str | int | float) or isinstance(value, bool):
        raise ValueError(f"{name}: {visible(repr(value))}; a text may stand there: put it in quotes")
    if UNPRINTED.search(re.sub(r"[\n\t]", "", str(value))):
        raise ValueError(f"{name}: {visible(str(value))}; it has a character that cannot be printed")
    return str(value)


def _within(name: str, value: float, limits: tuple[float, float]) -> None:
    low, high = limits
    if isinstance(value, bool) or not low <= value <= high:
        raise ValueError(f"{name}: {value!r}; a number from {low:g} to {high:g} may stand there")


def _numbers(name: str, asked: object, usual: Numbers, off: Numbers) -> Numbers:
    """The usual numbers, none, or the usual ones with some changed."""
    if not isinstance(asked, dict):
        return usual if asked else off
    known = {field.name for field in fields(usual)}
    for key, value in asked.items():
        if key not in known or not isinstance(value, int | float):
            raise ValueError(
                f"{name}: {key}: {value!r}; numbers for {', '.join(sorted(known))} may stand there"
            )
        _within(f"{name}: {key}", value, BENDS)
    return replace(usual, **asked)
