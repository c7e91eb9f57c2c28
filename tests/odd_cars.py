"""Histories of unusual cars, for whatever has to tell of any car. All of it is invented.

with made(tmp_path / "car", "electric") as ledger: ...
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from buildlog.records.toml import toml_write
from buildlog.store.ledger.ledger import Ledger
from tests.builders import CAR, SESSION, changed, pull_csv
from tests.histories import Operation, history, put, record

LONG = "Marrow Tern of the second series with every option of its year and then some more " \
       "that nobody ever asked for at all 2.6x"  # fmt: skip
RIGHT_TO_LEFT = "מארו טרן 2.6"
HAN = "沼燕 二六型"
Changes = dict[str, Any]


def car(changes: Changes | None = None, without: Sequence[str] = ()) -> Operation:
    """car.toml: the builders' car with paths changed and tables left out."""
    values = {name: table for name, table in changed(CAR, changes).items() if name not in without}
    return put("car.toml", toml_write.write(values))


def visit(name: str, peaks: Sequence[float], changes: Changes | None = None) -> list[Operation]:
    """A session of pulls, with paths of session.toml changed."""
    day = changed(SESSION, changes)["date"]
    values = changed(SESSION, changes)
    values["pull"] = [{"file": f"pull-{i}.csv"} for i in range(1, len(peaks) + 1)]
    folder = f"dyno/{day}-{name}"
    return [
        *(put(f"{folder}/pull-{i}.csv", pull_csv(p, seed=i)) for i, p in enumerate(peaks, 1)),
        put(f"{folder}/session.toml", toml_write.write(values)),
    ]


def stated(name: str) -> list[Operation]:
    """A visit of which only a printout is left."""
    values = {
        "format": 1, "date": dt.date(2026, 3, 14),
        "stated": [{"quantity": "power", "value": "131 hp", "measured_at": "wheel",
                    "source": "printout in the glove box"}],
    }  # fmt: skip
    return [put(f"dyno/2026-03-14-{name}/session.toml", toml_write.write(values))]


def electric() -> list[Operation]:
    bare = ("induction", "exhaust", "fuel", "calibration", "clutch", "gearbox")
    changes = {"car.name": "Pell Curlew", "car.power_source": "electric",
               "engine": {"rated_power": "150 kW"}}  # fmt: skip
    return [car(changes, bare), record("intake", kind="found", odometer="12000 km"),
            *visit("base", [150_000, 151_000]), record("first visit", kind="dyno", stage="base"),
            car({**changes, "tyres.pressure": "2.6 bar"}, bare),
            record("tyre pressure", stage="tyres")]  # fmt: skip


def diesel() -> list[Operation]:
    changes = {"car.name": "Holm Bittern 2.2", "car.power_source": "compression-ignition",
               "fuel.kind": "diesel", "fuel.ron": None,
               "induction.kind": "turbocharger"}  # fmt: skip
    more = {**changes, "induction.boost.target_gauge": "1.4 bar"}
    return [car(changes), record("intake", kind="found", odometer="201000 km"),
            *visit("before", [90_000, 90_500]), record("before", kind="dyno", stage="before"),
            car(more), *visit("after", [110_000, 110_600], {"date": dt.date(2026, 4, 2)}),
            record("more boost", kind="dyno", stage="after")]  # fmt: skip


def motorcycle() -> list[Operation]:
    changes = {"car.name": "Sund Plover 650", "car.vehicle": "motorcycle", "engine.cylinders": 2,
               "engine.layout": "vee", "chassis.mass": "265 kg"}  # fmt: skip
    return [car(changes), record("intake", kind="found", odometer="31000 km"),
            *visit("base", [48_000, 48_200]),
            record("first", kind="dyno", stage="base")]  # fmt: skip


def never_measured() -> list[Operation]:
    return [car(), record("intake", kind="found", odometer="88000 mi", stage="as-found"),
            car({"exhaust.pipe_diameter": "63 mm"}),
            record("exhaust", odometer="88100 mi", stage="stage-1")]  # fmt: skip


def hundred_entries() -> list[Operation]:
    steps: list[Operation] = [car(), record("intake", kind="found", odometer="88000 mi")]
    for number in range(99):
        steps += [car({"chassis.mass": f"{1300 + number} kg"}),
                  record(f"work {number}", odometer=f"{88_000 + 20 * number} mi",
                         stage=f"step-{number}" if number % 5 == 0 else None)]  # fmt: skip
    return steps


def only_stated() -> list[Operation]:
    return [car(), record("intake", kind="found"), *stated("printout"),
            record("what the seller had", kind="dyno", stage="printout")]  # fmt: skip


def faulty() -> list[Operation]:
    fault = {"format": 1, "state": "open", "date": dt.date(2026, 1, 8), "by": "D-07",
             "symptom": "coolant is lost, nobody knows where", "part": "engine",
             "holds_up_full_load": True}  # fmt: skip
    return [car(), record("intake", kind="found", odometer="88000 mi"),
            *visit("base", [100_000, 100_500]), record("first", kind="dyno", stage="base"),
            put("faults/2026-01-08-coolant.toml", toml_write.write(fault)),
            record("coolant is lost", kind="fault", stage="waiting")]  # fmt: skip


def corrected() -> list[Operation]:
    def right(story: Any) -> None:
        wrong = story.ledger.entries()[-1].id
        car({"clutch.rated_torque": "300 N*m"})(story)
        record("the clutch is the stronger one", kind="correction", corrects=wrong)(story)

    return [car(), record("intake", kind="found", odometer="88000 mi"),
            car({"clutch.rated_torque": "380 N*m"}), record("clutch", stage="stage-1"), right,
            car({"clutch.rated_torque": "300 N*m", "fuel.pump.flow": "120 L/h",
                 "exhaust.pipe_diameter": None}),
            record("seen at the next visit: another pump", kind="found",
                   stage="seen-again")]  # fmt: skip


def named(name: str) -> list[Operation]:
    """A name in every place where people write one."""
    changes = {"car.name": name, "calibration.author": name, "clutch.part.maker": name[:60],
               "clutch.part.note": name, "work": [{"item": name[:60], "note": name}]}  # fmt: skip
    return [car(changes), record(name, kind="found", odometer="88000 mi", done_by=name),
            *visit("base", [100_000, 100_500], {"dyno.id": name[:60], "place": name}),
            record(name, kind="dyno", stage="base"),
            car({**changes, "exhaust.pipe_diameter": "63 mm"}),
            *visit("later", [104_000, 104_500], {"date": dt.date(2026, 4, 2)}),
            record(name, kind="dyno", stage="later")]  # fmt: skip


def not_each_measured() -> list[Operation]:
    """A blower that was paid for with a stage nobody measured; the next one was."""
    more = {"induction.kind": "positive-displacement", "induction.boost.target_gauge": "0.4 bar"}
    return [car(), record("intake", kind="found", odometer="88000 mi"),
            *visit("base", [100_000, 100_600, 100_300]),
            record("first visit", kind="dyno", stage="baseline"),
            car(more), record("blower fitted", odometer="88100 mi", stage="stage-1"),
            car({**more, "calibration.id": "B-001"}),
            *visit("tuned", [130_000, 130_600, 130_200], {"date": dt.date(2026, 4, 2)}),
            record("new calibration", odometer="88200 mi", stage="stage-1b")]  # fmt: skip


def one_entry() -> list[Operation]:
    return [put("car.toml", b'format = 1\n\n[car]\nname = "Marrow Tern"\n'),
            record("as it came")]  # fmt: skip


CARS: dict[str, Callable[[], list[Operation]]] = {
    "electric": electric,
    "diesel": diesel,
    "motorcycle": motorcycle,
    "never-measured": never_measured,
    "hundred-entries": hundred_entries,
    "only-stated": only_stated,
    "faulty": faulty,
    "corrected": corrected,
    "not-each-measured": not_each_measured,
    "long-names": lambda: named(LONG),
    "right-to-left": lambda: named(RIGHT_TO_LEFT),
    "han": lambda: named(HAN),
    "one-entry": one_entry,
}


def made(folder: Path, name: str) -> Ledger:
    """The ledger of an odd car; use it in a `with`."""
    return history(folder, CARS[name]())
