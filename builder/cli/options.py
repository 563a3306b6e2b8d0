"""What the course in whose folder a source lies chooses, as far as a single source is judged by it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml

from builder.setting.reading import course_licences
from builder.setting.setting import Defaults

CONFIGS = ("mkdocs.yml", "mkdocs.yaml")


def defaults_of(source: Path) -> Defaults:
    """The rules that the course of a source allows (a build tells what is wrong in its list)."""
    allowed = course_options(source).get("allow")
    try:
        return Defaults(licences=course_licences(allowed if isinstance(allowed, list) else ()))
    except ValueError:
        return Defaults()


def course_options(source: Path) -> Mapping[str, Any]:
    """The options of the plugin in the nearest `mkdocs.yml` above a source; none where it cannot be read."""
    for folder in source.resolve().parents:
        for name in CONFIGS:
            config = folder / name
            if config.is_file():
                return _options(config, config.stat().st_mtime_ns)
    return {}


class _Loader(yaml.SafeLoader):
    """Reads a configuration for its plain values: what its tags ask for is not done."""


_Loader.add_multi_constructor("", lambda *_: None)


@lru_cache(maxsize=8)
def _options(config: Path, changed: int) -> Mapping[str, Any]:
    """The options in a file as it was when it was last `changed`: a command asks again and again."""
    try:
        found: Any = yaml.load(config.read_text("utf-8"), _Loader)
    except (OSError, ValueError, yaml.YAMLError):
        return {}
    plugins = found.get("plugins") if isinstance(found, dict) else None
    for entry in [plugins] if isinstance(plugins, dict) else plugins if isinstance(plugins, list) else ():
        options = entry.get("verset") if isinstance(entry, dict) else None
        if isinstance(options, dict):
            return options
    return {}
