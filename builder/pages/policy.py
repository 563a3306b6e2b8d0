"""The Content-Security-Policy of a course's site: scripts of the site's own alone, nothing from elsewhere.

W3C, *Content Security Policy Level 3*. It stands in every page, so that it holds from a disk as well, and in
one file for those who publish on a server and want it as a header.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterable
from functools import cache

_SCRIPT = re.compile(r"<script(?P<attributes>[^>]*)>(?P<code>.*?)</script>", re.DOTALL | re.IGNORECASE)
_DATA = re.compile(r"\stype\s*=\s*[\"']?application/(?:ld\+)?json", re.IGNORECASE)
_SOURCE = re.compile(r"\ssrc\s*=", re.IGNORECASE)
_HEAD = re.compile(r"<head[^>]*>", re.IGNORECASE)


def inline_scripts(html: str) -> list[str]:
    """The code of the scripts that stand in a page and run; data in script elements does not.

    >>> data = '<script type="application/json">1</script>'
    >>> inline_scripts(f'<script>a()</script><script src="b.js"></script>{data}')
    ['a()']
    """
    return [
        found["code"]
        for found in _SCRIPT.finditer(html)
        if not _SOURCE.search(found["attributes"]) and not _DATA.search(found["attributes"])
    ]


def policy(scripts: Iterable[str] = (), *, header: bool = False) -> str:
    """The policy as text: files of the site may run, and these inline scripts, each by the digest of its
    code. `header` adds what only a server's header may say.

    >>> policy(["a()"]).split("; ")[1]
    "script-src 'self' 'sha256-qVpDBgj7bpq5hMAcGp3AOc79J3Y1Z4HvySTwKrWDoy4='"
    >>> policy(header=True).split("; ")[-1]
    "frame-ancestors 'self'"
    """
    codes = dict.fromkeys(_hashed(code) for code in scripts)
    rules = {
        "default-src": ["'self'"],
        "script-src": ["'self'", *codes],
        "style-src": ["'self'", "'unsafe-inline'"],
        "img-src": ["'self'", "data:"],
        "media-src": ["'self'", "data:", "blob:"],
        "font-src": ["'self'", "data:"],
        "object-src": ["'none'"],
        "base-uri": ["'none'"],
        "form-action": ["'self'"],
        **({"frame-ancestors": ["'self'"]} if header else {}),
    }
    return "; ".join(f"{name} {' '.join(sources)}" for name, sources in rules.items())


def with_policy(html: str, text: str) -> str:
    """A page with a policy at the beginning of its head, since a policy rules only what comes after it.

    >>> print(with_policy("<html><head><title>A</title>", "default-src 'self'"))
    <html><head><meta http-equiv="Content-Security-Policy" content="default-src 'self'"><title>A</title>
    """
    tag = f'<meta http-equiv="Content-Security-Policy" content="{text}">'
    return _HEAD.sub(lambda m: m[0] + tag, html, count=1)


@cache
def _hashed(code: str) -> str:
    # The browser sees lines as HTML parsing leaves them.
    digest = hashlib.sha256(code.replace("\r\n", "\n").replace("\r", "\n").encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"
