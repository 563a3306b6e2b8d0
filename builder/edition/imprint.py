"""Who answers for an edition, in which language it speaks, and what may be done with it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from builder.language.texts import edition_texts


@dataclass(frozen=True, slots=True)
class Imprint:
    """What a course says of its edition, the same in every file: language (a BCP 47 tag), authors,
    publisher, the licence (an SPDX identifier, or words), and the title of the whole. Empty: not stated.

    >>> Imprint(licence="CC-BY-4.0").licence_url
    'https://spdx.org/licenses/CC-BY-4.0.html'
    """

    lang: str = "en"
    authors: tuple[str, ...] = ()
    publisher: str = ""
    licence: str = ""
    title: str = ""

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


UNSIGNED = Imprint()
