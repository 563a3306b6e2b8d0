"""A course that brings recorded pipes: its pages load them from a disk and sound in tune, its recordings are
played on them, and both say whose they are."""

from __future__ import annotations

import base64
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from playwright.sync_api import Page

sys.path.insert(0, str(Path(__file__).parent.parent / "sound"))

from recordings import folder_of, hertz

from builder.music import Pitch
from builder.sound.recorded import measured

RATE = 44_100
CONFIG = """site_name: Course
docs_dir: content
use_directory_urls: false
theme: {name: material, font: false}
plugins:
  - verset: {pdf: false, pipes: pipes, registration: principale, tuning: quarter-comma}
"""
SOURCE = """---
title: Two bars
verset: {metre: C, signature: none, beat: half = 60}
---

```given
cantus C1 | D5/2 A4/2 | B4/2 C5/2
bassus F4 | D4/2 A3/2 | G3/2 D3/2 | A3/1{#} | D3/1{#}
```
"""
OFF = {"D2": 20.0, "A2": -33.0, "D3": 25.0, "A3": -15.0, "D4": 30.0, "A4": -24.0, "D5": 11.0}


@pytest.fixture(scope="module")
def course(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("piped")
    (folder / "content").mkdir()
    (folder / "content/index.md").write_text("# Course\n\n[Two](two.md)\n", "utf-8")
    (folder / "content/two.md").write_text(SOURCE, "utf-8")
    (folder / "mkdocs.yml").write_text(CONFIG, "utf-8")
    samples = {key: hertz(Pitch.parse(key).midi, cents=cents) for key, cents in OFF.items()}
    folder_of(folder / "pipes", "principale", samples)
    assert built(folder).returncode == 0
    return folder


def built(folder: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "mkdocs", "build", "--quiet"]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


def heard(page: Page, notes: list[list[float]], seconds: float) -> tuple[int, np.ndarray]:
    """How many recorded pipes the page has, and what it sounds."""
    found = page.evaluate(
        """async ([notes, seconds, rate]) => {
            const {play} = JSON.parse(document.querySelector('.verset-play').textContent);
            const context = new OfflineAudioContext(1, Math.ceil(seconds * rate), rate);
            const organ = window.versetReader.createOrgan(context, play);
            await Promise.all([organ.ready, organ.around]);
            organ.setLevel(1);
            for (const note of notes) organ.note(...note);
            const sound = (await context.startRendering()).getChannelData(0);
            const bytes = new Uint8Array(sound.buffer);
            let text = '';
            for (let k = 0; k < bytes.length; k += 32768)
              text += String.fromCharCode(...bytes.subarray(k, k + 32768));
            return [organ.ranks.reduce((sum, rank) => sum + (rank.pipes?.length ?? 0), 0), btoa(text)];
        }""",
        [notes, seconds, RATE],
    )
    return found[0], np.frombuffer(base64.b64decode(found[1]), np.float32)


def test_the_page_plays_the_recorded_pipes_in_tune(visit: Any, course: Path) -> None:
    page = visit(course / "site/two/whole.html")
    play = page.evaluate("JSON.parse(document.querySelector('.verset-play').textContent).play")
    lowest, highest = min(r["low"] for r in play["ranks"]), max(r["high"] for r in play["ranks"])
    wanted = [h for h in play["keys"] if lowest <= h < highest][::5]
    notes = [[3.0 * n + 0.1, 3.0 * n + 2.9, each, 0] for n, each in enumerate(wanted)]
    count, sound = heard(page, notes, 3.0 * len(wanted))
    assert count >= 7 and len(wanted) >= 5
    for n, each in enumerate(wanted):
        tone = sound[int((3 * n + 0.6) * RATE) : int((3 * n + 2.6) * RATE)]
        assert abs(1200 * np.log2(measured(tone, RATE, each) / each)) < 2, each
        level = np.sqrt(np.mean(tone[: len(tone) // 4410 * 4410].reshape(-1, 4410) ** 2, axis=1))
        assert level.min() > 0.8 * level.max() > 0.01, each
    assert np.abs(sound).max() < 1


def test_where_the_script_is_lost_our_own_pipes_sound(visit: Any, course: Path, tmp_path: Path) -> None:
    shutil.copytree(course / "site", tmp_path / "site")
    for script in (tmp_path / "site/assets/verset").glob("pipes-*.js"):
        script.write_text("", "utf-8")
    count, sound = heard(visit(tmp_path / "site/two/whole.html"), [[0.1, 1.0, 293.0, 0]], 1.2)
    assert count == 0 and np.abs(sound).max() > 0.05


def test_page_and_recordings_say_whose_the_pipes_are(course: Path) -> None:
    overview = (course / "site/two.html").read_text("utf-8")
    assert "Pipes recorded by Two Players, CC-BY-4.0." in overview
    recordings = list((course / "site/two/files").glob("*.mp3"))
    assert recordings
    for path in recordings:
        with soundfile.SoundFile(path) as file:
            assert "Pipes recorded by Two Players, CC-BY-4.0." in file.comment


def test_other_samples_make_other_recordings_and_bad_ones_none(course: Path, tmp_path: Path) -> None:
    folder = tmp_path / "course"
    shutil.copytree(course, folder)
    before = {p.name: p.read_bytes() for p in (folder / "site/two/files").glob("*.mp3")}
    scripts = {p.name for p in (folder / "site/assets/verset").glob("pipes-*.js")}
    samples = {key: hertz(Pitch.parse(key).midi) for key in ("C2", "C4")}
    shutil.rmtree(folder / "pipes")
    folder_of(folder / "pipes", "principale", samples)
    assert built(folder).returncode == 0
    after = {p.name: p.read_bytes() for p in (folder / "site/two/files").glob("*.mp3")}
    assert after.keys() == before.keys() and all(after[n] != before[n] for n in after)
    assert {p.name for p in (folder / "site/assets/verset").glob("pipes-*.js")}.isdisjoint(scripts)
    (folder / "pipes/ottava H4.wav").write_bytes(b"")
    refused = built(folder)
    assert refused.returncode and "pipes/ottava H4.wav: a file is called" in refused.stderr
