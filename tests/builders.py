"""Configurations, sessions and versions with full defaults, for tests that need one or two.

    make_configuration({"engine.bore": "84.5 mm", "calibration": None})
    make_session(peaks=[100_000, 101_000], date="2026-03-14")
    make_sheet(peaks=[100_000, 100_500, 99_500])

All figures are invented. A path set to None is left out.
"""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from buildlog.analysis.car.version import Version
from buildlog.analysis.pulls.sheet import Sheet
from buildlog.analysis.pulls.sheet_work import sheet
from buildlog.records.car.configuration import Configuration
from buildlog.records.session import Session

CAR: dict[str, Any] = {
    "format": 1,
    "car": {"name": "Marrow Tern 2.6", "year": 1994, "power_source": "spark-ignition"},
    "chassis": {"mass": "1385 kg", "drag_area": "0.68 m^2", "driven_wheels": "rear"},
    "engine": {
        "layout": "inline",
        "cylinders": 6,
        "bore": "84.0 mm",
        "stroke": "78.0 mm",
        "compression_ratio": 9.2,
        "rev_limit": "6500 rpm",
        "rated_power": "125 kW",
    },
    "induction": {"kind": "naturally-aspirated"},
    "exhaust": {"pipe_diameter": "57 mm"},
    "fuel": {
        "kind": "gasoline",
        "ron": 96,
        "injectors": {"count": 6, "flow": "200 cc/min", "rated_pressure": "3.0 bar"},
        "pump": {"flow": "95 L/h", "at_pressure": "3.0 bar"},
    },
    "calibration": {"id": "T26-001", "author": "D-03"},
    "clutch": {"rated_torque": "280 N*m"},
    "gearbox": {"kind": "manual", "ratios": [3.3, 2.0, 1.3, 1.0, 0.8]},
    "final_drive": {"ratio": 3.7},
    "tyres": {"size": "205/55 R16", "pressure": "2.2 bar"},
    "work": [{"item": "respray", "note": "front wings"}],
}
SESSION: dict[str, Any] = {
    "format": 1,
    "date": dt.date(2026, 3, 14),
    "place": "Quarry Lane",
    "altitude": "120 m",
    "odometer": "88412 mi",
    "gear": 4,
    "standard_applied": "none",
    "tyre_pressure": "2.2 bar",
    "strapping": "two straps behind",
    "dyno": {"id": "R1", "kind": "inertia", "driven": "two rollers"},
    # The reference air of SAE J1349: 99 kPa dry, 25 degC; its factor is 1.
    "air": {"temperature": "25 degC", "pressure": "99 kPa", "humidity": "0 percent"},
    "column": [
        {"channel": "engine_speed", "name": "n", "unit": "rpm"},
        {"channel": "power", "name": "P", "unit": "kW"},
    ],
}


def changed(values: Mapping[str, Any], changes: Mapping[str, Any] | None) -> dict[str, Any]:
    """A copy of nested tables with dotted paths set; None takes the path out."""
    out = copy.deepcopy(dict(values))
    for path, value in (changes or {}).items():
        *tables, last = path.split(".")
        here = out
        for table in tables:
            here = here.setdefault(table, {})
        if value is None:
            here.pop(last, None)
        else:
            here[last] = value
    return out


def make_configuration(changes: Mapping[str, Any] | None = None) -> Configuration:
    """A whole invented car, with dotted paths changed."""
    return Configuration.model_validate(changed(CAR, changes))


def make_version(
    number: int = 1, configuration: Configuration | None = None, **facts: Any
) -> Version:
    """An entry: a day and ten miles after the one before unless `facts` say otherwise."""
    defaults: dict[str, Any] = {
        "number": number,
        "id": f"{number:040x}" if number else "",
        "kind": "build",
        "date": dt.date(2026, 1, 1) + dt.timedelta(days=number),
        "odometer": (88_000 + 10 * number) * 1609.344,
        "configuration": configuration or make_configuration(),
    }
    return Version(**(defaults | facts))


def power_shape(rpm: np.ndarray) -> np.ndarray:
    """A smooth full-load curve whose top, at 5,500 rpm, is 1."""
    x = rpm / 5500
    return np.asarray((x * np.exp(1 - x)) ** 2)


def pull_csv(
    peak: float,
    *,
    seed: int = 0,
    noise: float = 0.0005,
    rpm: tuple[float, float] = (2000, 6300),
    step: float = 10.0,
    shape: Callable[[np.ndarray], np.ndarray] = power_shape,
) -> bytes:
    """A raw file of one pull with a given top [W]; noise is relative."""
    n = np.arange(rpm[0], rpm[1] + step / 2, step)
    chance = np.random.default_rng(seed).standard_normal(n.size)
    power = peak * shape(n) * (1 + noise * chance) / 1000
    rows = [f"{a:g},{b:.4f}" for a, b in zip(n, power, strict=True)]
    return "\n".join(["n,P", *rows, ""]).encode()


def make_session(
    peaks: Sequence[float] = (100_000,),
    changes: Mapping[str, Any] | None = None,
    pulls: Sequence[Mapping[str, Any]] = (),
    **shape: Any,
) -> tuple[Session, dict[str, bytes]]:
    """A session of one pull per peak [W], and its raw files by name.

    `pulls` adds fields to each [[pull]]; `changes` sets dotted paths of the session.
    """
    files = {f"pull-{i}.csv": pull_csv(p, seed=i, **shape) for i, p in enumerate(peaks, 1)}
    extra = [*pulls, *[{}] * (len(files) - len(pulls))]
    values = changed(SESSION, changes)
    values["pull"] = [{"file": name, **own} for name, own in zip(files, extra, strict=True)]
    return Session.model_validate(values), files


def make_sheet(
    peaks: Sequence[float] = (100_000,),
    changes: Mapping[str, Any] | None = None,
    pulls: Sequence[Mapping[str, Any]] = (),
    *,
    name: str = "2026-03-14-visit",
    configuration: Configuration | None = None,
    standard: str = "SAE J1349",
    **shape: Any,
) -> Sheet:
    """The worked-out sheet of such a session."""
    session, files = make_session(peaks, changes, pulls, **shape)
    return sheet(name, session, files, configuration or make_configuration(), standard)
