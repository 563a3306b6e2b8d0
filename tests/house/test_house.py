"""The house stands as its plan says."""

from __future__ import annotations

import ast
import inspect
import pkgutil
import subprocess
from collections.abc import Collection, Iterator
from graphlib import TopologicalSorter
from importlib import import_module
from pathlib import Path
from typing import Any

import builder

ROOT = Path(__file__).resolve().parents[2]
ROOMS = (
    "music", "language", "source", "analysis", "counterpoint", "invention", "plan", "diminution",
    "engraving", "sound", "setting", "edition", "pages", "plugin", "cli",
)  # fmt: skip
SUB_ROOMS = {
    "counterpoint": ("figured_bass", "rules", "check", "search"),
    "edition": ("pdf", "exchange", "service", "book", "release"),
}
TOP = {
    "README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "mkdocs.yml", "pyproject.toml",
    "requirements.lock", "content", "builder", "tests", "site_src",
}  # fmt: skip
LONGEST = 60
"""Lines of a function."""


def imported(path: Path) -> set[str]:
    """Modules of this package that a file imports."""
    return {name for name in all_imported(path) if name.startswith("builder.")}


def test_imports_point_one_way() -> None:
    for n, room in enumerate(ROOMS):
        later = {f"builder.{other}" for other in ROOMS[n + 1 :]}
        for path in sorted((ROOT / "builder" / room).rglob("*.py")):
            wrong = {m for m in imported(path) if ".".join(m.split(".")[:2]) in later}
            assert not wrong, (path.relative_to(ROOT), wrong)


def test_the_rooms_within_a_room_point_one_way_too() -> None:
    for room, inner in SUB_ROOMS.items():
        folder = ROOT / "builder" / room
        assert {p.parent.name for p in folder.glob("*/__init__.py")} == set(inner)
        for n, name in enumerate(inner):
            later = tuple(f"builder.{room}.{other}." for other in inner[n + 1 :])
            for path in sorted((folder / name).rglob("*.py")):
                wrong = {m for m in imported(path) if f"{m}.".startswith(later)}
                assert not wrong, (path.relative_to(ROOT), wrong)


def test_no_file_imports_itself_by_way_of_others() -> None:
    """Not even for types alone, nor when a function is called."""
    files = {module_of(path): path for path in sorted((ROOT / "builder").rglob("*.py"))}
    graph = {name: modules_imported(path, files) for name, path in files.items()}
    TopologicalSorter(graph).prepare()


def module_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def modules_imported(path: Path, files: Collection[str]) -> set[str]:
    """Those of some modules that a file imports anywhere."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            names = {f"{node.module}.{alias.name}" for alias in node.names}
            found |= {name if name in files else node.module for name in names}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return found & {*files}


def test_every_room_says_what_it_is() -> None:
    assert {p.parent.name for p in (ROOT / "builder").glob("*/__init__.py")} == set(ROOMS)
    inner = [f"{room}/{name}" for room, names in SUB_ROOMS.items() for name in names]
    for room in (*ROOMS, *inner):
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


def test_every_function_of_a_rooms_face_shows_an_example() -> None:
    rooms = [m.name for m in pkgutil.walk_packages(builder.__path__, "builder.") if m.ispkg]
    faces = [(room, name) for room in rooms for name in getattr(import_module(room), "__all__", ())]
    functions = [(room, name, getattr(import_module(room), name)) for room, name in faces]
    functions = [(room, name, found) for room, name, found in functions if inspect.isfunction(found)]
    without = [f"{room}.{name}" for room, name, found in functions if ">>>" not in (found.__doc__ or "")]
    assert not without
    assert len(functions) > 60


def test_what_other_rooms_call_shows_an_example() -> None:
    """Whether it is on their room's face or not."""
    paths = sorted((ROOT / "builder").rglob("*.py"))
    called = [inspect.unwrap(found) for path in paths for found in asked_of_other_rooms(path)]
    functions = {f"{f.__module__}.{f.__name__}": f for f in called if inspect.isfunction(f)}
    assert len(functions) > 200
    assert not [name for name, f in sorted(functions.items()) if ">>>" not in (f.__doc__ or "")]


def asked_of_other_rooms(path: Path) -> Iterator[Any]:
    """What a file imports from other rooms, and of a module that it imports whole, what it asks of it."""
    own = path.relative_to(ROOT / "builder").parts[0]
    tree = ast.parse(path.read_text("utf-8"))
    for node in ast.walk(tree):
        if not isinstance(node, ast.ImportFrom) or not (node.module or "").startswith("builder."):
            continue
        for alias in node.names if str(node.module).split(".")[1] != own else ():
            found = getattr(import_module(str(node.module)), alias.name)
            if not inspect.ismodule(found):
                yield found
                continue
            name = alias.asname or alias.name
            used = (each for each in ast.walk(tree) if isinstance(each, ast.Attribute))
            yield from (getattr(found, each.attr) for each in used if ast.unparse(each.value) == name)


def test_no_function_is_longer_than_a_screen() -> None:
    too_long = [
        (path.relative_to(ROOT), node.name, length)
        for room in ("builder", "tests")
        for path in sorted((ROOT / room).rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))
        and (length := (node.end_lineno or 0) - node.lineno + 1) > LONGEST
    ]
    assert not too_long
