"""The store gives back what was kept, whole, and touches nothing that is not its own."""

from __future__ import annotations

import hashlib
import json
import os
import pickle
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from builder.pages.store import MANIFEST, MARK, Store, StoreError

KEY = "0123456789abcdef" * 2
OTHER = "f" * 32


@pytest.fixture
def store(tmp_path: Path) -> Store:
    made = Store(tmp_path / "store")
    made.open()
    return made


def kept(store: Store, key: str = KEY, text: str = "music", size: int = 0) -> Path:
    with store.making() as work:
        (work / "files").mkdir()
        (work / "files" / "a.txt").write_text(text + "." * size)
        store.keep(key, work, {"title": text})
    return store.folder / "entries" / key


def test_what_is_kept_is_given_back_with_its_files(store) -> None:
    kept(store)
    entry = store.get(KEY)
    assert entry is not None and entry.value == {"title": "music"}
    assert entry.file("files/a.txt").read_text() == "music"
    assert store.get(OTHER) is None
    with pytest.raises(ValueError, match="no file"):
        entry.file("../../secret")


def test_nothing_is_left_of_work_that_failed(store) -> None:
    with pytest.raises(RuntimeError), store.making() as work:
        (work / "half").write_text("x")
        raise RuntimeError
    assert list((store.folder / "making").iterdir()) == []
    assert store.get(KEY) is None


# --- deletes only what is its own


def test_a_folder_with_anything_in_it_is_no_store(tmp_path: Path) -> None:
    (tmp_path / "photographs").mkdir()
    (tmp_path / "photographs" / "one.jpg").write_bytes(b"jpg")
    with pytest.raises(StoreError, match=r"photographs.*name a folder of its own"):
        Store(tmp_path).open()
    assert [p.name for p in tmp_path.iterdir()] == ["photographs"]


@pytest.mark.skipif(os.name != "posix", reason="rights as on POSIX")
def test_a_store_is_its_owners_alone_and_one_for_everybody_is_refused(tmp_path: Path) -> None:
    store = Store(tmp_path / "store")
    store.open()
    store.close()
    assert store.folder.stat().st_mode & 0o077 == 0
    store.folder.chmod(0o777)
    with pytest.raises(StoreError, match="everybody on this machine may write"):
        store.open()


def test_the_tag_of_another_program_is_not_ours(tmp_path: Path) -> None:
    (tmp_path / MARK).write_text("Signature: 8a477f597d28d172789f06886806bc55\n# of another\n")
    with pytest.raises(StoreError, match="another program"):
        Store(tmp_path).open()


@pytest.mark.parametrize(
    ("cache", "word"),
    [
        (".", "is"),
        ("..", "holds"),
        ("content", "is"),
        ("content/x", "lies in"),
        ("site", "is"),
        ("site/x", "lies in"),
    ],
)
def test_a_store_that_is_holds_or_lies_across_the_course_is_refused(
    tmp_path: Path, cache: str, word: str
) -> None:
    root = tmp_path / "course"
    (root / "content").mkdir(parents=True)
    with pytest.raises(StoreError, match=f" {word} "):
        Store(root / cache).check([root / "content", root / "site"], within=[root])
    Store(root / ".cache" / "own").check([root / "content", root / "site"], within=[root])


def test_a_link_does_not_hide_where_a_store_lies(tmp_path: Path) -> None:
    (tmp_path / "content").mkdir()
    (tmp_path / "cache").symlink_to(tmp_path / "content")
    with pytest.raises(StoreError, match="is "):
        Store(tmp_path / "cache").check([tmp_path / "content"])


def test_cleaning_leaves_what_carries_no_mark(store) -> None:
    kept(store)
    mine = store.folder / "entries" / "my notes"
    mine.mkdir()
    (mine / "a.txt").write_text("mine")
    (store.folder / "entries" / OTHER).mkdir()
    (store.folder / "entries" / OTHER / "holiday.jpg").write_bytes(b"x" * 1000)
    store.close(1)
    assert not (store.folder / "entries" / KEY).exists()
    assert (mine / "a.txt").read_text() == "mine"
    assert (store.folder / "entries" / OTHER / "holiday.jpg").exists()


def test_the_longest_unused_goes_first_and_what_is_used_stays(store) -> None:
    keys = [f"{n:032x}" for n in range(4)]
    for n, key in enumerate(keys):
        kept(store, key, size=10_000)
        os.utime(store.folder / "entries" / key / MANIFEST, (n + 1, n + 1))
    store.get(keys[1])  # using it makes it the latest
    store.close(25_000, [keys[0]])
    left = {p.name for p in (store.folder / "entries").iterdir()}
    assert left == {keys[0], keys[1]}


def test_nothing_goes_while_another_build_is_under_way(store) -> None:
    kept(store)
    other = Store(store.folder)
    other.open()
    store.close(1)
    assert store.get(KEY)
    other.close(1)
    assert not store.get(KEY)


# --- believes nothing that it reads


class Planted:
    def __init__(self, sign: Path) -> None:
        self.sign = sign

    def __reduce__(self):
        return (os.system, (f"touch {self.sign}",))


def test_a_planted_pickle_runs_nothing(store, tmp_path: Path) -> None:
    folder = store.folder / "entries" / KEY
    folder.mkdir(parents=True)
    evil = pickle.dumps(Planted(tmp_path / "ran"))
    for name in ("value.pickle", MANIFEST, "a.txt"):
        (folder / name).write_bytes(evil)
    assert store.get(KEY) is None
    assert not (tmp_path / "ran").exists()


def test_every_change_of_any_byte_is_noticed(store) -> None:
    folder = kept(store)
    good = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    tried = 0
    for path, data in good.items():
        for at in range(len(data)):
            for changed in (data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :], data[:at]):
                path.write_bytes(changed)
                entry = store.get(KEY)
                # A last line feed that is gone changes nothing of what is said.
                assert entry is None or changed == data.rstrip(b"\n"), (path.name, at)
                tried += 1
        path.write_bytes(data)
    assert tried > 300 and store.get(KEY)


def test_a_file_more_or_less_a_link_or_the_entry_of_another_key_is_noticed(store, tmp_path: Path) -> None:
    folder = kept(store)
    (folder / "more").write_text("x")
    assert store.get(KEY) is None
    (folder / "more").unlink()
    text = folder / "files" / "a.txt"
    (tmp_path / "elsewhere").write_text("music")
    text.unlink()
    assert store.get(KEY) is None
    text.symlink_to(tmp_path / "elsewhere")
    assert store.get(KEY) is None
    folder.rename(folder.with_name(OTHER))
    assert store.get(OTHER) is None


@pytest.mark.parametrize(
    "text", ["", "null", "[]", "{}", '{"format":1}', "[" * 100_000, '{"format": 1, "key": 3}']
)
def test_what_is_no_manifest_is_none_even_with_a_good_sum(store, text: str) -> None:
    folder = kept(store)
    (folder / MANIFEST).write_text(f"{hashlib.sha256(text.encode()).hexdigest()}\n{text}\n")
    assert store.get(KEY) is None


def test_a_damaged_entry_is_made_anew(store) -> None:
    folder = kept(store)
    (folder / "files" / "a.txt").write_text("wrong")
    assert store.get(KEY) is None
    kept(store)
    assert store.get(KEY).file("files/a.txt").read_text() == "music"
    assert json.loads((folder / MANIFEST).read_text().partition("\n")[2])["key"] == KEY


def reopened(store: Store, *, sum_all: bool = False) -> Store:
    """The store in the next build."""
    store.close()
    found = Store(store.folder)
    found.open(sum_all=sum_all)
    return found


def summed(store: Store) -> tuple[Store, Path]:
    """A store in the next build after one that summed an entry of old files, and a file of it."""
    path = kept(store) / "files" / "a.txt"
    os.utime(path, ns=(10**18, 10**18))
    assert store.get(KEY)
    return reopened(store), path


def spoil(path: Path) -> None:
    """Other bytes, and nothing that the system could tell them by."""
    seen = path.stat()
    path.write_text("wrong")
    os.utime(path, ns=(seen.st_atime_ns, seen.st_mtime_ns))


def test_a_file_that_looks_as_when_it_was_summed_is_summed_again_for_a_release_alone(store) -> None:
    store, path = summed(store)
    spoil(path)
    assert store.get(KEY)
    store = reopened(store, sum_all=True)
    assert store.get(KEY) is None


def test_a_file_that_was_written_since_is_summed_again(store) -> None:
    store, path = summed(store)
    spoil(path)
    os.utime(path, ns=(10**18, 10**18 + 1))
    assert store.get(KEY) is None


def test_a_copied_file_is_summed_again(store) -> None:
    store, path = summed(store)
    spoil(path)
    copy = path.with_name("b.txt")
    shutil.copy2(path, copy)
    copy.replace(path)
    assert store.get(KEY) is None


def test_a_file_just_written_is_not_trusted_by_its_time(store) -> None:
    path = kept(store) / "files" / "a.txt"
    assert store.get(KEY)
    store = reopened(store)
    spoil(path)
    assert store.get(KEY) is None


@pytest.mark.parametrize("how", ["cut", "other", "of another", "list", "nothing"])
def test_a_record_of_sums_that_is_not_as_it_was_written_counts_for_nothing(store, monkeypatch, how) -> None:
    store, path = summed(store)
    spoil(path)
    store.close()
    record = store.folder / "summed"
    text = record.read_text()
    if how == "of another":
        monkeypatch.setenv("VERSET_STORE_SECRET", "ours")
        kept(store, OTHER)  # what stands there is of a machine that did not know the secret
    else:
        listed = f"{hashlib.sha256(b'[]').hexdigest()}\n[]"
        record.write_text(
            {"cut": text[:-9], "other": text.replace(KEY, OTHER), "list": listed, "nothing": ""}[how]
        )
    store = Store(store.folder)
    store.open()
    assert store.get(KEY) is None


def test_the_record_of_sums_forgets_what_is_gone(store) -> None:
    store, _ = summed(store)
    assert KEY in (store.folder / "summed").read_text()
    store.discard(KEY)
    other = kept(store, OTHER) / "files" / "a.txt"
    os.utime(other, ns=(10**18, 10**18))
    assert store.get(OTHER)
    store.close()
    assert KEY not in (store.folder / "summed").read_text()


def test_a_link_in_the_place_of_an_entry_goes_and_what_it_leads_to_stays(store, tmp_path: Path) -> None:
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "a.txt").write_text("mine")
    (store.folder / "entries").mkdir(exist_ok=True)
    (store.folder / "entries" / KEY).symlink_to(mine)
    kept(store)
    assert store.get(KEY) and (mine / "a.txt").read_text() == "mine"


def test_with_a_secret_only_who_knows_it_can_plant_an_entry(store, monkeypatch) -> None:
    monkeypatch.setenv("VERSET_STORE_SECRET", "ours")
    kept(store)
    assert Store(store.folder).get(KEY)  # another machine of ours believes what was copied there
    for other in ("theirs", ""):
        monkeypatch.setenv("VERSET_STORE_SECRET", other)
        assert store.get(KEY) is None
        kept(store, text="planted")
        assert store.get(KEY).value == {"title": "planted"}  # with right sums, and who made it believes it
        monkeypatch.setenv("VERSET_STORE_SECRET", "ours")
        assert store.get(KEY) is None
        kept(store)
        assert store.get(KEY).value == {"title": "music"}


# --- two at once, and the dead


def test_what_another_build_kept_meanwhile_stays(store) -> None:
    with store.making() as one, store.making() as two:
        for work in (one, two):
            (work / "a.txt").write_text("music")
            store.keep(KEY, work, {})
    assert store.get(KEY)
    assert list((store.folder / "making").iterdir()) == []


_SLOW = """
import sys, time
from pathlib import Path
from builder.pages.store import Store
store = Store(Path(sys.argv[1]))
store.open()
with store.making() as work:
    (work / "half").write_text("x")
    print("there", flush=True)
    time.sleep(60)
"""


def test_the_work_of_a_dead_build_is_cleaned_and_that_of_a_living_one_is_not(store) -> None:
    command = [sys.executable, "-c", _SLOW, str(store.folder)]
    living = subprocess.Popen(command, stdout=subprocess.PIPE)
    dead = subprocess.Popen(command, stdout=subprocess.PIPE)
    try:
        for each in (living, dead):
            each.stdout.readline()
        dead.kill()
        dead.wait()
        Store(store.folder).open()
        halves = list((store.folder / "making").glob("*/half"))
        assert len(halves) == 1
    finally:
        living.kill()
        living.wait()
    time.sleep(0.05)
    Store(store.folder).open()
    assert list((store.folder / "making").iterdir()) == []
