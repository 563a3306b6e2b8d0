"""Who answers for an edition, in which language it speaks, and what may be done with it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from builder.language.texts import edition_texts
from builder.source.provenance import NOTHING_SAID, Editor, Provenance


@dataclass(frozen=True, slots=True)
class Imprint:
    """What a course says of its edition, the same in every file: language (a BCP 47 tag), authors,
    publisher, the licence (an SPDX identifier, or words), the title of the whole, its version, and what is
    said of sources and edition of all its versets. Empty: not stated.

    >>> Imprint(licence="CC-BY-4.0").licence_url
    'https://spdx.org/licenses/CC-BY-4.0.html'
    """

    lang: str = "en"
    authors: tuple[str, ...] = ()
    publisher: str = ""
    licence: str = ""
    title: str = ""
    version: str = ""
    said: Provenance = NOTHING_SAID

    @property
    def editors(self) -> str:
        return ", ".join(self.authors)

    @property
    def licence_url(self) -> str:
        """Where the licence is published, when it is named by its identifier (SPDX License List)."""
        named = re.fullmatch(r"[A-Za-z0-9.+]+(-[A-Za-z0-9.+]+)*", self.licence)
        return f"https://spdx.org/licenses/{self.licence}.html" if named else ""

    @property
    def rights(self) -> str:
        """The licence, or else the caution that holds for any edition."""
        return self.licence or edition_texts(self.lang)("caution.rights")

    @property
    def terms(self) -> str:
        """The same as a sentence."""
        w = edition_texts(self.lang)
        return f"{w('label.licence', licence=self.licence)}." if self.licence else self.rights

    def people(self, said: Provenance) -> tuple[Editor, ...]:
        """Who answers for something of which this is said: those named with it, else those of the edition.

        >>> [editor.name for editor in Imprint(authors=("Teacher, Anna",)).people(NOTHING_SAID)]
        ['Teacher, Anna']
        """
        return said.editors or self.said.editors or tuple(Editor(name) for name in self.authors)


UNSIGNED = Imprint()
