"""Histories in memory: each step sets some fields of the car and says how it was recorded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from buildlog.analysis.car.history_files import HistoryFiles, Visit
from buildlog.analysis.car.version import Version
from buildlog.records.car.configuration import Configuration
from buildlog.records.checks import Check
from buildlog.records.faults import Fault
from buildlog.records.session import Session

MILE = 1609.344
START = dt.date(2026, 1, 5)


@dataclass(frozen=True)
class Step:
    """One entry. `put` sets dotted paths (None removes); `miles` is the odometer."""

    put: Mapping[str, Any] = field(default_factory=dict)
    kind: str = "build"
    miles: float | None = None
    approved: str | None = None
    corrects: int | None = None
    resolves: int | None = None
    session: Mapping[str, Any] | None = None
    checks: Sequence[Mapping[str, Any]] = ()
    faults: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    day: int | None = None


def entry_id(number: int) -> str:
    """The id that entry `number` has in these histories."""
    return f"{number:08x}" + "0" * 32


def tell(*steps: Step) -> tuple[list[Version], HistoryFiles]:
    """The history and what it holds beside the configurations."""
    values: dict[str, Any] = {"car.name": "Marrow Tern 2.6"}
    history: list[Version] = []
    visits: list[Visit] = []
    checks: dict[str, Check] = {}
    faults: dict[str, Fault] = {}
    for number, step in enumerate(steps, start=1):
        values = {k: v for k, v in (values | dict(step.put)).items() if v is not None}
        date = START + dt.timedelta(days=number if step.day is None else step.day)
        names = tuple(f"{date}-{one['list']}-{i}-{number}" for i, one in enumerate(step.checks))
        for name, one in zip(names, step.checks, strict=True):
            checks[name] = Check(**({"format": 1, "date": date} | dict(one)))
        for name, one in step.faults.items():
            faults[name] = Fault(**({"format": 1, "date": date, "state": "open"} | dict(one)))
        version = Version(
            number, entry_id(number), step.kind, date,
            None if step.miles is None else step.miles * MILE, configuration(values),
            done_by="D-07", approved_by=step.approved,
            corrects=entry_id(step.corrects) if step.corrects else None,
            resolves=entry_id(step.resolves) if step.resolves else None,
            sessions=(f"{date}",) if step.session is not None else (),
            checks=names, faults=tuple(step.faults),
        )  # fmt: skip
        history.append(version)
        if step.session is not None:
            body = {"format": 1, "date": date, "pull": [{"file": "pull-1.csv"}]} | dict(
                step.session
            )
            visits.append(Visit(f"{date}", Session.model_validate(body), version))
    return history, HistoryFiles(visits, checks, faults)


def configuration(values: Mapping[str, Any]) -> Configuration:
    """A configuration from dotted paths."""
    tree: dict[str, Any] = {"format": 1}
    for path, value in values.items():
        here = tree
        *tables, last = path.split(".")
        for name in tables:
            here = here.setdefault(name, {})
        here[last] = value
    return Configuration.model_validate(tree)


def check(
    name: str, before: str | None = None, left: Sequence[str] = (), **more: Any
) -> dict[str, Any]:
    """A carried-out list with one passed critical item, and critical items left undone."""
    items = [{"key": "looked", "critical": True, "result": "pass"}]
    items += [{"key": key, "critical": True, "result": "not-done"} for key in left]
    return {"list": name, "before": before, "item": items} | more
