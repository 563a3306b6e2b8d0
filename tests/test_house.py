"""The house stands as its plan says."""

from __future__ import annotations

import ast
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
ROOMS = (
    "music", "source", "analysis", "counterpoint", "plan", "diminution", "engraving",
    "sound", "language", "setting", "edition", "pages", "plugin", "cli",
)  # fmt: skip
TOP = {
    "README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "mkdocs.yml", "pyproject.toml",
    "requirements.lock", "content", "builder", "tests", "site_src",
}  # fmt: skip


def imported(path: Path) -> set[str]:
    """Modules of this package that a file imports."""
    return {name for name in all_imported(path) if name.startswith("builder.")}


def test_imports_point_one_way() -> None:
    for n, room in enumerate(ROOMS):
        later = {f"builder.{other}" for other in ROOMS[n + 1 :]}
        for path in sorted((ROOT / "builder" / room).rglob("*.py")):
            wrong = {m for m in imported(path) if ".".join(m.split(".")[:2]) in later}
            assert not wrong, (path.relative_to(ROOT), wrong)


def test_every_room_says_what_it_is() -> None:
    assert {p.parent.name for p in (ROOT / "builder").glob("*/__init__.py")} == set(ROOMS)
    for room in ROOMS:
        said = ast.get_docstring(ast.parse((ROOT / "builder" / room / "__init__.py").read_text("utf-8")))
        assert said and len(said) > 60, room


def test_only_the_adapter_knows_the_site_generator() -> None:
    for path in sorted((ROOT / "builder").rglob("*.py")):
        if "plugin" not in path.parts:
            assert "mkdocs" not in {name.split(".")[0] for name in all_imported(path)}, path


def all_imported(path: Path) -> set[str]:
    """All modules that a file imports."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return found


def test_the_top_level_is_fixed() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    tops = {name.split("/")[0] for name in listed.stdout.splitlines()}
    assert {name for name in tops if not name.startswith(".")} <= TOP


def test_the_developers_map_names_every_room() -> None:
    told = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    for room in ROOMS:
        assert f"| `{room}` |" in told
