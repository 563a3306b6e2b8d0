"""What is new in a release: the list of changes since the last one, from the two indexes."""

from __future__ import annotations

import json
import re
import zipfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from builder.language.texts import EditionTexts
from builder.music import VERSIONS

Json = dict[str, Any]
_VERSION = re.compile(r"-(given|plain|diminished(?:-\d)?)(?:-tuned|-keyboard)?$")
_MUSIC = (".mid", ".brf")
"""Files that have nothing but the music: those with a header are others in each release."""


def read_index(path: Path) -> Json:
    """The index of a release, from its archive or as a file of its own; `ValueError` when there is
    none in it."""
    try:
        if path.suffix == ".zip":
            with zipfile.ZipFile(path) as archive:
                name = next(n for n in archive.namelist() if n.count("/") == 1 and n.endswith("/index.json"))
                text = archive.read(name).decode()
        else:
            text = path.read_text(encoding="utf-8")
        index: Json = json.loads(text)
        if index["format"] != 1 or not index["version"]:
            raise KeyError("format")
    except (OSError, StopIteration, ValueError, KeyError, TypeError, zipfile.BadZipFile) as error:
        raise ValueError(f"{path} is not a release or the index of one") from error
    return index


def newer(version: str, last: str) -> bool:
    """Whether a version is higher than another.

    >>> newer("1.10.0", "1.9.3"), newer("1.0.0", "1.0.0")
    (True, False)
    """
    return _numbers(version) > _numbers(last)


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(map(int, version.split(".")))


def changes(index: Json, last: Json | None, w: EditionTexts) -> str:
    """The list of changes as Markdown: versets that came, went or sound or look otherwise, and how
    many other files. Told in the language of the words."""
    head = f"# {index['title']} {index['version']}\n\n"
    if last is None:
        titles = "".join(f"- {v['title']}\n" for v in index["versets"])
        return f"{head}{w('release.first')}\n\n{titles}"
    lines = [*_came_and_went(index, last, w), *_otherwise(index, last, w), *_others(index, last, w)]
    told = "\n".join(f"- {line}" for line in lines) or w("release.nothing")
    return f"{head}{w('release.since', version=last['version'])}\n\n{told}\n"


def _by_folder(index: Json) -> dict[str, Json]:
    """Versets by the folder of their files, which tells two of one name apart."""
    return {v["files"][0].rpartition("/")[0]: v for v in index["versets"] if v["files"]}


def _came_and_went(index: Json, last: Json, w: EditionTexts) -> Iterator[str]:
    new, old = _by_folder(index), _by_folder(last)
    yield from (w("release.new", title=new[k]["title"]) for k in sorted(new.keys() - old.keys()))
    yield from (w("release.gone", title=old[k]["title"]) for k in sorted(old.keys() - new.keys()))


def _sums(index: Json) -> Mapping[str, str]:
    return {f["path"]: f["sha256"] for f in index["files"]}


def _otherwise(index: Json, last: Json, w: EditionTexts) -> Iterator[str]:
    new, old = _by_folder(index), _by_folder(last)
    sums, before = _sums(index), _sums(last)
    for key in sorted(new.keys() & old.keys()):
        music = {
            version_of(f)
            for f in new[key]["files"]
            if f in before and Path(f).suffix in _MUSIC and sums[f] != before[f]
        }
        told = [w.version(v) for v in sorted(music, key=in_order)]
        if told:
            yield w("release.changed", title=new[key]["title"], versions=", ".join(told))


def version_of(path: str) -> str:
    """Which version of a verset a file has; a name that tells none has the plain one.

    >>> version_of("a-given.mei"), version_of("a-diminished-1-tuned.mid"), version_of("a.brf")
    ('given', 'diminished-1', 'plain')
    """
    found = _VERSION.search(Path(path).stem)
    return found[1] if found else "plain"


def in_order(version: str) -> tuple[int, str]:
    """A key that sorts versions as a verset has them, levels of diminution last.

    >>> sorted(["plain", "diminished-1", "given", "diminished"], key=in_order)
    ['given', 'plain', 'diminished', 'diminished-1']
    """
    return [str(v) for v in VERSIONS].index(version.partition("-")[0]), version


def _others(index: Json, last: Json, w: EditionTexts) -> Iterator[str]:
    sums, before = _sums(index), _sums(last)
    came, went = len(sums.keys() - before.keys()), len(before.keys() - sums.keys())
    changed = sum(sums[p] != before[p] for p in sums.keys() & before.keys())
    for count, word in ((came, "new"), (changed, "changed"), (went, "gone")):
        if count:
            yield w(f"release.files-{word}", count=count)
