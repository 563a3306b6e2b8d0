"""While a course is served on the teacher's own machine: a page may ask that what was chosen by ear is
written into its source. Nobody else may."""

from __future__ import annotations

import ipaddress
import json
from collections.abc import Iterable, Mapping
from typing import Any
from urllib.parse import urlsplit
from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

from builder.language.texts import languages
from builder.pages.pinning import UNKNOWN, PinWriter, Refused
from builder.source.wording import told

ADDRESS = "verset-pins"
"""Where pages ask, from the root of the site."""
MOST_BYTES = 64_000
"""Of a request."""
_LOCAL = ("localhost", "127.0.0.1", "::1")


class _No(Exception):
    """A request that is not answered: status, and what is said."""

    def __init__(self, status: str, said: str) -> None:
        super().__init__(said)
        self.status, self.said = status, said


def with_writer(app: WSGIApplication, writer: PinWriter, mount: str, language: str) -> WSGIApplication:
    """A server's application (WSGI, PEP 3333) that answers at `ADDRESS` too, below the path `mount`.

    Only to this machine (address of the caller and name of the host), only to pages of this server (Fetch's
    `Origin` and `Sec-Fetch-Site`, and the token that pages have), and only JSON.
    """

    def answer(environ: WSGIEnvironment, start: StartResponse) -> Iterable[bytes]:
        if environ.get("PATH_INFO") != mount + ADDRESS:
            return app(environ, start)
        status = "200 OK"
        try:
            done = _done(environ, writer, language)
        except _No as no:
            status, done = no.status, {"said": no.said}
        body = json.dumps(done, ensure_ascii=False).encode()
        start(
            status,
            [
                ("Content-Type", "application/json; charset=utf-8"),
                ("Content-Length", str(len(body))),
                ("Cache-Control", "no-store"),
                ("X-Content-Type-Options", "nosniff"),
            ],
        )
        return [body]

    return answer


def with_place(html: str, place: Mapping[str, str] | None, root: str) -> str:
    """A page that is told where it may ask: its source with checksum and token, as data before its end.
    `root`: the way from the page to the root of the site.

    >>> with_place("<body></body>", {"source": "a.md"}, "../").count('"address": "../verset-pins"')
    1
    """
    if place is None:
        return html
    data = json.dumps({**place, "address": root + ADDRESS}).replace("<", "\\u003c")
    before, end, after = html.rpartition("</body>")
    return f'{before}<script type="application/json" class="verset-source">{data}</script>{end}{after}'


def _done(environ: WSGIEnvironment, writer: PinWriter, language: str) -> dict[str, Any]:
    """What is done and said for one request."""
    asked = _asked(environ, language)
    speaks = asked.get("language")
    language = speaks if isinstance(speaks, str) and speaks in languages() else language
    _guard(environ, writer, language)
    try:
        if asked.get("look") is True:
            return {"written": writer.last(asked.get("source"), language)}
        return {"said": writer.act(asked, language)}
    except Refused as why:
        raise _No("409 Conflict", str(why)) from None


def _guard(environ: WSGIEnvironment, writer: PinWriter, language: str) -> None:
    """Let only a page of this server pass, on this machine."""
    host = str(environ.get("HTTP_HOST", ""))
    mine = _this_machine(str(environ.get("REMOTE_ADDR", ""))) and _name_of(host) in _LOCAL
    own = environ.get("HTTP_ORIGIN") == f"http://{host}"
    site = environ.get("HTTP_SEC_FETCH_SITE", "same-origin") == "same-origin"
    if not (mine and own and site and writer.knows(str(environ.get("HTTP_X_VERSET_TOKEN", "")))):
        raise _No("403 Forbidden", told(UNKNOWN, language))


def _asked(environ: WSGIEnvironment, language: str) -> dict[str, Any]:
    """The request as data; it is read whole, so that whoever sent it hears the answer."""
    size = str(environ.get("CONTENT_LENGTH") or "")
    if environ.get("REQUEST_METHOD") != "POST":
        raise _No("405 Method Not Allowed", told(UNKNOWN, language))
    if not size.isascii() or not size.isdigit() or int(size) > MOST_BYTES:
        raise _No("413 Content Too Large", told(UNKNOWN, language))
    data = environ["wsgi.input"].read(int(size))
    if str(environ.get("CONTENT_TYPE", "")).split(";")[0].strip().lower() != "application/json":
        raise _No("415 Unsupported Media Type", told(UNKNOWN, language))
    try:
        asked = json.loads(data)
    except (ValueError, RecursionError):
        asked = None
    if not isinstance(asked, dict):
        raise _No("400 Bad Request", told(UNKNOWN, language))
    return asked


def _name_of(host: str) -> str:
    try:
        return urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return ""


def _this_machine(address: str) -> bool:
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False
