"""Texts of a course on their way into Markdown and HTML: every field is escaped where it enters."""

from __future__ import annotations

import re
from html import unescape
from urllib.parse import quote

_SIGNS = re.compile(r"[\\`*_{}\[\]<>&|~^=$#+]|:(?=[\w+-]*:)")
_FIRST = re.compile(r"^(\d*)([-.)!?:%/\"])")


class Marked(str):
    """Markdown of our own, or of the teacher: it is not escaped again."""

    __slots__ = ()


def md(text: object) -> Marked:
    """A text as Markdown that shows it as it stands, on one line; what is `Marked` stays.

    >>> md("*Ave* <b> [x](javascript:y) | C#")
    '&#42;Ave&#42; &lt;b&gt; &#91;x&#93;(javascript:y) &#124; C&#35;'
    >>> md("1. of May"), md("- no list"), md(Marked("*mi*"))
    ('1&#46; of May', '&#45; no list', '*mi*')
    """
    if isinstance(text, Marked):
        return text
    line = " ".join(str(text).split())
    line = _SIGNS.sub(lambda m: _NAMED.get(m[0]) or f"&#{ord(m[0])};", line)
    return Marked(_FIRST.sub(lambda m: f"{m[1]}&#{ord(m[2])};", line))


def md_with_code(text: str) -> Marked:
    """The same of a text that marks what sources write by backticks.

    >>> md_with_code("tune it as D♯ (`quarter-comma, D# for Eb`)")
    'tune it as D♯ (<code>quarter-comma, D&#35; for Eb</code>)'
    """
    return Marked(re.sub("&#96;(.*?)&#96;", r"<code>\1</code>", md(text)))


_NAMED = {"&": "&amp;", "<": "&lt;", ">": "&gt;"}


def address(uri: str) -> Marked:
    """The uri of a file of the course as the target of a link, in Markdown or HTML.

    >>> address("a b/(first) #2.md")
    'a%20b/%28first%29%20%232.md'
    """
    return Marked(quote(uri, safe="/.-_~"))


_ATTRIBUTE = re.compile(
    r"""(?P<name>\s(?:xlink:href|href|src|action|formaction|data|poster|background|ping|srcdoc)\s*=\s*)"""
    r"""(?:"(?P<double>[^"]*)"|'(?P<single>[^']*)'|(?P<bare>[^\s>"']+))""",
    re.IGNORECASE,
)
_STEERING = re.compile(r"<(?:meta|base)\b[^>]*>", re.IGNORECASE)
_PICTURE = re.compile(r"data:image/(?:png|jpeg|gif|webp|avif)[;,]")


def harmless(html: str) -> str:
    """A page's HTML without links that are scripts, and without tags that send the whole page elsewhere.

    >>> harmless('<a href="java&#10;script:x()">a</a><a href="b.html">b</a><base href="//c">')
    '<a href="#">a</a><a href="b.html">b</a>'
    """
    return _ATTRIBUTE.sub(_link, _STEERING.sub("", html))


def _link(match: re.Match[str]) -> str:
    value = match["double"] or match["single"] or match["bare"] or ""
    target = re.sub(r"[\x00-\x20\x7f-\xa0\u200b-\u200f\u2028\u2029\ufeff]", "", unescape(value)).lower()
    script = target.startswith(("javascript:", "vbscript:")) or (
        target.startswith("data:") and not _PICTURE.match(target)
    )
    if match["name"].strip().lower().startswith("srcdoc"):
        script = True
    return f'{match["name"]}"#"' if script else match[0]
