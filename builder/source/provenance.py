"""Where a verset comes from and who answers for it: composer, witnesses, editors, publication.

Every part may be left out; what is not said is nowhere invented. The words are those of catalogues of
sources: a *siglum* names a witness in the report, the *copy-text* is the witness that the edition follows.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, fields, replace
from typing import Any

from builder.source.printing import USUAL, Printing
from builder.source.span import NOWHERE, Span

ROLES = ("editor", "transcriber", "translator", "reviewer", "engraver")
"""What a person may have done for an edition; `editor` where nothing is said."""


@dataclass(frozen=True, slots=True)
class Composer:
    """Who wrote the music. `name` empty: anonymous. `attributed`: the witnesses do not say so themselves."""

    name: str = ""
    attributed: bool = False


@dataclass(frozen=True, slots=True)
class Editor:
    """Somebody who answers for an edition. `orcid` as four groups of four (ISO 27729)."""

    name: str
    role: str = "editor"
    orcid: str = ""

    @property
    def orcid_url(self) -> str:
        return f"https://orcid.org/{self.orcid}" if self.orcid else ""


@dataclass(frozen=True, slots=True)
class Zone:
    """The place of some bars on a picture: first and last bar, and left, top, width, height in pixels."""

    first: int
    last: int
    box: tuple[int, int, int, int]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Facsimile:
    """A picture of a page of a witness: a file beside the source, under a licence, with its zones."""

    file: str
    licence: str
    credit: str = ""
    zones: tuple[Zone, ...] = ()
    span: Span = field(default=NOWHERE, compare=False)

    @property
    def terms(self) -> str:
        """Whose picture it is and under which licence."""
        return ", ".join(text for text in (self.credit, self.licence) if text)


@dataclass(frozen=True, slots=True)
class Witness:
    """A source that has the music: its siglum, where it is kept, and what is known of it."""

    siglum: str
    library: str = ""
    shelfmark: str = ""
    folio: str = ""
    date: str = ""
    description: str = ""
    link: str = ""
    copy_text: bool = False
    pictures: tuple[Facsimile, ...] = ()
    span: Span = field(default=NOWHERE, compare=False)

    @property
    def kept(self) -> str:
        """Library, shelfmark and folio in one line.

        >>> Witness("A", "Parish library", "Ms. 12", "3v").kept
        'Parish library, Ms. 12, 3v'
        """
        return ", ".join(text for text in (self.library, self.shelfmark, self.folio) if text)


@dataclass(frozen=True, slots=True)
class Publication:
    """How an edition is published: publisher, place, date, series, and its numbers."""

    publisher: str = ""
    place: str = ""
    date: str = ""
    series: str = ""
    isbn: str = ""
    ismn: str = ""
    doi: str = ""

    @property
    def numbers(self) -> tuple[tuple[str, str], ...]:
        """Each number with its kind.

        >>> Publication(doi="10.5281/zenodo.1234").numbers
        (('DOI', '10.5281/zenodo.1234'),)
        """
        found = (("ISMN", self.ismn), ("ISBN", self.isbn), ("DOI", self.doi))
        return tuple((kind, number) for kind, number in found if number)


@dataclass(frozen=True, slots=True)
class Provenance:
    """All that is said of a verset's sources and edition. `place` and `date` are those of the music,
    `relation` says how the witnesses hang together, `method` how the editor went about."""

    composer: Composer | None = None
    place: str = ""
    date: str = ""
    witnesses: tuple[Witness, ...] = ()
    relation: str = ""
    method: str = ""
    editors: tuple[Editor, ...] = ()
    published: Publication = Publication()
    printing: Printing = USUAL
    """What the editor chooses for print."""

    @property
    def copy_text(self) -> Witness | None:
        """The witness that the edition follows: the one marked, or the only one there is."""
        marked = [w for w in self.witnesses if w.copy_text]
        return marked[0] if marked else self.witnesses[0] if len(self.witnesses) == 1 else None

    @property
    def sigla(self) -> tuple[str, ...]:
        return tuple(w.siglum for w in self.witnesses)

    @property
    def facsimiles(self) -> tuple[tuple[Witness, Facsimile], ...]:
        """Every picture with its witness."""
        return tuple((w, picture) for w in self.witnesses for picture in w.pictures)


NOTHING_SAID = Provenance()


def filled(own: Provenance, course: Provenance) -> Provenance:
    """What a verset says of itself, and where it says nothing what its course says of all.

    >>> both = filled(Provenance(place="here"), Provenance(place="there", date="1640"))
    >>> both.place, both.date, both.composer
    ('here', '1640', None)
    """
    published = replace(course.published, **_said(own.published))
    printing = replace(course.printing, **_said(own.printing))
    return replace(course, **(_said(own) | {"published": published, "printing": printing}))


def _said(value: Provenance | Publication | Printing) -> dict[str, Any]:
    """The fields that say something."""
    return {f.name: found for f in fields(value) if (found := getattr(value, f.name))}


def joined_names(editors: Iterable[Editor]) -> str:
    """The names of some people in one line."""
    return ", ".join(editor.name for editor in editors)
