"""A made shop: cars that got the same kinds of stages, each with its own gain and its own luck.

Every car begins as the demo's did. Its pulls are those of the demo's baseline, their power and
torque multiplied by what the stage gave, which is drawn around a gain that is known here:
what `shop list --gains` says can be compared with it.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from buildlog.desk.acts.record import record_working
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger.append import Recorder
from tests.histories import SHOP, Operation, Story, history, put

# What each kind of stage gives in this shop, and what is changed in car.toml for it.
GAINS = {"exhaust": 0.06, "calibration": 0.03, "exhaust, calibrated": 0.10}
_BEFORE, _AFTER = 'back_pressure = "22 kPa"', 'back_pressure = "8 kPa"'
_EXHAUST = f'[exhaust]\n{_BEFORE}\nback_pressure_at_power = "140 hp"\n'
PUMPS = ("FP-23", "FP-23", "FP-23", "FP-30")
_KINDS = [("exhaust", "calibration"), ("exhaust, calibrated",), ("calibration", "exhaust")]


def shop(folder: Path, count: int, files: Mapping[str, bytes]) -> dict[str, list[float]]:
    """Ledgers of `count` cars below a folder; what the stages of each kind really gave.

    `files` are the demo's at its first session.
    """
    true: dict[str, list[float]] = {}
    for number in range(count):
        _car(folder / f"car-{number + 1:02d}", number, files, true)
    return true


def _car(
    folder: Path, number: int, files: Mapping[str, bytes], true: dict[str, list[float]]
) -> None:
    chance = random.Random(number)
    car = files["car.toml"].decode().replace('"Marrow Tern 2.6"', f'"Tern {number + 1}"')
    car = car.replace('vin = "0MTBA26A7RS004417"\n', "").replace("[exhaust]\n", _EXHAUST, 1)
    day, miles, power = date(2026, 1, 12) + timedelta(days=number), 60_000 + 900 * number, 1.0
    pump = PUMPS[number % len(PUMPS)]
    if number:  # the first car came with the pump in it
        steps = [put("car.toml", car), record("intake", day, kind="found", odometer=f"{miles} mi")]
        car = _with_pump(car, pump)
    else:
        car, steps = _with_pump(car, pump), []
    steps += [
        put("car.toml", car),
        *_session(files, "baseline", day + timedelta(days=1), miles, power, chance),
        record("pump, baseline", day + timedelta(days=1), odometer=f"{miles} mi", stage="baseline"),
    ]
    fitted = miles
    for stage, kind in enumerate(_KINDS[number % len(_KINDS)], start=1):
        gain = chance.gauss(GAINS[kind], 0.01)
        true.setdefault(kind, []).append(gain)
        day, miles, power = day + timedelta(days=30), miles + 600, power * (1 + gain)
        car = _changed(car, kind, stage)
        steps += [
            put("car.toml", car),
            *_session(files, f"stage-{stage}", day, miles, power, chance),
            record(f"stage {stage}", day, odometer=f"{miles} mi", stage=f"stage-{stage}"),
        ]
    if pump == "FP-23" and number % 3 == 0:
        steps += _pump_fails(car, number, day + timedelta(days=9), fitted + failed_after(number))
    history(folder, steps, nonce=f"{number + 1:032x}").close()


def failed_after(number: int) -> int:
    """How many miles the pump of a car runs in which it fails."""
    return 1500 + 300 * number


def _with_pump(car: str, number: str) -> str:
    head = "[fuel.pump.part]\n"
    return car.replace(
        f'{head}condition = "original"', f'{head}maker = "Halloway"\nnumber = "{number}"', 1
    )


def record(subject: str, on: date, **facts: Any) -> Operation:
    """Record as the command does, with the peak that was measured."""

    def operation(story: Story) -> None:
        story.now = datetime.combine(on, time(9), UTC)
        what = EntryFacts(subject, work_date=on, **facts)
        record_working(story.ledger, what, Recorder(SHOP, story.now), session_is_new=True)

    return operation


def _changed(car: str, kind: str, stage: int) -> str:
    if "exhaust" in kind:
        car = car.replace(_BEFORE, _AFTER, 1)
    if "calibra" in kind:
        lines = car.split("\n")
        head = lines.index("[calibration]")
        keys = {"id": f'id = "T26-1{stage}"', "lambda_full_load": "lambda_full_load = 0.90"}
        for at in range(head, head + 5):
            lines[at] = keys.get(lines[at].split(" = ")[0], lines[at])
        car = "\n".join(lines)
    return car


def _session(
    files: Mapping[str, bytes],
    name: str,
    day: date,
    miles: int,
    power: float,
    chance: random.Random,
) -> list[Operation]:
    steps = []
    for path, data in files.items():
        if not path.startswith("dyno/"):
            continue
        last = path.rsplit("/", 1)[-1]
        text = data.decode()
        if last == "session.toml":
            keys = {"date": f"date = {day}", "odometer": f'odometer = "{miles} mi"'}
            lines = text.split("\n")
            text = "\n".join(keys.get(line.split(" = ")[0], line) for line in lines)
        else:
            text = _scaled(text, power * chance.gauss(1, 0.003))
        steps.append(put(f"dyno/{day}-{name}/{last}", text))
    return steps


def _scaled(text: str, power: float) -> str:
    head, *rows = text.rstrip("\r\n").split("\n")
    out = [head]
    for row in rows:
        cells = row.split(",")
        cells[3:5] = [f"{float(cell) * power:.1f}" for cell in cells[3:5]]
        out.append(",".join(cells))
    return "\n".join([*out, ""])


def _pump_fails(car: str, number: int, day: date, miles: int) -> list[Operation]:
    fault = (
        f'format = 1\nstate = "open"\ndate = {day}\nsymptom = "whines, pressure falls"\n'
        f'part = "fuel.pump"\nodometer = "{miles} mi"\n'
    )
    found = [put(f"faults/{day}-pump.toml", fault),
             record("pump", day, kind="fault", odometer=f"{miles} mi")]  # fmt: skip
    if number % 2:
        later = day + timedelta(days=3)
        closed = (
            f'format = 1\nstate = "closed"\ndate = {later}\npart = "fuel.pump"\n'
            f'odometer = "{miles} mi"\ncloses = "{day}-pump"\ncause = "worn"\nremedy = "new pump"\n'
        )
        found += [
            put("car.toml", car.replace("FP-23", "FP-30")),
            put(f"faults/{later}-pump-closed.toml", closed),
            record("new pump", later, odometer=f"{miles} mi"),
        ]
    return found
