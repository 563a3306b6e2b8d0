"""The release: the whole edition in one archive, the same bytes wherever and whenever it is made.

    <name>-<version>/README.txt, LICENSE, CITATION.cff, CHANGES.md
    <name>-<version>/ERRATA.md        what changed since the last archive, by bar, voice and reading
    <name>-<version>/metadata/…       Dublin Core and, where the release is dated, DataCite
    <name>-<version>/index.json       every file with its kind, size and checksum; every verset
    <name>-<version>/SHA256SUMS       for `sha256sum -c`
    <name>-<version>/site/…           the course, to open from the disk: site/index.html
    <name>-<version>/book/…, sheets/…

Encodings and audio lie in the site, beside the pages that offer them, and are found through the index.
"""

from __future__ import annotations

import hashlib
import json
import re
import unicodedata
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from builder.edition.imprint import Imprint
from builder.edition.pdf.typeset import release_date
from builder.edition.release import deposit
from builder.edition.release.changes import changes, newer, read_index
from builder.edition.release.errata import encodings, errata, is_errata_source
from builder.language.glyphs import typographic
from builder.language.texts import edition_texts
from builder.source.provenance import NOTHING_SAID, Editor, Provenance

Json = dict[str, Any]
FORMAT = 1
_PACKED = (".mp3", ".flac", ".ogg", ".opus", ".pdf", ".png", ".jpg", ".woff2", ".gz", ".zip")
_KINDS = {
    ".mei": "encoding",
    ".musicxml": "encoding",
    ".mid": "encoding",
    ".brf": "braille",
    ".mp3": "audio",
    ".flac": "audio",
    ".pdf": "print",
    ".html": "page",
}
# Made for a web server, with the day of the build in them; a disk has no use for them.
_LEFT_OUT = ("sitemap.xml", "sitemap.xml.gz")
_TEXT = (".html", ".js", ".css", ".json", ".xml", ".svg", ".txt", ".mei", ".musicxml", ".md")
_VERSION = re.compile(r"\d+\.\d+\.\d+$")
_BLOCK = 1 << 20


@dataclass(frozen=True, slots=True)
class About:
    """What an edition says of itself. `name` is short, for file names; `licence` an SPDX identifier,
    `licence_text` the whole of it; `authors` as `Family, Given` or one name; `lang` its language."""

    name: str
    title: str
    version: str
    authors: tuple[str, ...]
    licence: str
    licence_text: str
    abstract: str = ""
    lang: str = "en"
    publisher: str = ""
    said: Provenance = NOTHING_SAID
    """What the course says of the sources and edition of all its versets."""

    @property
    def people(self) -> tuple[Editor, ...]:
        """Who answers for the edition: those named with roles, else its authors."""
        return self.said.editors or tuple(Editor(name) for name in self.authors)


def short_name(title: str) -> str:
    """A name for files from a title.

    >>> short_name("Versets: a First Book"), short_name("Più versetti")
    ('versets-a-first-book', 'piu-versetti')
    """
    letters = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", letters).strip("-") or "edition"


@dataclass(frozen=True, slots=True)
class Released:
    """What was made: the archive, its checksum and its index."""

    path: Path
    sha256: str
    index: Json


def release(
    about: About,
    site: Path,
    extra: Mapping[str, Path | bytes],
    folder: Path,
    *,
    previous: Path | None = None,
) -> Released:
    """Pack the edition into `<folder>/<name>-<version>.zip`.

    `site` is a built course; `extra` are further files by their path in the archive (`book/…`, `sheets/…`);
    `previous` is the archive or index of the last release, for the list of changes. Files go in by name;
    dates come from `SOURCE_DATE_EPOCH`, or are the archive format's first day. `ValueError` when the site
    has no `index.html`, a file in it names a folder of this machine or loads something from an outside host,
    and when `faults` finds any.

    >>> from tempfile import TemporaryDirectory
    >>> about = About("versets", "Versets", "1.0.0", ("Teacher, Anna",), "CC0-1.0", "No rights reserved.")
    >>> with TemporaryDirectory() as folder:
    ...     site = Path(folder) / "site"
    ...     site.mkdir()
    ...     _ = (site / "index.html").write_text("<p>Versets</p>")
    ...     made = release(about, site, {"sheets/first.pdf": b"%PDF-"}, Path(folder))
    ...     print(made.path.name, *(name for name in zipfile.ZipFile(made.path).namelist() if "/s" in name))
    versets-1.0.0.zip versets-1.0.0/sheets/first.pdf versets-1.0.0/site/index.html
    """
    if found := faults(about, previous):
        raise ValueError("; ".join(found))
    if not (site / "index.html").is_file():
        raise ValueError(f"{site} is no built course: it has no index.html")
    last = read_index(previous) if previous else None
    parts: dict[str, Path | bytes] = {**dict(_site_files(site)), **extra}
    index = _index(about, parts)
    w = edition_texts(about.lang)
    texts = {
        **deposit.files(_deposit(about)),
        "README.txt": typographic(_readme(about)),
        "LICENSE": about.licence_text.rstrip() + "\n",
        "CITATION.cff": citation(about),
        "CHANGES.md": typographic(changes(index, last, w)),
        "index.json": json.dumps(index, ensure_ascii=False, indent=1, sort_keys=True) + "\n",
    }
    if last and previous and (old := encodings(previous)):
        new = {name: _content(part) for name, part in parts.items() if is_errata_source(name)}
        texts["ERRATA.md"] = typographic(errata(new, old, index, last["version"], w))
    parts |= {name: text.encode() for name, text in texts.items()}
    parts["SHA256SUMS"] = "".join(f"{_sha(parts[name])}  {name}\n" for name in sorted(parts)).encode()
    target = folder / f"{about.name}-{about.version}.zip"
    _pack(target, f"{about.name}-{about.version}", parts)
    return Released(target, _sha(target), index)


def _content(part: Path | bytes) -> str:
    return (part.read_bytes() if isinstance(part, Path) else part).decode("utf-8", "replace")


def _deposit(about: About) -> deposit.Deposit:
    own = about.said.published.date
    dated = str(release_date().year) if release_date().year > 1980 else ""
    return deposit.Deposit(
        title=about.title,
        version=about.version,
        licence=about.licence,
        licence_url=Imprint(licence=about.licence).licence_url,
        lang=about.lang,
        people=about.people,
        abstract=about.abstract,
        publisher=about.publisher,
        year=own if re.fullmatch(r"[0-9]{4}", own) else dated,
        said=about.said,
    )


def citation(about: About) -> str:
    """The citation file (Citation File Format 1.2.0, published).

    >>> about = About("v", "Versets", "1.0.0", ("Teacher, A.",), "CC-BY-4.0", "")
    >>> print(citation(about).splitlines()[0])
    cff-version: 1.2.0
    """
    card: Json = {
        "cff-version": "1.2.0",
        "message": edition_texts(about.lang)("release.cite"),
        "type": "dataset",
        "title": about.title,
        "version": about.version,
        "license": about.licence,
        "authors": [_person(person) for person in about.people] or [{"name": "Anonymous"}],
    }
    published = about.said.published
    if published.doi:
        card["doi"] = published.doi
    numbers = [{"type": "other", "value": f"{k} {n}"} for k, n in published.numbers if k != "DOI"]
    if numbers:
        card["identifiers"] = numbers
    if about.abstract:
        card["abstract"] = about.abstract
    if release_date().year > 1980:
        card["date-released"] = release_date().date().isoformat()
    return yaml.safe_dump(card, sort_keys=False, allow_unicode=True, width=1000)


def _person(editor: Editor) -> Json:
    family, comma, given = editor.name.partition(",")
    named = {"family-names": family.strip(), "given-names": given.strip()} if comma else {"name": editor.name}
    return named | ({"orcid": editor.orcid_url} if editor.orcid else {})


def faults(about: About, previous: Path | None = None) -> tuple[str, ...]:
    """All that hinders a release before anything is built: a version that is not of the form 1.2.3 or
    not higher than the last one, a name that is no file name, no licence, a last release that is none.

    >>> faults(About("my-versets", "My versets", "1.0", (), "MIT", "text"))
    ("version '1.0' is not of the form 1.2.3",)
    """
    found = []
    if not re.fullmatch(r"[a-z0-9][a-z0-9-]*", about.name):
        found.append(f"name {about.name!r} is not small letters, figures and hyphens")
    if not (about.licence and about.licence_text.strip()):
        found.append("a licence is needed, by its name and with its text")
    good = bool(_VERSION.match(about.version))
    if not good:
        found.append(f"version {about.version!r} is not of the form 1.2.3")
    try:
        last = read_index(previous)["version"] if previous else ""
        if last and good and not newer(about.version, last):
            found.append(f"version {about.version} is not higher than the last release, {last}")
    except ValueError as problem:
        found.append(str(problem))
    return tuple(found)


def _site_files(site: Path) -> Iterator[tuple[str, Path]]:
    """The site's files by their path in the archive, in order."""
    here = str(site.resolve()).encode()
    for path in sorted(site.rglob("*"), key=lambda p: p.relative_to(site).as_posix()):
        name = path.relative_to(site).as_posix()
        if path.is_symlink():
            raise ValueError(f"{name} in the site is a link; a release holds files only")
        if not path.is_file() or path.name in _LEFT_OUT or any(p.startswith(".") for p in Path(name).parts):
            continue
        if path.suffix in _TEXT and here in path.read_bytes():
            raise ValueError(f"{name} in the site names a folder of this machine")
        if path.suffix == ".html" and (outside := _loaded_from_outside(path)):
            raise ValueError(f"{name} in the site loads {outside}: it would not open whole from a disk")
        yield f"site/{name}", path


_LOADING = re.compile(r"<(?:script|img|source|audio|iframe|link)\b[^>]*>")
_ADDRESS = re.compile(r"\b(?:src|href)=[\"']?((?:https?:)?//[^\"' >]+)")
_ONLY_NAMED = re.compile(r"rel=[\"']?(?:canonical|alternate|next|prev|edit|license|me|author)\b")


def _loaded_from_outside(page: Path) -> str:
    """The first address of another host that a page would load something from, or nothing."""
    for tag in _LOADING.findall(page.read_text(encoding="utf-8")):
        address = _ADDRESS.search(tag)
        if address and not (tag.startswith("<link") and _ONLY_NAMED.search(tag)):
            return address[1]
    return ""


def _index(about: About, parts: Mapping[str, Path | bytes]) -> Json:
    rows = [
        {
            "path": name,
            "kind": _KINDS.get(Path(name).suffix, "other"),
            "bytes": part.stat().st_size if isinstance(part, Path) else len(part),
            "sha256": _sha(part),
        }
        for name, part in sorted(parts.items())
    ]
    return {
        "format": FORMAT,
        "name": about.name,
        "title": about.title,
        "version": about.version,
        "licence": about.licence,
        "authors": list(about.authors),
        "files": rows,
        "versets": list(_versets(parts)),
    }


def _versets(parts: Mapping[str, Path | bytes]) -> Iterator[Json]:
    """The versets of the site, by their reports: what each is, and where its files lie."""
    for name, part in sorted(parts.items()):
        if Path(name).name != "report.json" or not isinstance(part, Path):
            continue
        found = json.loads(part.read_text(encoding="utf-8"))
        if found.get("errors") or "tone" not in found:
            continue
        folder = name.removesuffix("report.json")
        yield {
            **{key: found[key] for key in ("name", "title", "tone", "final", "voices", "seconds")},
            "files": [n for n in sorted(parts) if n.startswith(folder)],
        }


def _sha(part: Path | bytes) -> str:
    if isinstance(part, bytes):
        return hashlib.sha256(part).hexdigest()
    with part.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _readme(about: About) -> str:
    w = edition_texts(about.lang)
    parts = (
        (about.title, w("label.edition", version=about.version)),
        (w("release.open"), w("release.holds"), w("release.whole", command="sha256sum -c SHA256SUMS")),
        (w("label.licence", licence=about.licence), w("release.papers")),
        (w("caution.ears"), w("caution.rest"), w("caution.keeper")),
    )
    return "\n\n".join("\n".join(lines) for lines in parts) + "\n"


def _pack(target: Path, root: str, parts: Mapping[str, Path | bytes]) -> None:
    """Write the archive beside its place first, so that a stop half way leaves no broken one."""
    target.parent.mkdir(parents=True, exist_ok=True)
    partial = target.with_suffix(".partial")
    try:
        _write(partial, root, parts)
        partial.replace(target)
    finally:
        partial.unlink(missing_ok=True)


def _write(target: Path, root: str, parts: Mapping[str, Path | bytes]) -> None:
    stamp = release_date().timetuple()[:6]
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name, part in sorted(parts.items()):
            entry = zipfile.ZipInfo(f"{root}/{name}", stamp)
            entry.create_system = 3
            entry.external_attr = 0o100644 << 16
            packed = Path(name).suffix in _PACKED
            entry.compress_type = zipfile.ZIP_STORED if packed else zipfile.ZIP_DEFLATED
            with archive.open(entry, "w", force_zip64=_size(part) >= 1 << 31) as out:
                for block in _blocks(part):
                    out.write(block)


def _size(part: Path | bytes) -> int:
    return part.stat().st_size if isinstance(part, Path) else len(part)


def _blocks(part: Path | bytes) -> Iterator[bytes]:
    if isinstance(part, bytes):
        yield part
        return
    with part.open("rb") as file:
        while block := file.read(_BLOCK):
            yield block
