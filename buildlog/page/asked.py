"""What a screen or an act is told: which car, who asks, with what right, and what was typed."""

from __future__ import annotations

import json
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Literal
from urllib.parse import urlencode

from buildlog.errors import NotFound

if TYPE_CHECKING:
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.page.cars import Cars
    from buildlog.page.customer_links import CustomerLinks

Right = Literal["read", "write", "approve", "owner"]
RIGHTS: tuple[Right, ...] = ("read", "write", "approve", "owner")  # each holds those before it


def fresh_act() -> str:
    """An id for an act that was not made yet: 128 bits, so that no two are ever the same."""
    return secrets.token_hex(16)


_ANSWERS = {"pass": "done", "fail": "fault", "not-done": "not done",
            "not-applicable": "does not apply"}  # fmt: skip
_OF_AN_ITEM = ("result", "value", "values", "note", "codes")


def value_words(text: str) -> str:
    """What a place holds, as a person says it.

    >>> value_words('{"answered": true, "result": "pass", "value": "44 psi"}'), value_words("")
    ('done, 44 psi', 'nothing')
    >>> value_words('{"by": "D-03", "fault": "Fan", "note": "slips", "result": "fail"}')
    'fault, slips'
    """
    try:
        found = json.loads(text) if text else None
    except ValueError:
        return text
    if isinstance(found, dict):
        own = [key for key in found if key not in ("answered", "key", "by", "at")]
        keys = _OF_AN_ITEM if "result" in found else own
        told = [found[key] for key in keys if found.get(key)]
        told = [", ".join(map(str, one)) if isinstance(one, list) else str(one) for one in told]
        return ", ".join(_ANSWERS.get(one, one) for one in told) or "nothing"
    return "nothing" if found is None else str(found)


@dataclass(frozen=True)
class Question:
    """Why an act was not done: what it changes holds something else than the screen showed."""

    what: str
    old: str
    now: str
    said: str
    kind: str = ""
    """The kind of the act that asks."""

    @property
    def was(self) -> str:
        """What the screen showed, in words."""
        return value_words(self.old)

    @property
    def who(self) -> str:
        """Who wrote what it holds, and when, as far as it says so."""
        try:
            found = json.loads(self.now) if self.now else None
        except ValueError:
            return ""
        told = (found.get("by"), found.get("at")) if isinstance(found, dict) else ()
        return ", ".join(str(one).replace("T", " ")[:16] for one in told if one)

    @property
    def is_now(self) -> str:
        """What it holds, in words."""
        return value_words(self.now)


@dataclass(frozen=True)
class Undo:
    """The last act of this browser, while it can be undone."""

    id: str
    said: str


@dataclass(frozen=True)
class Asked:
    """One request, after it was let in; nothing of HTTP is left in it."""

    cars: Cars
    path: str
    """What was asked for, below the base: "/car/marrow-tern/lists/before-dyno"."""
    slug: str | None = None
    """The car's name in the address; None for what belongs to no one car."""
    name: str | None = None
    """What is named within the screen: a list, a joint, a session, a plan, a word."""
    query: Mapping[str, str] = field(default_factory=dict)
    person: str | None = None
    right: Right = "read"
    token: str = ""
    """What every form sends back as `token`."""
    act: Callable[[], str] = fresh_act
    base: str = ""
    origin: str = ""
    """Scheme, name and port by which this page was reached."""
    told: str | None = None
    """What the last act of this browser said, to be shown once."""
    wrong: str | None = None
    """What is wrong with what was typed, where a form comes back."""
    typed: Mapping[str, str] = field(default_factory=dict)
    """What was typed, where a form comes back."""
    question: Question | None = None
    undo: Undo | None = None
    links: CustomerLinks | None = None

    @property
    def folder(self) -> Path:
        """The folder that is served: a ledger, or the shop's folder of ledgers."""
        return self.cars.folder

    @property
    def place(self) -> Path:
        """The folder of the car that is asked about."""
        if self.slug is None:
            raise NotFound("no car is named here", hint="choose one on the first page")
        return self.cars.place(self.slug)

    @cached_property
    def car(self) -> Snapshot:
        """The car as it stood when this was first looked at, pinned."""
        return self.cars.open(self.place)

    def at(self, path: str = "") -> str:
        """A link: to a place below the car's ("lists/before-dyno"), else from the top ("/new")."""
        if path.startswith("/") or self.slug is None:
            return f"{self.base}/{path.lstrip('/')}"
        return f"{self.base}/car/{self.slug}/{path}"

    @property
    def here(self) -> str:
        """What was asked for, as it is asked for again where a form comes back."""
        return f"{self.path}?{urlencode(self.query)}" if self.query else self.path

    def may(self, right: Right) -> bool:
        """Whether who asks has this right."""
        return RIGHTS.index(self.right) >= RIGHTS.index(right)
