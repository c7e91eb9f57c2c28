"""One job from an empty folder, with a car of its own: half an intake, a baseline by road speed, a
quote, a maker's sheet of joints, lists as people say values, two loggers, the customer's page, a
fault, the handover. What is typed is counted."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from tests.conftest import Call

CAR = """\
format = 1

[car]
name = "Harrow Pell 2.0"
year = 1999
power_source = "spark-ignition"

[chassis]
mass = "1240 kg"
driven_wheels = "rear"

[engine]
layout = "inline"
cylinders = 4
bore = "86.0 mm"
stroke = "86.0 mm"
compression_ratio = 9.5
rev_limit = "6800 rpm"
rated_power = "105 kW"

[induction]
kind = "naturally-aspirated"

[exhaust]
pipe_diameter = "50 mm"

[fuel]
kind = "gasoline"
ron = 96

[calibration]
id = "P-1"

[gearbox]
kind = "manual"
ratios = [3.4, 2.0, 1.36, 1.0, 0.84]

[final_drive]
ratio = 3.7

[tyres]
size = "205/55 R16"
rolling_circumference = "1.960 m"
"""
SHEET = "Joint;Qty;Thread;Class;Stage 1 [Nm];Stage 2 [Nm];Angle\n" + "".join(
    f"Joint {n};4;M10x1.5;10.9;20;40;90°\n" for n in range(1, 25)
)
AIR = ("--air-temperature", "22 degC", "--air-pressure", "995 hPa", "--humidity", "50 percent",
       "--standard-applied", "none", "--gear", "4", "--dyno", "R1", "--dyno-kind", "eddy-brake",
       "--driven", "two rollers", "--place", "the bay", "--boost-control", "none")  # fmt: skip


class Job:
    """The car's folder and everything that was typed for it."""

    def __init__(self, folder: Path, buildlog: Call) -> None:
        self.folder, self.buildlog, self.typed = folder, buildlog, [""]

    def __call__(self, *words: str) -> str:
        done = self.buildlog(*words, at=self.folder)
        assert done.status == 0, f"{' '.join(words)}\n{done.err}"
        self.typed.append(" ".join(words))
        return done.out

    def told(self, *words: str) -> dict[str, object]:
        found = json.loads(self.buildlog(*words, "--json", at=self.folder).out)
        assert isinstance(found, dict)
        return found


def power(speed: np.ndarray, peak: float) -> np.ndarray:
    """Wheel power [kW] with its peak near 6,000 rpm."""
    return peak * (1 - ((speed - 6000) / 6500) ** 2)


def by_road_speed(peak: float, seed: int) -> str:
    """A dyno file of road speed and power alone."""
    rng = np.random.RandomState(seed)
    speed = np.arange(2200, 6500, 20.0)
    road = speed / 60 * 1.960 / 3.7 * 3.6
    made = power(speed, peak) * (1 + 0.003 * rng.standard_normal(len(speed)))
    rows = zip(road, made, strict=True)
    return "Road Speed (km/h),Power (kW)\n" + "".join(f"{v:.1f},{p:.2f}\n" for v, p in rows)


def by_engine_speed(peak: float, seed: int, last: float = 6500.0) -> str:
    """Time, engine speed and power at 20 Hz; lifted where it ends early."""
    rng = np.random.RandomState(seed)
    time = np.arange(0, 12 * (last - 2000) / 4500, 0.05)
    speed = 2000 + 375 * time
    made = power(speed, peak) * (1 + 0.003 * rng.standard_normal(len(time)))
    rows = zip(time, speed, made, strict=True)
    return "Time [s],Engine Speed [rpm],Power [kW]\n" + "".join(
        f"{t:.2f},{n:.0f},{p:.2f}\n" for t, n, p in rows
    )


def log(rate: float, ahead: float, head: str, level: float) -> str:
    """A logger whose clock began `ahead` seconds before the pull."""
    time = np.arange(0, 12 + ahead, 1 / rate)
    speed = np.interp(time - ahead, [-5, 0, 12], [1900, 2000, 6500])
    return f"Time [s],Engine Speed [rpm],{head}\n" + "".join(
        f"{t:.3f},{n:.0f},{level:.3f}\n" for t, n in zip(time, speed, strict=True)
    )


def test_one_job(tmp_path: Path, buildlog: Call) -> None:
    folder, files = tmp_path / "pell", tmp_path / "in"
    files.mkdir()
    (files / "car.toml").write_text(CAR)
    buildlog("new", folder, "--from", files / "car.toml", at=tmp_path)
    job = Job(folder, buildlog)
    job("record", "-m", "as it came", "--kind", "found", "--odometer", "61200 mi",
        "--date", "2026-03-02")  # fmt: skip
    for n in (1, 2, 3):
        (files / f"run-{n}.csv").write_text(by_road_speed(84.0, n))
    runs = [str(files / f"run-{n}.csv") for n in (1, 2, 3)]
    job("dyno", "add", *runs, "--session", "baseline", "--odometer", "61200 mi",
        "--date", "2026-03-03", *AIR)  # fmt: skip
    job("record", "-m", "baseline", "--stage", "baseline", "--date", "2026-03-03")

    job("plan", "new", "pipes")
    job("plan", "set", "pipes", "exhaust.pipe_diameter=63 mm", "exhaust.headers.kind=long-tube",
        "exhaust.headers.effect.breathing_low=1 percent", "exhaust.headers.effect.source=a sheet",
        "exhaust.headers.effect.breathing_high=8 percent", "charge[exhaust]=1890",
        "currency=USD")  # fmt: skip
    assert "It costs $1,890." in " ".join(
        job("plan", "quote", "pipes", "--date", "2026-03-04").split()
    )
    job("plan", "accept", "pipes", "--how", "by phone", "--by", "B-2", "--date", "2026-03-05")
    job("plan", "adopt", "pipes")
    (files / "joints.csv").write_text(SHEET)
    said = job("torque", "sheet", str(files / "joints.csv"), "--date", "2026-03-09")
    assert "24 joints, 96 fasteners" in said
    job("checklist", "start", "light-load-check", "--date", "2026-03-09")
    job("checklist", "tick", "cruise", "--value", "14.5 AFR", "--date", "2026-03-09")
    job("checklist", "tick", "tip-in", "--value", "13.4:1", "--date", "2026-03-09")
    job("record", "-m", "Headers and pipe", "--odometer", "61210 mi", "--date", "2026-03-09")

    for n, last in ((1, 6500.0), (2, 6500.0), (3, 5600.0)):
        (files / f"after-{n}.csv").write_text(by_engine_speed(88.5, 10 + n, last))
    after = [str(files / f"after-{n}.csv") for n in (1, 2, 3)]
    job("dyno", "add", *after, "--session", "stage-1", "--odometer", "61230 mi",
        "--date", "2026-03-12", *AIR)  # fmt: skip
    (files / "wideband.csv").write_text(log(10, 3.7, "Lambda", 0.87))
    (files / "obd.csv").write_text(log(8, 5.2, "Coolant Temp [degC]", 91.0))
    for name, ahead in (("wideband", 3.7), ("obd", 5.2)):
        job("dyno", "log", str(files / f"{name}.csv"), "--session", "stage-1", "--pull",
            "after-1.csv", "--source", name)  # fmt: skip
        sheet = job.told("dyno", "sheet", "stage-1")
        logs = {one["source"]: one for one in sheet["logs"]}  # type: ignore[attr-defined]
        assert abs(logs[name]["shift_s"] + ahead) < 0.1
    job("record", "-m", "On the dyno", "--stage", "stage-1", "--date", "2026-03-12")

    page = " ".join(job("report", "stage-1").split())
    assert "Your car now makes 1" in page
    assert " more than before, give or take " in page
    assert "Promised and delivered" in page
    assert "accepted 5 March 2026 by phone" in page
    assert "Mean of " in page
    job("fault", "add", "rattle at 3,000 rpm", "--part", "exhaust.headers", "--date", "2026-05-01")
    job("record", "-m", "Rattle", "--odometer", "63000 mi", "--date", "2026-05-01")
    job("handover", str(tmp_path / "given"), "--no-pdf", "--odometer", "63000 mi")
    assert (tmp_path / "given" / "data" / "ledger.bundle").exists()
    words = job.typed[1:]
    assert len(words) == 21
    assert sum(map(len, words)) < 2400
