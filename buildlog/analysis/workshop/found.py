"""As recorded against as found: what to look at, part by part, and what was seen."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from buildlog.analysis.car.version import Version
from buildlog.analysis.car.written import Written
from buildlog.analysis.workshop import partlife
from buildlog.records.fields.parts import Assembly
from buildlog.records.paths import Value, leaves
from buildlog.units import Quantity

Outcome = Literal["as-recorded", "differs", "not-seen"]
OUTCOMES: dict[Outcome, str] = {
    "as-recorded": "as recorded",
    "differs": "differs",
    "not-seen": "not seen",
}
LIST = "as-found"
_RESULT: dict[Outcome, str] = {"as-recorded": "pass", "differs": "fail", "not-seen": "not-done"}
_NOT_SEEN = frozenset(Assembly.model_fields)  # what every assembly has is not seen on the car
_FEW = 5


@dataclass(frozen=True)
class Stop:
    """One part to look at: its path, its name in words, and what the ledger says of it."""

    path: str
    name: str
    recorded: str


@dataclass(frozen=True)
class WalkWritten(Written):
    """A walk around the car: how many parts of each outcome, and which differ in what."""

    counts: Mapping[Outcome, int]
    differing: tuple[tuple[str, str], ...]


def walk(history: Sequence[Version]) -> list[Stop]:
    """The parts of the last version, in the order of car.toml."""
    values = leaves(history[-1].configuration)
    return [Stop(life.path, life.name, _recorded(life, values)) for life in partlife.parts(history)]


def items(
    stops: Sequence[Stop],
    seen: Mapping[str, Outcome],
    notes: Mapping[str, str],
    by: str | None,
    at: Any,
) -> list[dict[str, Any]]:
    """The walk as the items of a carried-out list; what nobody looked at is not done."""
    return [
        {
            "key": _key(stop.path),
            "text": f"{stop.path}: {stop.recorded}"[:240],
            "result": _RESULT[seen.get(stop.path, "not-seen")],
            "by": by if stop.path in seen else None,
            "at": at if stop.path in seen else None,
            "note": notes.get(stop.path),
        }
        for stop in stops
    ]


def counts(stops: Sequence[Stop], seen: Mapping[str, Outcome]) -> dict[Outcome, int]:
    """How many parts were as recorded, differ, were not seen."""
    return {one: sum(seen.get(stop.path, "not-seen") == one for stop in stops) for one in OUTCOMES}


def _recorded(life: partlife.PartLife, values: Mapping[str, Value]) -> str:
    own = [
        f"{path.removeprefix(f'{life.path}.').replace('_', ' ')} {_shown(value)}"
        for path, value in values.items()
        if path.rpartition(".")[0] == life.path and path.rpartition(".")[2] not in _NOT_SEEN
    ]
    pieces = [life.identity.words] if life.identity.serial or life.identity.maker else []
    pieces += own[:_FEW] + (["..."] if len(own) > _FEW else [])
    condition = f"{life.condition}, " if life.condition else ""
    return f"{condition}{', '.join(pieces) or 'nothing else on record'} (since {life.since})"


def _key(path: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", path.casefold()).strip("-")[:60]


def _shown(value: Value) -> str:
    if isinstance(value, Quantity):
        return value.text
    if isinstance(value, tuple):
        return "/".join(_shown(one) for one in value)
    return str(value)
