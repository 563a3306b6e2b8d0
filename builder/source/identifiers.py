"""Numbers that name people and publications, and their check digits.

Sources (published): ORCID identifiers are ISNI numbers (ISO 27729) with the check digit of ISO 7064,
mod 11-2; ISBN is ISO 2108; ISMN is ISO 10957; the form of a DOI is ISO 26324.
"""

from __future__ import annotations

import re

SHOWN_ORCID = "0000-0002-1825-0097"
SHOWN_DOI = "10.1000/182"
_BARE = re.compile(r"[\s-]+")
_DOI = re.compile(r"10\.\d{4,9}(?:\.\d+)*/[^\s\"<>]+")


def orcid_ending(digits: str) -> str:
    """The check digit of the first fifteen digits of an ORCID identifier (ISO 7064, mod 11-2).

    >>> orcid_ending("000000021825009"), orcid_ending("000000021694233")
    ('7', 'X')
    """
    total = 0
    for digit in digits:
        total = (total + int(digit)) * 2
    rest = (12 - total % 11) % 11
    return "X" if rest == 10 else str(rest)


def ean_ending(digits: str) -> str:
    """The check digit of the first twelve digits of an ISBN or ISMN: weights one and three (ISO 2108,
    ISO 10957).

    >>> ean_ending("978030640615"), ean_ending("979026000043")
    ('7', '8')
    """
    return str(-sum(int(digit) * (3 if n % 2 else 1) for n, digit in enumerate(digits)) % 10)


def isbn10_ending(digits: str) -> str:
    """The check digit of the first nine digits of an old ISBN: weights ten to two, modulo eleven (ISO 2108
    in its form before 2007).

    >>> isbn10_ending("030640615"), isbn10_ending("080442957")
    ('2', 'X')
    """
    rest = -sum(int(digit) * (10 - n) for n, digit in enumerate(digits)) % 11
    return "X" if rest == 10 else str(rest)


def orcid(text: str) -> str | None:
    """An ORCID identifier in its written form, from its digits or its web address; None for what is none,
    `ValueError` with the digit it should end with.

    >>> orcid("https://orcid.org/0000-0002-1825-0097"), orcid("0000-0002")
    ('0000-0002-1825-0097', None)
    """
    bare = _BARE.sub("", text.strip().removeprefix("https://orcid.org/")).upper()
    if not re.fullmatch(r"[0-9]{15}[0-9X]", bare):
        return None
    _checked(bare, orcid_ending(bare[:-1]))
    return "-".join(bare[n : n + 4] for n in range(0, 16, 4))


def isbn(text: str) -> str | None:
    """An ISBN as it is written; None and `ValueError` as of `orcid`.

    >>> isbn("978-0-306-40615-7"), isbn("0-306-40615-2"), isbn("978")
    ('978-0-306-40615-7', '0-306-40615-2', None)
    """
    bare = _BARE.sub("", text.strip()).upper()
    if re.fullmatch(r"97[89][0-9]{10}", bare) and not bare.startswith("9790"):
        _checked(bare, ean_ending(bare[:-1]))
    elif re.fullmatch(r"[0-9]{9}[0-9X]", bare):
        _checked(bare, isbn10_ending(bare[:-1]))
    else:
        return None
    return "-".join(_BARE.split(text.strip().upper()))


def ismn(text: str) -> str | None:
    """An ISMN as it is written, also in its old form with M for 979-0; None and `ValueError` as of `orcid`.

    >>> ismn("979-0-2600-0043-8"), ismn("M-2306-7118-7"), ismn("978-0-306-40615-7")
    ('979-0-2600-0043-8', 'M-2306-7118-7', None)
    """
    bare = re.sub(r"^M", "9790", _BARE.sub("", text.strip()).upper())
    if not re.fullmatch(r"9790[0-9]{9}", bare):
        return None
    _checked(bare, ean_ending(bare[:-1]))
    return "-".join(_BARE.split(text.strip().upper()))


def doi(text: str) -> str | None:
    """A DOI, from its name or its web address; None for what is none.

    >>> doi("https://doi.org/10.1000/182"), doi("11.1000/182")
    ('10.1000/182', None)
    """
    bare = re.sub(r"^(https?://(dx\.)?doi\.org/|doi:)", "", text.strip())
    return bare if _DOI.fullmatch(bare) else None


def _checked(bare: str, ending: str) -> None:
    if bare[-1] != ending:
        raise ValueError(ending)
