"""Courses for the tests of the site: a small one of two voices, and the demonstration course."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from mkdocs.commands.build import build
from mkdocs.config import load_config

ROOT = Path(__file__).resolve().parents[2]

DUO = """---
title: A duo
verset:
  metre: C
  signature: none
  beat: half = 52
---

Two voices.

```given
cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2
tenor  C4 | A3/2 D3/4. E3/8 | F3/4{6} E3/4{7 #6} D3/2
```

## tenor

The answer.
"""


class SmallCourse:
    """A course folder that a test may change and build."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.site = root / "site"
        self.write("index.md", "# Start\n\n<!-- verset:index -->\n")
        self.write("versets/duo.md", DUO)
        (root / "mkdocs.yml").write_text(
            "site_name: Small\ndocs_dir: content\nuse_directory_urls: false\n"
            "theme: {name: material, font: false}\n"
            "plugins: [search, offline, {verset: {audio: false, pdf: false, processes: 1}}]\n"
            "markdown_extensions: [tables]\n"
        )

    def write(self, name: str, text: str) -> None:
        path = self.root / "content" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")

    def build(self, **options: object) -> None:
        config = load_config(str(self.root / "mkdocs.yml"), **options)
        config.plugins.on_startup(command="build", dirty=False)
        try:
            build(config)
        finally:
            config.plugins.on_shutdown()


@pytest.fixture
def course(tmp_path: Path) -> SmallCourse:
    return SmallCourse(tmp_path)


@pytest.fixture(scope="session")
def model(tmp_path_factory: pytest.TempPathFactory) -> SmallCourse:
    """The small course, built once for all tests that begin with a site that stands. Nobody changes it."""
    course = SmallCourse(tmp_path_factory.mktemp("model") / "course")
    course.build(strict=True)
    return course


@pytest.fixture
def built(model: SmallCourse, tmp_path: Path) -> SmallCourse:
    """The small course with its site and its store, as a build of its own would leave them: keys of the store
    name no folder."""
    shutil.copytree(model.root, tmp_path / "course")
    return SmallCourse(tmp_path / "course")


@pytest.fixture(scope="session")
def demo_site() -> Path:
    """The demonstration course, built as the README builds it (finished work is kept between runs)."""
    config = load_config(str(ROOT / "mkdocs.yml"), strict=True)
    config.plugins.on_startup(command="build", dirty=False)
    build(config)
    config.plugins.on_shutdown()
    return ROOT / "site"


@pytest.fixture
def contents() -> Callable[[Path], dict[str, bytes]]:
    """Every file below a folder, by name."""

    def read(folder: Path) -> dict[str, bytes]:
        files = (p for p in sorted(folder.rglob("*")) if p.is_file())
        return {p.relative_to(folder).as_posix(): p.read_bytes() for p in files}

    return read
