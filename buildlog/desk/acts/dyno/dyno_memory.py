"""What a person at a terminal is offered for a session: the last session's answers, and the shop's
dynos as they were stated the last time. Nothing here decides by itself.

The dynos lie in the user's state folder and never enter a ledger by themselves.
"""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from typing import Any

from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError
from buildlog.records.checked_paths import field_paths, session_field
from buildlog.records.session import Session
from buildlog.records.toml import toml_write
from buildlog.records.toml.toml_read import parse_toml
from buildlog.store.disk import atomic
from buildlog.store.disk.user_folders import state_folder
from buildlog.units import Quantity

_OF_A_DYNO = field_paths(
    "dyno.kind", "dyno.driven", "dyno.roller_circumference", "dyno.drum_inertia",
    "dyno.wheels_share", "dyno.accuracy", "place", "standard_applied", model=Session,
)  # fmt: skip
_OF_A_VISIT = field_paths("gear", "dyno.id", "place", "standard_applied", model=Session)
_DYNO = session_field("dyno.id")
_MOST = 50


def remembered() -> dict[str, dict[str, str]]:
    """The shop's dynos by name, each with what was stated of it; the one used last stands last."""
    try:
        held = parse_toml((state_folder() / "dynos.toml").read_bytes(), "dynos.toml")
        return {one["id"]: {k: v for k, v in one.items() if k != "id"} for one in held["dyno"]}
    except (OSError, BuildlogError, KeyError, TypeError):
        return {}  # what is remembered only saves keys


def remember(fields: Mapping[str, str]) -> None:
    """Keep what a session stated of its dyno; a disk that refuses is no matter."""
    name = fields.get(_DYNO)
    if not name:
        return
    known = remembered()
    known[name] = known.pop(name, {}) | {f: fields[f] for f in _OF_A_DYNO if f in fields}
    tables = [{"id": one, **said} for one, said in [*known.items()][-_MOST:]]
    with contextlib.suppress(BuildlogError, OSError):
        place = state_folder() / "dynos.toml"
        atomic.make_folder(place.parent)
        atomic.replace(place, toml_write.write({"dyno": tables}))


def offered(book: Snapshot) -> dict[str, str]:
    """The default of each answer: what the car's last session said, else the dyno used last."""
    visits = sorted(book.visits, key=lambda one: one.session.date)
    known = remembered()
    found: dict[str, str] = {}
    if known:
        last = [*known][-1]
        found = {str(_DYNO): last} | {f: known[last][f] for f in _OF_A_VISIT if f in known[last]}
    if visits:
        session = visits[-1].session
        said = {name: _text(_value(session, name)) for name in _OF_A_VISIT}
        found |= {name: text for name, text in said.items() if text}
    readings = [e.odometer for e in book.entries if e.odometer not in (None, "unknown")]
    return found | ({"odometer": readings[-1]} if readings and readings[-1] else {})


def _value(session: Session, name: str) -> Any:
    value: Any = session
    for key in name.split("."):
        value = getattr(value, key, None)
    return value


def _text(value: Any) -> str:
    return value.text if isinstance(value, Quantity) else "" if value is None else f"{value}"
