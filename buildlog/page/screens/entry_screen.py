"""One entry: what was done, by whom, when, and what it changed."""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING

from buildlog.analysis.car.changes import changes
from buildlog.errors import NotFound
from buildlog.page.drawing.say import Ruled, brief_day, capital, day, display, sentence
from buildlog.page.drawing.templating import drawn
from buildlog.records.key_words import key_words
from buildlog.report.as_text.changes_text import value_text
from buildlog.report.weight import rank

if TYPE_CHECKING:
    from buildlog.analysis.car.version import Version
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.page.asked import Asked


def page(asked: Asked) -> str:
    """An entry by its number."""
    book = asked.car
    name = asked.name or ""
    number = int(name) if name.isdecimal() else 0
    if not 0 < number <= len(book.entries):
        raise NotFound(f"there is no entry {asked.name}", hint="the history lists them")
    entry, version = book.entries[number - 1], book.history[number - 1]
    rows = [
        Ruled(name, "", value)
        for name, value in (
            ("Day", day(entry.work_date)), ("Odometer", display(book).distance(entry.odometer_m)),
            ("Kind", entry.kind), ("Stage", entry.stage or ""), ("Done by", entry.done_by or ""),
            ("Approved by", version.approved_by or ""),
            ("Puts right", _other(book, entry.corrects)),
            ("Approves", _other(book, entry.approves)), ("Id", entry.short),
            ("Signature", "carries one; verify checks it" if entry.signed else "none"),
        )
        if value
    ]  # fmt: skip
    return drawn(
        "entry", asked, said=sentence(f"Entry {number}: {entry.subject}"), lead=entry.notes or "",
        rows=rows, changes=_changes(book, version), came=_came(asked, version),
        number=number, last=len(book.entries), may_approve=_may_approve(asked, version),
        title=f"Entry {number} · buildlog",
    )  # fmt: skip


def _other(book: Snapshot, name: str | None) -> str:
    """ "entry 7, headers fitted"."""
    found = next((one for one in book.entries if one.id == name), None)
    return f"entry {found.number}, {found.subject}" if found else ""


def _may_approve(asked: Asked, version: Version) -> bool:
    """Whether who asks may answer for it, and does not yet."""
    names = (version.approved_by or "").split(", ")
    return asked.may("approve") and asked.person is not None and asked.person not in names


def _changes(book: Snapshot, version: Version) -> list[tuple[str, str, str]]:
    if version.number < 2:
        return []
    before = book.history[version.number - 2]
    found = changes(before.configuration, version.configuration)
    return [
        (key_words(one.path.replace(".", ", ")), value_text(one.old, one.path),
         value_text(one.new, one.path))
        for one in sorted(found, key=lambda one: rank(one.path))
    ]  # fmt: skip


def _named(kind: str, name: str, href: str) -> tuple[str, str, str]:
    """ "Fault: charge hose" with its day, of "2026-05-21-charge-hose"; a session keeps its name."""
    found = re.fullmatch(r"(\d{4}-\d\d-\d\d)-(.*?)(?:\.sheet)?", name)
    rest, on = (found[2], brief_day(dt.date.fromisoformat(found[1]))) if found else (name, "")
    return f"{capital(kind)}: {rest if kind == 'session' else rest.replace('-', ' ')}", href, on


def _came(asked: Asked, version: Version) -> list[Ruled]:
    """The sessions, lists, faults and joints that came with it."""
    kinds = (("session", "dyno", version.sessions), ("fault", "fault", version.faults),
             ("list", "", version.checks), ("joint", "", version.joints))  # fmt: skip
    return [
        Ruled(*_named(kind, name, asked.at(f"{place}/{name}") if place else ""))
        for kind, place, names in kinds
        for name in names
    ]
