"""Who may: the decision table, row by row. The first row that hits answers; no input is echoed.

Identity never comes from the peer's address: other users of this computer, tunnels and proxies
arrive as loopback. What the rows rest on was tried in a browser; the row says why it is there.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import unquote

TOKEN_HEADER = b"x-buildlog-token"
_FORWARDED = re.compile(rb"forwarded|x-forwarded-.*|x-real-ip|via")
_TYPES = ("application/x-www-form-urlencoded", "multipart/form-data", "application/json")


@dataclass(frozen=True)
class Refusal:
    """Why a request goes no further: a status and a sentence that says nothing of what was sent."""

    status: int
    said: str


@dataclass(frozen=True)
class Knock:
    """A request before anything is known of who sent it; header names in small letters."""

    method: str
    target: bytes
    headers: tuple[tuple[bytes, bytes], ...]
    scheme: str = "http"

    @property
    def path(self) -> str:
        """The path, decoded once."""
        return unquote(self.target.partition(b"?")[0].decode("latin-1"), errors="replace")

    def all(self, name: bytes) -> list[bytes]:
        return [value for key, value in self.headers if key == name]

    def one(self, name: bytes) -> str:
        """A header's only value; "" where there is none."""
        found = self.all(name)
        return found[0].decode("latin-1").strip() if found else ""

    def cookies(self, name: str) -> list[str]:
        """Every value sent for a cookie of this name."""
        pairs = (one.split("=", 1) for line in self.all(b"cookie")
                 for one in line.decode("latin-1").split(";") if "=" in one)  # fmt: skip
        return [value.strip() for key, value in pairs if key.strip() == name]


def refused(knock: Knock, hosts: frozenset[str], cookie: str) -> Refusal | None:
    """What stands against a request, whoever sent it; None where nothing does.

    `hosts` are the only names we answer to, each with its port; `cookie` is the name of ours.
    """
    for row in (_form, _twice(cookie), _host(hosts), _proxy, _path, _origin, _body):
        if found := row(knock):
            return found
    return None


def _form(knock: Knock) -> Refusal | None:
    if knock.method not in ("GET", "HEAD", "POST"):
        return Refusal(405, "Only GET, HEAD and POST are answered here.")
    if not knock.target.startswith(b"/"):
        return Refusal(400, "This request cannot be read.")
    return None


def _twice(cookie: str) -> Callable[[Knock], Refusal | None]:
    """A second Host or Origin may be read by others than by us; a second cookie of ours was set by
    a server on another port or for one path."""

    def row(knock: Knock) -> Refusal | None:
        names = (b"host", b"origin", TOKEN_HEADER)
        if any(len(knock.all(name)) > 1 for name in names) or len(knock.cookies(cookie)) > 1:
            return Refusal(400, "A header is there twice. Close the browser and open it again.")
        return None

    return row


def _host(hosts: frozenset[str]) -> Callable[[Knock], Refusal | None]:
    """A name of a stranger that leads to this address (rebinding) is none of ours."""

    def row(knock: Knock) -> Refusal | None:
        if knock.one(b"host").casefold() not in hosts:
            return Refusal(421, "This server does not answer to that name.")
        return None

    return row


def _proxy(knock: Knock) -> Refusal | None:
    if any(_FORWARDED.fullmatch(name) for name, _ in knock.headers):
        return Refusal(403, "A proxy stands between: go to the computer itself.")
    return None


def _path(knock: Knock) -> Refusal | None:
    path = knock.path
    odd = any(ord(letter) < 32 or ord(letter) == 127 for letter in path)
    if odd or any(bad in path for bad in ("..", "\\", "//", "%", "\ufffd")):
        return Refusal(404, "There is no such place.")
    return None


def _origin(knock: Knock) -> Refusal | None:
    """On plain http to a name browsers send no Sec-Fetch-Site, so that Origin carries it all."""
    if knock.method != "POST":
        return None
    own = f"{knock.scheme}://{knock.one(b'host')}".casefold()
    site = knock.one(b"sec-fetch-site")
    if knock.one(b"origin").casefold() != own or site not in ("", "same-origin"):
        return Refusal(403, "This was sent by another page. Open this page itself and do it there.")
    return None


def _body(knock: Knock) -> Refusal | None:
    if knock.method != "POST":
        return None
    if knock.all(b"content-length") and knock.all(b"transfer-encoding"):
        return Refusal(400, "This request cannot be read.")
    kind = knock.one(b"content-type").partition(";")[0].strip().casefold()
    if kind not in _TYPES:
        return Refusal(415, "Only forms and JSON objects are read here.")
    return None
