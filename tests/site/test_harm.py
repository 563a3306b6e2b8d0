"""Nothing a machine does may tear a site or lose a file: kills, builds at once, full disks, folders that may
not be written, a store that was damaged or planted. The full numbers with VERSET_MANY=1."""

from __future__ import annotations

import base64
import hashlib
import os
import random
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from mkdocs.exceptions import Abort, PluginError

from builder.plugin.site import build_for_release

MANY = bool(os.environ.get("VERSET_MANY"))
KILLS = 50 if MANY else 3
PAIRS = 40 if MANY else 2
ROOMS = range(0, 2400, 100) if MANY else (0, 1500)  # KiB that a disk has over

BUILD = [sys.executable, "-m", "mkdocs", "build", "--strict"]
Contents = Callable[[Path], dict[str, bytes]]


def ran(course, *before: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([*before, *BUILD], cwd=course.root, capture_output=True, text=True, timeout=600)


def change(course, word: str) -> None:
    path = course.root / "content/versets/duo.md"
    text = path.read_text("utf-8")
    path.write_text(text.partition("Two voices.")[0] + f"Two voices. {word}\n" + text.partition("\n\n```")[1]
                    + text.partition("\n\n```")[2], "utf-8")  # fmt: skip


@pytest.fixture
def two_workers(built) -> None:
    path = built.root / "mkdocs.yml"
    path.write_text(path.read_text().replace("processes: 1", "processes: 2"))
    text = (built.root / "content/versets/duo.md").read_text()
    built.write("versets/other.md", text.replace("A duo", "Another"))


def test_a_killed_build_leaves_the_old_site_or_the_new_one(built, contents: Contents, two_workers) -> None:
    dice = random.Random(12)
    built.build(strict=True)
    old = contents(built.site)
    change(built, "Changed.")
    shutil.copytree(built.root, built.root.with_name("twin"))
    started = time.monotonic()
    subprocess.run(BUILD, cwd=built.root.with_name("twin"), capture_output=True, check=True)
    long = time.monotonic() - started
    new = contents(built.root.with_name("twin") / "site")
    assert new != old
    for _ in range(KILLS):
        build = subprocess.Popen(BUILD, cwd=built.root, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(dice.uniform(0.1, 1.1) * long)
        build.kill()
        build.wait()
        if not built.site.exists():  # killed between two renames: the next build puts it back first
            assert contents(built.root / "site.build" / "old") == old
            continue
        assert contents(built.site) in (old, new)
    good = ran(built)
    assert good.returncode == 0, good.stderr
    assert contents(built.site) == new
    assert not (built.root / "site.build").exists()
    assert list((built.root / ".cache/verset-store/making").iterdir()) == []


def test_two_builds_at_once_give_one_good_site_cold_and_warm(built, contents: Contents, two_workers) -> None:
    ran(built)
    good = contents(built.site)
    for n in range(PAIRS):
        if n % 2:
            shutil.rmtree(built.root / ".cache")
        pair = [
            subprocess.Popen(BUILD, cwd=built.root, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
            for _ in range(2)
        ]
        told = [each.communicate(timeout=600)[1] for each in pair]
        assert [each.returncode for each in pair] == [0, 0], told
        assert contents(built.site) == good
        assert not (built.root / "site.build").exists()


def test_two_courses_that_share_a_store_keep_each_others_work(course, tmp_path_factory) -> None:
    from builder.pages.store import Store

    store = tmp_path_factory.mktemp("shared") / "store"
    path = course.root / "mkdocs.yml"
    path.write_text(path.read_text().replace("audio: false", f"audio: false, cache: {store}"))
    course.build()
    first = {p.name for p in (store / "entries").iterdir()}
    change(course, "Of another course.")
    course.build()
    assert first < {p.name for p in (store / "entries").iterdir()}
    assert all(Store(store).get(key) for key in first)


@pytest.mark.parametrize("cache", [".", "..", "content", "content/versets", "site", "photographs"])
def test_a_store_across_other_files_is_refused_and_nothing_is_lost(
    built, caplog, contents: Contents, cache: str
) -> None:
    for name in (".git/HEAD", "photographs/one.jpg"):
        (built.root / name).parent.mkdir()
        (built.root / name).write_text("mine")
    before = contents(built.root)
    path = built.root / "mkdocs.yml"
    path.write_text(path.read_text().replace("audio: false", f"audio: false, cache: {cache}"))
    with pytest.raises((PluginError, Abort)):
        built.build()
    assert "name a folder of its own" in caplog.text
    path.write_bytes(before["mkdocs.yml"])
    assert contents(built.root) == before


def test_a_store_that_was_damaged_or_planted_is_made_anew(built, contents: Contents) -> None:
    good = contents(built.site)
    entries = built.root / ".cache/verset-store/entries"
    files = [p for p in sorted(entries.rglob("*")) if p.is_file()]
    dice = random.Random(7)
    wrong = [
        lambda data: data[:100],
        lambda data: b"",
        lambda data: data.replace(b"<", b"<script>alert(1)</script><", 1) + b" ",
        lambda data: bytes(reversed(data)),
    ]
    for path in files if MANY else dice.sample(files, 4):
        data = path.read_bytes()
        path.write_bytes(dice.choice(wrong)(data))
        built.build()
        assert contents(built.site) == good, path.name
    for entry in entries.iterdir():  # each under the key of another
        entry.rename(entry.with_name(f"{entry.name}.x"))
    moved = sorted(entries.iterdir())
    for one, other in zip(moved, [*moved[1:], moved[0]], strict=True):
        one.rename(other.with_name(other.name[:-2]))
    built.build()
    assert contents(built.site) == good


def test_a_release_trusts_no_sum_that_was_taken_before(built, contents: Contents) -> None:
    entries = built.root / ".cache/verset-store/entries"
    files = [path for path in sorted(entries.rglob("*")) if path.is_file()]
    for path in files:
        os.utime(path, ns=(10**18, 10**18))
    built.build()
    good = contents(built.site)
    page = next(p for p in files if p.suffix == ".html" and b"<svg" in p.read_bytes())
    page.write_bytes(page.read_bytes().replace(b"<svg", b"<svj"))
    os.utime(page, ns=(10**18, 10**18))
    build_for_release(built.root / "mkdocs.yml")
    assert contents(built.site) == good


def plant(store, key: str, value: dict, files: dict[str, str]) -> None:
    """An entry with right sums in the place of another, whose other files stay."""
    entry = store.get(key)
    with store.making() as work:
        shutil.copytree(entry.folder, work, dirs_exist_ok=True)
        for name, text in files.items():
            (work / name).write_text(text, "utf-8")
        (work / "entry.json").unlink()
        shutil.rmtree(entry.folder)
        store.keep(key, work, value)
    assert store.get(key).value == value


def kept_by(course) -> tuple[object, str, str]:
    """The open store of a course, and the keys of its lesson and of its tables of the rules."""
    from builder.pages.store import Store

    store = Store(course.root / ".cache/verset-store")
    keys = [path.name for path in (store.folder / "entries").iterdir()]
    lesson = next(key for key in keys if "downloads" in store.get(key).value)
    tables = next(key for key in keys if "rules.json" in store.get(key).files)
    return store, lesson, tables


def test_a_planted_lesson_with_good_sums_goes_nowhere_but_to_its_own_pages(built, contents: Contents) -> None:
    from builder.pages.jobs import TablesJob
    from builder.pages.kept import lesson_kept

    good = contents(built.site)
    store, lesson, tables = kept_by(built)
    value = store.get(lesson).value
    page, download = value["pages"][0], value["downloads"][0]
    wrong = [
        *({"pages": [{**page, "uri": uri}]} for uri in ("../../outside.md", "/outside.md", "index.md")),
        {"pages": [{**page, "uri": "versets/duo/../../index.md"}]},
        # no file that a browser runs, nor one in the place of the site's own
        *(
            {"downloads": [{**download, "uri": f"versets/duo/files/{n}"}]}
            for n in ("a.js", "a.html", "a.svg")
        ),
        {"downloads": [{**download, "uri": "assets/verset/reader.js"}]},
        {"downloads": [{**download, "file": "../../other/entry.json"}]},
    ]
    for change in wrong:
        plant(store, lesson, value | change, {})
        with pytest.raises(ValueError, match=r"not its place|no file"):
            lesson_kept(store.get(lesson), "versets/duo.md")
    for rules in ("1};alert(1);({", "alert(1)", "[" * 100_000):  # tables are data: what is none is made anew
        plant(store, tables, {}, {"rules.json": rules})
        with pytest.raises((ValueError, RecursionError)):
            TablesJob(tables).read(store.get(tables))
    built.build()
    assert contents(built.site) == good
    assert not (built.root.parent / "outside.html").exists()


def test_a_planted_lesson_brings_words_and_music_and_neither_script_nor_signs_that_steer(
    built, caplog
) -> None:
    store, lesson, tables = kept_by(built)
    value = store.get(lesson).value
    slot = value["pages"][0]["slots"]["practice"]
    script = "<script>document.documentElement.dataset.taken=1</script>"
    told = {"errors": ["a\x1b[2Jb"], "warnings": ["c\x9bd"], "title": script}
    markdown = value["pages"][0]["markdown"] + f"\n\n{script} [link](javascript:alert(1))\n"
    pages = [{**value["pages"][0], "markdown": markdown}, *value["pages"][1:]]
    plant(store, lesson, value | told | {"pages": pages}, {slot: script})
    plant(store, tables, {}, {"rules.json": '{"a": "</script>"}'})
    built.build()
    page = (built.site / "versets/duo.html").read_text("utf-8")
    assert script in page and "javascript:" not in page
    # the script stands in the page, and its policy lets no script run that stands in a page's words
    rules = page.partition('<meta http-equiv="Content-Security-Policy" content="')[2].partition('"')[0]
    digest = base64.b64encode(hashlib.sha256(script[8:-9].encode()).digest()).decode()
    assert (
        "script-src" in rules and digest not in rules and "unsafe-inline" not in rules.partition("style")[0]
    )
    assert (built.site / "assets/verset/verdicts.js").read_text() == (
        'window.versetVerdicts={"a":"</script>"};\n'
    )
    assert "a␛[2Jb" in caplog.text and "\x1b[2J" not in caplog.text and "\x9b" not in caplog.text


NAMESPACE = ["unshare", "-rm", "sh", "-c"]


def in_a_namespace() -> bool:
    try:
        return subprocess.run([*NAMESPACE, "mount -t tmpfs none /mnt"], capture_output=True).returncode == 0
    except FileNotFoundError:
        return False


own_mounts = pytest.mark.skipif(not in_a_namespace(), reason="mounts of one's own are not allowed here")


@own_mounts
def test_a_full_disk_is_said_in_words_and_the_site_stays(built, tmp_path_factory, contents: Contents) -> None:
    before = contents(built.site)
    change(built, "Changed.")
    out = tmp_path_factory.mktemp("out")
    disk = tmp_path_factory.mktemp("disk")
    pages = sum(1 + -(-p.stat().st_size // 4096) for p in built.root.rglob("*"))
    for room in ROOMS:  # from a disk on which nothing more finds room to one where the site nearly does
        script = (
            f"mount -t tmpfs -o size={4 * pages + room}k none {disk} && "
            f"cp -r {built.root}/. {disk} && cd {disk} || exit; "
            f"{' '.join(BUILD)} 2>&1; echo done $?; rm -rf {out}/site; cp -r {disk}/site {out}/site; "
            f"test -e {disk}/site.build || echo gone"
        )
        told = subprocess.run([*NAMESPACE, script], capture_output=True, text=True)
        assert not told.stderr, told.stderr  # the built as it was must find room: else no build was tried
        assert "done 1" in told.stdout, (room, told.stdout)
        assert "No space left on device" in told.stdout, (room, told.stdout)
        assert "Traceback" not in told.stdout
        assert contents(out / "site") == before
        assert told.stdout.endswith("gone\n")


@own_mounts
@pytest.mark.parametrize("folder", ["", "site"])
def test_a_folder_that_may_not_be_written_is_said_in_words(built, contents: Contents, folder: str) -> None:
    before = contents(built.site)
    change(built, "Changed.")
    where = built.root / folder
    script = f"mount --bind {where} {where} && mount -o remount,ro,bind {where} && {' '.join(BUILD)}"
    told = subprocess.run([*NAMESPACE, script], cwd=built.root, capture_output=True, text=True)
    assert told.returncode != 0
    assert "Read-only file system" in told.stderr + told.stdout or "busy" in told.stderr + told.stdout
    assert "Traceback" not in told.stderr + told.stdout
    assert contents(built.site) == before


def test_what_nobody_foresaw_in_one_file_is_told_with_all_others_and_a_log(
    built, caplog, monkeypatch, contents: Contents
) -> None:
    from builder.pages import jobs

    before = contents(built.site)
    good = (built.root / "content/versets/duo.md").read_text()
    built.write("versets/bad.md", good.replace("A4/4.", "H4/4."))
    built.write("versets/odd.md", good.replace("A duo", "Odd"))
    built.write("versets/fine.md", good.replace("A duo", "Fine"))
    usual = jobs.build_lesson

    def build_lesson(path, making, work, keeper):
        if path.name == "odd.md":
            raise ZeroDivisionError("deep inside")
        return usual(path, making, work, keeper)

    monkeypatch.setattr(jobs, "build_lesson", build_lesson)
    with pytest.raises((PluginError, Abort)):
        built.build()
    assert (
        "bad.md:12" in caplog.text
        and "odd.md: something that nobody foresaw: ZeroDivisionError" in caplog.text
    )
    log = built.root / ".cache/verset-store/verset-builder.log"
    assert str(log) in caplog.text and "Traceback" not in caplog.text
    assert "deep inside" in log.read_text() and "build_lesson" in log.read_text()
    assert contents(built.site) == before


def test_what_nobody_foresaw_elsewhere_ends_in_words_and_a_log_too(course, monkeypatch) -> None:
    from builder.pages.course import Course

    def fill(self, html, uri, root):
        raise ZeroDivisionError("while filling")

    monkeypatch.setattr(Course, "fill", fill)
    with pytest.raises(Abort, match=r"nobody foresaw: ZeroDivisionError(.|\n)*verset-builder\.log"):
        course.build()
    assert not course.site.exists() and not (course.root / "site.build").exists()
