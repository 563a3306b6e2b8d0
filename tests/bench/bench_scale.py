"""What a course of many versets costs, beside the least that any builder of it would pay:

    python tests/bench/bench_scale.py 10 30 100

For each number a course of invented versets is built cold, again with nothing changed, and again with one
verset changed. The versets are those of the demonstration course at nine pitches, each with a seed of its
own, so that no two share any work. The floor, in the same run: the site generator alone with the same theme
and the words of the same pages; the engraver alone on the same documents at the same widths; the encoder
alone on the same seconds of sound. Engraver and encoder are measured on the first five versets and counted
for all. Seconds of processor are those of a process and all that it started; memory is that of the largest
process.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import soundfile
import verovio

from builder.engraving import engrave
from builder.pages.build import Making, build_lesson
from builder.pages.store import Store
from builder.plugin.progress import weighed
from builder.setting.setting import Defaults

VERSETS = sorted((Path(__file__).parents[2] / "content" / "versets").glob("*.md"))
PITCHES = ("none", *(f"a {size} {way}" for size in ("tone", "fourth", "minor third", "fifth")
                     for way in ("lower", "higher")))  # fmt: skip
SAMPLE = 5
HEAD = """site_name: Many versets
docs_dir: content
use_directory_urls: false
theme: {name: material, font: false, features: [navigation.footer, navigation.sections, toc.follow]}
markdown_extensions: [admonition, attr_list, md_in_html, pymdownx.details, tables]
"""
OURS = HEAD + "plugins: [search, offline, verset]\n"
BARE = HEAD + "plugins: [search, offline]\n"
INDEX = "# Versets\n\n<!-- verset:index -->\n"
WORDS = "# How to practise\n\n" + "Slowly at first, one voice after the other. " * 40 + "\n"


@dataclass(frozen=True)
class Cost:
    """Seconds of processor and of the clock, and MiB of the largest process."""

    processor: float
    clock: float
    memory: float = 0.0

    def __str__(self) -> str:
        told = f"{self.processor:8.1f} s of processor, {self.clock:7.1f} s by the clock"
        return told + (f", {self.memory:5.0f} MiB" if self.memory else "")


def built(folder: Path, plugins: str) -> Cost:
    """What a build of the course in a folder costs."""
    (folder / "mkdocs.yml").write_text(plugins, "utf-8")
    began = time.monotonic()
    process = subprocess.Popen(
        [sys.executable, "-m", "mkdocs", "build", "--quiet"], cwd=folder, stderr=subprocess.PIPE
    )
    assert process.stderr
    text = process.stderr.read()
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(text.decode())
    return Cost(used.ru_utime + used.ru_stime, time.monotonic() - began, used.ru_maxrss / 1024)


def course(folder: Path, count: int) -> None:
    """A course of so many versets."""
    versets = folder / "content" / "versets"
    versets.mkdir(parents=True)
    (folder / "content" / "index.md").write_text(INDEX, "utf-8")
    (folder / "content" / "practice.md").write_text(WORDS, "utf-8")
    for n in range(count):
        text = VERSETS[n % len(VERSETS)].read_text("utf-8")
        lines = [line for line in text.split("\n") if not line.startswith(("  move:", "  seed:"))]
        at = lines.index("verset:") + 1
        pitch = PITCHES[n // len(VERSETS) % len(PITCHES)]
        lines[at:at] = [f"  move: {pitch}", f"  seed: {n + 1}"]
        (versets / f"verset-{n:04}.md").write_text("\n".join(lines), "utf-8")


def bare_pages(folder: Path, ours: Path) -> int:
    """The words of every page of a course that was built, as pages of its own; gives their number."""
    content = folder / "content"
    content.mkdir(parents=True)
    (content / "index.md").write_text("# Versets\n", "utf-8")
    (content / "practice.md").write_text(WORDS, "utf-8")
    store, pages = Store(ours / ".cache/verset-store"), 2
    for path in sorted((store.folder / "entries").iterdir()):
        entry = store.get(path.name)
        for page in entry.value.get("pages", ()) if entry else ():
            place = content / page["uri"]
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_text(page["markdown"], "utf-8")
            pages += 1
    return pages


def engraver(sources: list[Path], work: Path) -> Cost:
    """The engraver alone on what the lessons of some sources give it."""
    asked: list[tuple[str, list[tuple[float, float]], bool]] = []
    dialect, usual = engrave.dialect, engrave.systems
    heard: list[str] = []

    def hearing(mei: str) -> str:
        heard.append(dialect(mei))
        return heard[-1]

    def systems(mei: str, pages: list[tuple[float, float]], *, justify: bool = True):
        made = usual(mei, pages, justify=justify)
        asked.append((heard[-1], list(pages), justify))
        return made

    engrave.dialect = hearing
    for module in [m for name, m in sys.modules.items() if name.startswith("builder")]:
        if getattr(module, "systems", None) is usual:
            module.systems = systems
    for n, path in enumerate(sources):
        folder = work / str(n)
        folder.mkdir()
        build_lesson(path, Making(f"versets/{path.name}", Defaults(), audio=False), folder)
    toolkit = verovio.toolkit()
    began, clock = time.process_time(), time.monotonic()
    for mei, pages, justify in asked:
        for n, (width, scale) in enumerate(pages):
            toolkit.setOptions(
                engrave.OPTIONS | {"pageWidth": round(width * 100 / scale), "noJustification": not justify}
            )
            if n:
                toolkit.redoLayout()
            else:
                toolkit.loadData(mei)
            for p in range(toolkit.getPageCount()):
                toolkit.renderToSVG(p + 1)
    return Cost(time.process_time() - began, time.monotonic() - clock)


def encoder(recordings: list[Path]) -> Cost:
    """The encoder alone on the sound of some recordings."""
    total, clock = 0.0, time.monotonic()
    for path in recordings:
        data, rate = soundfile.read(path, dtype="float32")
        began = time.process_time()
        with tempfile.NamedTemporaryFile(suffix=path.suffix) as out:
            soundfile.write(out.name, data, rate)
        total += time.process_time() - began
    return Cost(total, time.monotonic() - clock)


def times(cost: Cost, factor: float) -> Cost:
    return Cost(cost.processor * factor, cost.clock * factor, cost.memory)


def measured(count: int, room: Path) -> None:
    """Build a course of so many versets and print what it cost."""
    ours, bare = room / f"ours{count}", room / f"bare{count}"
    course(ours, count)
    cold = built(ours, OURS)
    sizes = weighed(ours / "site")
    words = (ours / "site" / "practice.html").stat().st_size
    again = built(ours, OURS)
    first = ours / "content" / "versets" / "verset-0000.md"
    first.write_text(first.read_text("utf-8").replace("  seed: 1\n", "  seed: 100001\n"), "utf-8")
    changed = built(ours, OURS)
    pages = bare_pages(bare, ours)
    generator = built(bare, BARE)
    sample = sorted((ours / "content" / "versets").glob("*.md"))[:SAMPLE]
    names = {path.stem for path in sample}
    (room / f"work{count}").mkdir()
    engraving = times(engraver(sample, room / f"work{count}"), count / len(sample))
    heard = [p for p in sorted((ours / "site").rglob("*.mp3")) if p.parent.parent.name in names]
    encoding = times(encoder(heard), count / len(sample))
    floor = generator.processor + engraving.processor + encoding.processor
    whole = sum(sizes.values())
    print(f"{count} versets, {pages} pages, {os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}")
    print(f"  cold               {cold}")
    print(f"  nothing changed    {again}")
    print(f"  one changed        {changed}")
    for name, cost in (("generator", generator), ("engraver", engraving), ("encoder", encoding)):
        print(f"  floor: {name:<11} {cost}")
    print(f"  cold / floor       {cold.processor / floor:.2f} (processor); a verset "
          f"{cold.processor / count:.1f} s, floor {floor / count:.1f} s")  # fmt: skip
    print(f"  our share          nothing changed {again.processor - generator.processor:.1f} s, one changed "
          f"{changed.processor - generator.processor:.1f} s of processor")  # fmt: skip
    print(
        f"  a verset           {whole / count / 1e6:.2f} MB of the site; a page of words {words / 1e3:.0f} kB"
    )
    print(f"  bytes              {', '.join(f'{k} {n / 1e6:.1f}' for k, n in sizes.items())} MB", flush=True)
    shutil.rmtree(ours / "site")


def main() -> int:
    counts = [int(word) for word in sys.argv[1:]] or [10, 30]
    with tempfile.TemporaryDirectory() as room:
        for count in counts:
            measured(count, Path(room))
    return 0


if __name__ == "__main__":
    sys.exit(main())
