"""Power from the roller trace of an inertia dyno, where the file holds no power."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildlog.errors import InvalidInput
from buildlog.physics.traces import inertia
from buildlog.physics.traces.roadload import RoadLoad
from buildlog.records.checked_paths import session_field
from buildlog.records.session import Dyno, Session

Floats = NDArray[np.float64]
_DRUM_INERTIA = session_field("dyno.drum_inertia")


@dataclass(frozen=True)
class Derived:
    """Power worked out from a course of speed: arrays (n,) in SI.

    `u` is the relative standard uncertainty common to the whole curve, `smoothing` the
    width of the regression as a share of the speed it stands at (median of the pull).
    """

    power: Floats
    source: str
    notes: tuple[str, ...]
    u: float = 0.0
    smoothing: float | None = None


def roller_omega(session: Session, values: Floats, unit: str) -> Floats | None:
    """The roller's angular speed [rad/s] from its channel; None without a circumference."""
    if unit in {"rpm", "rad/s"}:
        return values
    radius = roller_radius(session.dyno)
    return None if radius is None else values / radius


def roller_radius(dyno: Dyno | None) -> float | None:
    """Radius [m] of the roller."""
    round_ = dyno.roller_circumference if dyno else None
    return round_.si / (2 * math.pi) if round_ else None


def trace_power(
    session: Session, channels: Mapping[str, Floats], unit: str, where: str
) -> Derived | None:
    """Power from roller speed and time; None where this is no inertia dyno's trace.

    InvalidInput names the datum of the machine that is missing.
    """
    dyno = session.dyno
    if "roller_speed" not in channels or dyno is None or dyno.kind != "inertia":
        return None
    if "time" not in channels or dyno.drum_inertia is None:
        gone = "time" if "time" not in channels else _DRUM_INERTIA
        raise InvalidInput(
            f"power cannot be worked out from the roller's speed: {gone} is missing",
            where=where,
            hint='--drum-inertia "... kg*m^2" (in session.toml: drum_inertia in [dyno])'
            if gone != "time"
            else "name its column: --map time=COLUMN:s",
        )
    omega = roller_omega(session, channels["roller_speed"], unit)
    if omega is None:
        raise InvalidInput(
            "the roller's speed is given at its surface, and its circumference is missing",
            where=where,
            hint='--roller-circumference "... m" (in session.toml: roller_circumference in [dyno])',
        )
    loss, notes = _loss(dyno, where)
    share = dyno.wheels_share.si if dyno.wheels_share else 0.0
    if dyno.wheels_share is None:
        notes.append(
            "the car's own wheels are not in the inertia (dyno.wheels_share is missing): power "
            "reads some 2 % low (worked figure)"
        )
    try:
        found = inertia.roller_power(
            channels["time"], omega, dyno.drum_inertia.si, loss=loss, wheels_share=share
        )
    except ValueError as error:
        raise InvalidInput(str(error), where=where) from None
    middle = float(np.nanmedian(found.omega))
    words = f"roller's speed, drum inertia {dyno.drum_inertia.text}"
    return Derived(
        found.power, words, tuple(notes), smoothing=found.smoothing[1] / middle if middle else None
    )


def _loss(dyno: Dyno, where: str) -> tuple[RoadLoad | None, list[str]]:
    """The machine's own drag as torque over the roller's angular speed, and what is missing."""
    declared = (dyno.parasitic_a, dyno.parasitic_b, dyno.parasitic_c)
    if not any(declared):
        return None, [
            "the machine's own drag is not declared (dyno.parasitic_a, _b, _c): it is not added, "
            "so power reads low"
        ]
    radius = roller_radius(dyno)
    if radius is None:
        raise InvalidInput(
            "the machine's drag is declared at the roller's surface, and its circumference is "
            "missing",
            where=where,
            hint='--roller-circumference "... m" (in session.toml: roller_circumference in [dyno])',
        )
    a, b, c = (part.si if part else 0.0 for part in declared)
    return RoadLoad(a * radius, b * radius**2, c * radius**3), []
