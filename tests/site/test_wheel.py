"""A course in any other folder works with the installed distribution alone."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built and unpacked as an installation would."""
    folder = tmp_path_factory.mktemp("wheel")
    pip = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check"]
    subprocess.run(
        [*pip, "wheel", "--no-deps", "--no-build-isolation", "-w", str(folder), str(ROOT)], check=True
    )
    wheel = next(folder.glob("*.whl"))
    target = folder / "installed"
    subprocess.run([*pip, "install", "--no-deps", "--target", str(target), str(wheel)], check=True)
    return target


def test_a_new_course_from_an_empty_folder_builds_with_the_wheel(installed: Path, tmp_path: Path) -> None:
    env = {**os.environ, "PYTHONPATH": str(installed)}
    where = subprocess.run(
        [sys.executable, "-c", "import builder; print(builder.__file__)"],
        cwd=tmp_path, env=env, check=True, capture_output=True, text=True,
    )  # fmt: skip
    assert str(installed) in where.stdout
    subprocess.run([sys.executable, "-m", "builder.cli", "new", "course"], cwd=tmp_path, env=env, check=True)
    course = tmp_path / "course"
    subprocess.run([sys.executable, "-m", "mkdocs", "build", "--strict"], cwd=course, env=env, check=True)
    page = course / "site" / "versets" / "example" / "tenor.html"
    assert "verset-play" in page.read_text("utf-8")
    assert (course / "site" / "assets" / "verset" / "reader.js").is_file()
    assert (course / "site" / "versets" / "example" / "files" / "example-diminished.mp3").is_file()
