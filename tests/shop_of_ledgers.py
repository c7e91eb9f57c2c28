"""A shop's folder of ledgers for tests of learning: invented cars, each measured before and
after a turbocharger, with the result the test asks for."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from tests.histories import history, put, record

CAR = """\
format = 1

[car]
name = "{name}"
year = 1994
power_source = "spark-ignition"

[engine]
bore = "84.0 mm"
stroke = "78.0 mm"
cylinders = 6
compression_ratio = 9.2

[fuel]
kind = "gasoline"
ethanol_content = "10 percent"
"""
TURBO = """
[induction]
kind = "turbocharger"

[induction.boost]
target_gauge = "{boost} psi"
threshold_speed = "2700 rpm"

[induction.charge_cooler]
kind = "air"
effectiveness = 0.68
"""
SESSION = """\
format = 1
date = {day}
place = "Quarry Lane, dyno bay"
altitude = "120 m"
odometer = "{miles} mi"
gear = 4
standard_applied = "none"
tyre_pressure = "2.2 bar"
strapping = "two straps at the rear axle"

[dyno]
id = "Q1"
kind = "eddy-brake"

[air]
temperature = "20 degC"
pressure = "1003 hPa"
humidity = "50 percent"

[[column]]
channel = "engine_speed"
name = "n"
unit = "rpm"

[[column]]
channel = "power"
name = "P"
unit = "kW"
at = "wheel"

[[pull]]
file = "pull-1.csv"

[[pull]]
file = "pull-2.csv"

[[pull]]
file = "pull-3.csv"
"""
PEAK = 105.0  # kW at the wheels before


def car(folder: Path, number: int, gain: float, boost: float = 9.0) -> Path:
    """One car's ledger: measured, blown to `boost` psi, measured again at `gain` times."""
    name = f"Marrow Tern {number}"
    before = CAR.format(name=name)
    days = [f"2026-{1 + number:02d}-{d}" for d in ("05", "20")]
    history(
        folder,
        [
            put("car.toml", before),
            *_session(days[0], "baseline", 1.0),
            record("baseline", on=days[0], kind="dyno", odometer="60000 mi", stage="baseline"),
            put("car.toml", before + TURBO.format(boost=boost)),
            *_session(days[1], "turbo", gain),
            record("turbo", on=days[1], kind="dyno", odometer="61000 mi", stage="turbo"),
        ],
        nonce=f"{number:032x}",
    ).close()
    return folder


def _session(day: str, name: str, gain: float) -> list:  # type: ignore[type-arg]
    place = f"dyno/{day}-{name}"
    text = SESSION.format(day=day, miles=60_000 if gain == 1.0 else 61_000)
    pulls = [put(f"{place}/pull-{i + 1}.csv", _pull(gain * f)) for i, f in enumerate(SCATTER)]
    return [put(f"{place}/session.toml", text), *pulls]


SCATTER = (0.997, 1.0, 1.003)


def _pull(gain: float) -> str:
    rpm = np.arange(2000, 6201, 25)
    shape = 1 - ((rpm - 5600) / 5200) ** 2
    rows = (f"{n},{PEAK * gain * p * n / 5600:.3f}" for n, p in zip(rpm, shape, strict=True))
    return "n,P\n" + "\n".join(rows) + "\n"
