"""What an address means: a screen, an act, a file of ours, a door; no disk is looked at."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

Kind = Literal["screen", "act", "static", "door", "state", "file", "link", "none"]
_SLUG = r"[a-z0-9][a-z0-9.\-]{0,120}"
_CAR = re.compile(rf"/car/({_SLUG})(?:/(.*))?")
DOORS = ("/enter", "/pair", "/devices", "/person", "/leave", "/favicon.ico", "/authority.crt",
         "/worker.js")  # fmt: skip
EXACT = ("dyno/add",)  # a screen of its own, and no session of that name
WITH_FILES = frozenset({"item", "joint", "part", "fault", "fix", "photo",
                        "dyno-add", "log-add", "odometer", "waiting", "sheet-add"})  # fmt: skip


@dataclass(frozen=True)
class Address:
    """What is meant: `key` is the screen's in SCREENS or the act's kind, `name` what is named."""

    kind: Kind
    key: str = ""
    slug: str | None = None
    name: str | None = None


def place_of(path: str) -> Address:
    """What a path means, decoded once and looked over already."""
    if path in DOORS or path.startswith("/devices/"):
        return Address("door", path)
    if path.startswith("/static/"):
        return Address("static", path.removeprefix("/static/"))
    if path.startswith("/link/"):
        return Address("link", name=path.removeprefix("/link/"))
    if found := _CAR.fullmatch(path):
        return _below_a_car(found[1], found[2] or "")
    if path == "/act/new-car":
        return Address("act", "new-car")
    first, slash, rest = path.lstrip("/").partition("/")
    if slash and rest:
        return Address("screen", f"/{first}/*", name=rest)
    return Address("screen", f"/{first}")


def car_of(wanted: str) -> str:
    """The sheet of the car that an address is below, whatever was sent; the first sheet for any
    other. A car's name has letters that mean nothing to anybody, so that it can be sent back.

    >>> car_of("/car/tern/lists/intake"), car_of("/car/tern/"), car_of("/explain/<b>")
    ('/car/tern/', '/car/tern/', '/')
    >>> car_of("//other.example/"), car_of("/car/<b>/"), car_of("javascript:go()")
    ('/', '/', '/')
    """
    found = _CAR.fullmatch(wanted)
    return f"/car/{found[1]}/" if found else "/"


def may_be_kept(found: Address) -> bool:
    """Whether a phone may keep the screen to read it without us: no prices, nothing of devices,
    nothing made for one customer."""
    return found.kind == "screen" and found.key.partition("/")[0] not in (
        "customer",
        "plans",
        "label",
    )


def takes_files(path: str) -> bool:
    """Whether files may be sent there."""
    found = place_of(path)
    return found.kind == "act" and found.key in WITH_FILES


def _below_a_car(slug: str, rest: str) -> Address:
    if rest == "state":
        return Address("state", slug=slug)
    if rest in EXACT:
        return Address("screen", rest, slug)
    first, slash, name = rest.rstrip("/").partition("/")
    if first == "act" and name:
        return Address("act", name, slug)
    if first == "file" and name:
        return Address("file", name=name, slug=slug)
    return Address("screen", f"{first}/*" if slash and name else first, slug, name or None)
