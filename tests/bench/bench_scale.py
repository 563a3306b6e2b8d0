"""What a course of many versets costs, beside the least that any builder of it would pay:

    python tests/bench/bench_scale.py 10 30 100
    python tests/bench/bench_scale.py 30 300 --made 30

For each number a course of invented versets is built cold, again with nothing changed, again with one verset
changed, and saved twice while it is served, in its words and in its notes. The versets are those of the
demonstration course at nine pitches, each with a seed of its own, so that no two share any work. Beyond
`--made` versets finished work is copied under the names of the others: pages, files and rebuilds are those
of the whole course, and the cold build is counted from those that were made.

The floor, in the same run: the site generator alone with the same theme, pruned as ours is, and the words
of the same pages; the engraver alone on the same documents at the same widths, for the page and for print;
the encoder alone on the same seconds of sound. Engraver and encoder are measured on the first five versets
and counted for all; so is the composing (plain, voices, lines), which is told apart. Seconds of processor
are those of a process and all that it started; memory is that of the largest process. Our share is told by
the builds themselves: what the plugin takes to be read in, and what its events take.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import soundfile
import verovio
from mkdocs.config import load_config

from builder.edition.pdf import systems as printed
from builder.engraving import engrave
from builder.pages.build import Making, build_lesson, read_setting
from builder.pages.course import Options, _Builder
from builder.pages.store import MANIFEST, Store
from builder.plugin.config import course_options
from builder.plugin.nav import in_order
from builder.plugin.progress import weighed
from builder.setting.setting import Defaults

VERSETS = sorted((Path(__file__).parents[2] / "content" / "versets").glob("*.md"))
PITCHES = ("none", *(f"a {size} {way}" for size in ("tone", "fourth", "minor third", "fifth")
                     for way in ("lower", "higher")))  # fmt: skip
SAMPLE = 5
MOST_SAVED = 30
"""Versets of a course that somebody may wait for while it is served."""
ENVIRONMENT = {key: text for key, text in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
"""Code is compiled once, as on any machine."""
HEAD = """site_name: Many versets
docs_dir: content
use_directory_urls: false
theme: {name: material, font: false, features: [navigation.footer, navigation.sections, toc.follow]}
markdown_extensions: [admonition, attr_list, md_in_html, pymdownx.details, tables]
"""
OURS = HEAD + "plugins: [search, offline, verset]\n"
BARE = HEAD.replace("toc.follow", "toc.follow, navigation.prune") + "plugins: [search, offline]\n"
INDEX = "# Versets\n\n<!-- verset:index -->\n"
WORDS = "# How to practise\n\n" + "Slowly at first, one voice after the other. " * 40 + "\n"


@dataclass(frozen=True)
class Cost:
    """Seconds of processor and of the clock, and MiB of the largest process."""

    processor: float
    clock: float
    memory: float = 0.0
    ours: float = 0.0
    """Seconds of processor of the plugin: of reading it in, and of its events, with the processes that they
    started."""

    def __str__(self) -> str:
        told = f"{self.processor:8.1f} s of processor, {self.clock:7.1f} s by the clock"
        told += f", {self.memory:5.0f} MiB" if self.memory else ""
        return told + (f", ours {self.ours:6.2f} s of processor" if self.ours else "")


OWN = """
import functools, json, os, sys, time

def worked():
    return sum(os.times()[:4])

events = {}

def timed(name, event):
    @functools.wraps(event)
    def run(*given, **named):
        began = worked()
        try:
            return event(*given, **named)
        finally:
            events[name] = events.get(name, 0) + worked() - began
    return run

import mkdocs.commands.build, mkdocs.commands.serve, mkdocs.config, mkdocs.plugins, material.plugins
if "verset]" in open("mkdocs.yml").read():
    began = worked()
    from builder.plugin.plugin import VersetPlugin
    events["read in"] = worked() - began
    for name in [n for n in vars(VersetPlugin) if n.startswith("on_")]:
        setattr(VersetPlugin, name, timed(name, getattr(VersetPlugin, name)))
"""
"""Times what is the plugin's own, while the generator builds."""
BUILDING = (
    OWN
    + """
from mkdocs.__main__ import cli
try:
    cli(["build", "--quiet"])
finally:
    with open(sys.argv[1], "w") as out:
        json.dump(events, out)
"""
)


def built(folder: Path, plugins: str) -> Cost:
    """What a build of the course in a folder costs."""
    (folder / "mkdocs.yml").write_text(plugins, "utf-8")
    events = folder / "events.json"
    began = time.monotonic()
    command = [sys.executable, "-c", BUILDING, str(events)]
    process = subprocess.Popen(command, cwd=folder, env=ENVIRONMENT, stderr=subprocess.PIPE)
    assert process.stderr
    text = process.stderr.read()
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(text.decode())
    own = sum(json.loads(events.read_text("utf-8")).values())
    return Cost(used.ru_utime + used.ru_stime, time.monotonic() - began, used.ru_maxrss / 1024, own)


def course(folder: Path, count: int, first: int = 0) -> None:
    """A course of so many versets, or those from the first on added to it."""
    versets = folder / "content" / "versets"
    versets.mkdir(parents=True, exist_ok=True)
    for path in VERSETS[0].parent.iterdir():
        if path.suffix not in (".md", ".xml"):
            shutil.copy(path, versets)  # pictures and recordings that the versets name
    (folder / "content" / "index.md").write_text(INDEX, "utf-8")
    (folder / "content" / "practice.md").write_text(WORDS, "utf-8")
    for n in range(first, count):
        text = VERSETS[n % len(VERSETS)].read_text("utf-8")
        lines = [line for line in text.split("\n") if not line.startswith(("  move:", "  seed:"))]
        at = lines.index("verset:") + 1
        pitch = PITCHES[n // len(VERSETS) % len(PITCHES)]
        lines[at:at] = [f"  move: {pitch}", f"  seed: {n + 1}"]
        (versets / f"verset-{n:04}.md").write_text("\n".join(lines), "utf-8")


def options_of(folder: Path) -> Options:
    """What a course chooses in its `mkdocs.yml`."""
    config = load_config(str(folder / "mkdocs.yml"))
    own = config.plugins["verset"].config
    return replace(course_options(own, folder, config.site_name), order=in_order(config.nav))


def copied(folder: Path, made: int, count: int) -> None:
    """Finished work of the first versets put under the names and keys of the others."""
    options = options_of(folder)
    store = Store(options.cache)
    jobs = _Builder(folder / "content", options, store, lambda *told: None)
    for n in range(made, count):
        old, new = f"verset-{n % made:04}", f"verset-{n:04}"
        entry = store.get(jobs.lesson_job(f"versets/{old}.md").key)
        assert entry
        with store.making() as work:
            for name in sorted(entry.files):
                path = work / name.replace(old, new)
                path.parent.mkdir(parents=True, exist_ok=True)
                data = entry.file(name).read_bytes()
                path.write_bytes(data.replace(old.encode(), new.encode()) if name.endswith(".html") else data)
            value = json.loads(json.dumps(entry.value).replace(old, new))
            store.keep(jobs.lesson_job(f"versets/{new}.md").key, work, value)


def bare_pages(folder: Path, ours: Path) -> int:
    """The words of every page of a course that was built, as pages of its own; gives their number."""
    content = folder / "content"
    content.mkdir(parents=True)
    (content / "index.md").write_text("# Versets\n", "utf-8")
    (content / "practice.md").write_text(WORDS, "utf-8")
    for path in sorted((ours / ".cache/verset-store/entries").iterdir()):
        value = json.loads((path / MANIFEST).read_text("utf-8").partition("\n")[2])["value"]
        for page in value.get("pages", ()):
            place = content / page["uri"]
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_text(page["markdown"], "utf-8")
    return sum(1 for _ in content.rglob("*.md"))


Asked = tuple[str, list[dict[str, Any]]]
"""A document, and the options of each of the pages for which it is engraved."""


def engraved(sources: list[Path], work: Path) -> tuple[list[Asked], list[Asked]]:
    """What the lessons of some sources give the engraver for the page, and for print."""
    shown: list[Asked] = []
    typeset: list[Asked] = []
    usual, last = engrave.systems, printed._drawn

    def systems(mei: str, pages: list[tuple[float, float]], *, justify: bool = True):
        of = [{"pageWidth": round(w * 100 / scale), "noJustification": not justify} for w, scale in pages]
        shown.append((engrave.dialect(mei), [engrave.OPTIONS | each for each in of]))
        return usual(mei, pages, justify=justify)

    def drawn(mei: str, apart: int, **options: Any) -> list[str]:
        if options.get("breaks") != "none":
            own = {"pageHeight": 100, "spacingStaff": apart}
            typeset.append((mei, [engrave.OPTIONS | own | options]))
        return last(mei, apart, **options)

    for module in [m for name, m in sys.modules.items() if name.startswith("builder")]:
        if getattr(module, "systems", None) is usual:
            module.systems = systems
    printed._drawn = drawn
    for n, path in enumerate(sources):
        folder = work / str(n)
        folder.mkdir()
        build_lesson(path, Making(f"versets/{path.name}", Defaults(), audio=False), folder)
    return shown, typeset


def engraver(asked: list[Asked]) -> Cost:
    """The engraver alone on some documents."""
    toolkit = verovio.toolkit()
    began, clock = time.process_time(), time.monotonic()
    for mei, pages in asked:
        for n, options in enumerate(pages):
            toolkit.setOptions(options)
            if n:
                toolkit.redoLayout()
            else:
                toolkit.loadData(mei)
            for p in range(toolkit.getPageCount()):
                toolkit.renderToSVG(p + 1)
        toolkit.resetOptions()
    return Cost(time.process_time() - began, time.monotonic() - clock)


def composing(sources: list[Path]) -> Cost:
    """Reading some sources and making their plain, their voices and their lines."""
    began, clock = time.process_time(), time.monotonic()
    for path in sources:
        read_setting(path, Making(f"versets/{path.name}", Defaults()))
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


SAVING = (
    OWN
    + """
import resource
from mkdocs.commands.build import build
from mkdocs.config import load_config
name, old, new = sys.argv[1:]
def save():
    config = load_config("mkdocs.yml", site_dir="served")
    config.plugins.on_startup(command="serve", dirty=False)
    build(config, serve_url="http://127.0.0.1:8000/")
save()
text = open(name, encoding="utf-8").read()
open(name, "w", encoding="utf-8").write(text.replace(old, new))
events.clear()
began, clock = worked(), time.monotonic()
save()
print(worked() - began, time.monotonic() - clock,
      resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, sum(events.values()))
"""
)


def saved(folder: Path, name: str, old: str, new: str) -> Cost:
    """What it costs from a file saved, while the course is served, to its new pages."""
    told = subprocess.run(
        [sys.executable, "-c", SAVING, name, old, new],
        cwd=folder,
        env=ENVIRONMENT,
        capture_output=True,
        text=True,
    )
    if told.returncode:
        raise SystemExit(told.stderr)
    return Cost(*map(float, told.stdout.split()[-4:]))


def rebuilt(folder: Path, count: int, made: int) -> dict[str, Cost]:
    """What a course costs built cold, and then again and again."""
    course(folder, made)
    found = {"cold": built(folder, OURS)}
    if count > made:
        less = built(folder, OURS)
        course(folder, count, made)
        copied(folder, made, count)
        whole = built(folder, OURS)
        lessons = times(
            Cost(found["cold"].processor - less.processor, found["cold"].clock - less.clock), count / made
        )
        found["cold"] = Cost(
            lessons.processor + whole.processor, lessons.clock + whole.clock, found["cold"].memory
        )
    found["nothing changed"] = built(folder, OURS)
    first = folder / "content" / "versets" / "verset-0000.md"
    first.write_text(first.read_text("utf-8").replace("  seed: 1\n", "  seed: 100001\n"), "utf-8")
    found["one changed"] = built(folder, OURS)
    if count > MOST_SAVED:
        return found
    found["saved: words"] = saved(folder, "content/practice.md", "one voice", "each voice")
    name = first.relative_to(folder).as_posix()
    found["saved: notes"] = saved(folder, name, "  seed: 100001\n", "  seed: 200001\n")
    return found


def floor_of(ours: Path, room: Path, count: int) -> tuple[dict[str, Cost], Cost, int]:
    """The floor of a course that was built, by kind; its composing; and its number of pages."""
    bare, work = room / f"bare{count}", room / f"work{count}"
    work.mkdir()
    pages = bare_pages(bare, ours)
    sample = sorted((ours / "content" / "versets").glob("*.md"))[:SAMPLE]
    share, names = count / len(sample), {path.stem for path in sample}
    shown, typeset = engraved(sample, work)
    heard = [p for p in sorted((ours / "site").rglob("*.mp3")) if p.parent.parent.name in names]
    floor = {
        "generator": built(bare, BARE),
        "engraver, page": times(engraver(shown), share),
        "engraver, print": times(engraver(typeset), share),
        "encoder": times(encoder(heard), share),
    }
    return floor, times(composing(sample), share), pages


def measured(count: int, room: Path, made: int) -> None:
    """Build a course of so many versets and print what it cost."""
    ours = room / f"ours{count}"
    costs = rebuilt(ours, count, made)
    sizes = weighed(ours / "site")
    words = (ours / "site" / "practice.html").stat().st_size
    floor, composed, pages = floor_of(ours, room, count)
    cold = costs["cold"].processor
    least, whole = sum(cost.processor for cost in floor.values()), sum(sizes.values())
    told = f", {made} made and counted for all" if made < count else ""
    print(f"{count} versets{told}, {pages} pages, {os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}")
    for name, cost in costs.items():
        print(f"  {name:<22} {cost}")
    for name, cost in floor.items():
        print(f"  floor: {name:<15} {cost}")
    print(f"  {'composing':<22} {composed}; {composed.processor / count:.2f} s a verset")
    apart = (cold - composed.processor) / least
    print(f"  cold / floor           {cold / least:.2f}; without composing {apart:.2f}")
    print(f"  a verset               {cold / count:.2f} s, floor {least / count:.2f} s")
    kinds = ", ".join(f"{kind} {n / 1e6:.1f}" for kind, n in sizes.items())
    print(f"  bytes              {whole / count / 1e6:.2f} MB a verset; a page of words {words / 1e3:.0f} kB")
    print(f"                     {kinds} MB", flush=True)
    shutil.rmtree(ours)


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("counts", type=int, nargs="*", default=[10, 30], metavar="VERSETS")
    asked.add_argument("--made", type=int, default=0, metavar="N", help="build N, and copy for the others")
    options = asked.parse_args()
    with tempfile.TemporaryDirectory() as room:
        for count in options.counts:
            measured(count, Path(room), min(options.made or count, count))
    return 0


if __name__ == "__main__":
    sys.exit(main())
