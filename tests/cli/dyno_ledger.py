"""A ledger with invented dyno visits, for the commands that read sessions."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from buildlog.records.toml import toml_write
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.ledger import Ledger
from tests.builders import CAR, SESSION, changed, pull_csv


def dyno_ledger(
    folder: Path,
    visits: Sequence[tuple[str, Mapping[str, Any]]],
    nonce: str = "5e" * 16,
    changes: Sequence[Mapping[str, Any]] = (),
) -> Path:
    """One entry for the car and one for each visit: (name without date, what differs).

    `peaks` [W] makes a pull each; everything else is a dotted path of session.toml. `changes`: what
    of car.toml changes with each visit.
    """
    folder.mkdir(parents=True)
    (folder / "car.toml").write_bytes(toml_write.write(CAR))
    with Ledger.create(folder, nonce=nonce) as ledger:
        record(ledger, "intake", dt.date(2026, 1, 2), "found")
        for number, (name, given) in enumerate(visits):
            day = dt.date(2026, 3, 1) + dt.timedelta(days=number)
            if changes:
                (folder / "car.toml").write_bytes(toml_write.write(changed(CAR, changes[number])))
            write_visit(folder / "dyno" / f"{day}-{name}", day, dict(given))
            record(ledger, f"dyno: {name}", day, "dyno")
    return folder


def write_visit(folder: Path, day: dt.date, given: dict[str, Any]) -> None:
    """One session's folder, not recorded."""
    folder.mkdir(parents=True)
    peaks, shape = given.pop("peaks", ()), given.pop("shape", {})
    pulls = given.pop("pulls", [{}] * len(peaks))
    values = changed(SESSION, given) | {"date": day}
    for i, (peak, own) in enumerate(zip(peaks, pulls, strict=True), 1):
        (folder / f"pull-{i}.csv").write_bytes(pull_csv(peak, seed=i, **shape))
        values.setdefault("pull", []).append({"file": f"pull-{i}.csv", **own})
    (folder / "session.toml").write_bytes(toml_write.write(values))


def record(ledger: Ledger, text: str, day: dt.date, kind: str) -> None:
    """The working files as an entry of that day."""
    facts = EntryFacts(text, kind=kind, odometer="88412 mi", work_date=day)
    at = dt.datetime(day.year, day.month, day.day, 9, tzinfo=dt.UTC)
    ledger.record(facts, Recorder("Quarry Lane", at))
