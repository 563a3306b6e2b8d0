"""Lessons and generated pieces as a store keeps them: plain data with a fixed shape, and files beside it.

`ValueError` for data of any other shape, for a file that is not there, and for a place on the site that is
not the owner's: what comes from a disk is believed in nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from builder.pages.lesson import FORMATS, Download, Lesson, LessonPage
from builder.pages.pieces import Piece
from builder.pages.store import Entry, Json, Store


class Slots(Mapping[str, str]):
    """The HTML of a page's slots, read when it is asked for: a large course does not fit in memory."""

    def __init__(self, paths: Mapping[str, Path]) -> None:
        self._paths = paths

    def __getitem__(self, name: str) -> str:
        return self._paths[name].read_bytes().decode()  # no line ends to look for

    def __contains__(self, name: object) -> bool:
        return name in self._paths  # without reading it

    def __iter__(self) -> Iterator[str]:
        return iter(self._paths)

    def __len__(self) -> int:
        return len(self._paths)


class Levels:
    """Keeps the diminutions of music in a store: what was edited beside the music is made anew without
    setting the music again."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def get(self, music: str) -> Json | None:
        entry = self._store.get(self._store.key("levels", music))
        return entry.value if entry else None

    def keep(self, music: str, found: Json) -> None:
        key = self._store.key("levels", music)
        self._store.discard(key)  # whole, but of no use
        with self._store.making() as work:
            self._store.keep(key, work, found)


def lesson_data(lesson: Lesson, work: Path) -> Json:
    """A lesson as data; its HTML is written into `work`, where its files are already."""
    return {
        "uri": lesson.uri,
        "title": lesson.title,
        "tone": lesson.tone,
        "pages": _pages_data(lesson.pages, work),
        "downloads": downloads_data(lesson.downloads, work),
        "errors": list(lesson.errors),
        "warnings": list(lesson.warnings),
        "summary": dict(lesson.summary),
        "later": list(lesson.later),
    }


def lesson_kept(entry: Entry, uri: str) -> Lesson:
    """The lesson of the source at `uri`."""
    data = entry.value
    below = f"{uri.removesuffix('.md')}/"
    if text(data, "uri") != uri:
        raise ValueError("a lesson of another source")
    return Lesson(
        uri=uri,
        title=text(data, "title"),
        tone=number(data, "tone"),
        pages=_pages_kept(data, entry, (uri,), below),
        downloads=downloads_kept(data, entry, below),
        errors=texts(data, "errors"),
        warnings=texts(data, "warnings"),
        summary=_summary(data),
        later=tuple(_file(uri, below) for uri in texts(data, "later")),
    )


def piece_data(piece: Piece, work: Path) -> Json:
    """A generated piece as data."""
    return {
        "markdown": piece.markdown,
        "slots": _slots_data(piece.slots, work, "slots"),
        "pages": _pages_data(piece.pages, work),
    }


def piece_kept(entry: Entry, uri: str) -> Piece:
    """The piece that the page at `uri` asks for."""
    data = entry.value
    below = f"{uri.removesuffix('.md')}/"
    return Piece(text(data, "markdown"), _slots_kept(data, entry), _pages_kept(data, entry, (), below))


def downloads_data(downloads: Iterable[Download], work: Path) -> list[Json]:
    """Files that lie in `work`, and where they go on the site."""
    return [{"uri": d.uri, "file": d.path.relative_to(work).as_posix()} for d in downloads]


def downloads_kept(data: Json, entry: Entry, below: str) -> tuple[Download, ...]:
    """The files of an entry: those of an edition, all below one folder of the site."""
    found = []
    for item in _items(data, "downloads"):
        found.append(Download(_file(text(item, "uri"), below), entry.file(text(item, "file"))))
    return tuple(found)


def _file(uri: str, below: str) -> str:
    """The place of a file of an edition, below one folder of the site."""
    if not _place(uri, (), below).endswith(FORMATS):
        raise ValueError(f"{uri} is no file of an edition")
    return uri


def _pages_data(pages: Iterable[LessonPage], work: Path) -> list[Json]:
    return [
        {
            "uri": page.uri,
            "title": page.title,
            "markdown": page.markdown,
            "slots": _slots_data(page.slots, work, f"pages/{n}"),
        }
        for n, page in enumerate(pages)
    ]


def _pages_kept(data: Json, entry: Entry, own: tuple[str, ...], below: str) -> tuple[LessonPage, ...]:
    return tuple(
        LessonPage(
            _place(text(item, "uri"), own, below),
            text(item, "title"),
            text(item, "markdown"),
            _slots_kept(item, entry),
        )
        for item in _items(data, "pages")
    )


def _slots_data(slots: Mapping[str, str], work: Path, folder: str) -> dict[str, str]:
    names = {}
    for n, (name, html) in enumerate(slots.items()):
        path = work / folder / f"{n}.html"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(html, "utf-8", newline="")
        names[name] = f"{folder}/{n}.html"
    return names


def _slots_kept(data: Json, entry: Entry) -> Slots:
    found = data.get("slots")
    if not isinstance(found, dict):
        raise ValueError("no slots")
    return Slots({name: entry.file(text(found, name)) for name in found})


def _summary(data: Json) -> dict[str, str]:
    found = data.get("summary")
    if not isinstance(found, dict):
        raise ValueError("no summary")
    return {name: text(found, name) for name in found}


def _place(uri: str, own: tuple[str, ...], below: str) -> str:
    """A place on the site that belongs to the owner of the entry."""
    parts = uri.split("/")
    if uri in own or (uri.startswith(below) and not {"", ".", ".."} & set(parts) and "\\" not in uri):
        return uri
    raise ValueError(f"{uri} is not its place")


def text(data: Json, key: str) -> str:
    """A text in data; `ValueError` for anything else."""
    found = data.get(key)
    if not isinstance(found, str):
        raise ValueError(f"no text {key}")
    return found


def number(data: Json, key: str) -> int:
    """A whole number in data; `ValueError` for anything else."""
    found = data.get(key)
    if type(found) is not int:
        raise ValueError(f"no number {key}")
    return found


def texts(data: Json, key: str) -> tuple[str, ...]:
    """A list of texts in data; `ValueError` for anything else."""
    found = data.get(key)
    if not isinstance(found, list) or not all(isinstance(each, str) for each in found):
        raise ValueError(f"no texts {key}")
    return tuple(found)


def _items(data: Json, key: str) -> list[dict[str, Any]]:
    found = data.get(key)
    if not isinstance(found, list) or not all(isinstance(each, dict) for each in found):
        raise ValueError(f"no list {key}")
    return found
