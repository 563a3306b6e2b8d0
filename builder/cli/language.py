"""In which language the command line speaks of a source."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml

from builder.language.texts import ENGLISH, languages
from builder.source import SourceErrors, page_front
from builder.source.files import decode

CONFIGS = ("mkdocs.yml", "mkdocs.yaml")


def language_of(source: Path) -> str:
    """The language that a source asks for in its front matter, else that of the course in whose folder it
    lies, else English; what cannot be read asks for none."""
    for asked in (_of_its_own(source), _of_its_course(source)):
        if asked in languages():
            return str(asked)
    return ENGLISH


def _of_its_own(source: Path) -> object:
    if source.suffix.lower() != ".md":
        return None
    try:
        return page_front(decode(source.read_bytes(), str(source)), str(source)).get("language")
    except (OSError, SourceErrors):
        return None


def _of_its_course(source: Path) -> object:
    """The option `language` of the plugin in the nearest `mkdocs.yml` above a source."""
    for folder in source.resolve().parents:
        for name in CONFIGS:
            if (folder / name).is_file():
                return _option(folder / name)
    return None


class _Loader(yaml.SafeLoader):
    """Reads a configuration for its plain values: what its tags ask for is not done."""


_Loader.add_multi_constructor("", lambda *_: None)


def _option(config: Path) -> object:
    try:
        found: Any = yaml.load(config.read_text("utf-8"), _Loader)
    except (OSError, ValueError, yaml.YAMLError):
        return None
    plugins = found.get("plugins") if isinstance(found, dict) else None
    for entry in [plugins] if isinstance(plugins, dict) else plugins if isinstance(plugins, list) else ():
        options = entry.get("verset") if isinstance(entry, dict) else None
        if isinstance(options, dict):
            return options.get("language")
    return None
