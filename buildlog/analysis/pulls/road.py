"""Power from a log of the moving car: an estimate, labelled, with its own wider interval."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from buildlog.analysis.car.gearing import gearing
from buildlog.analysis.pulls.roller import Derived
from buildlog.errors import InvalidInput
from buildlog.physics.gases import air
from buildlog.physics.numerics.constants import G0
from buildlog.physics.traces import roadload
from buildlog.physics.traces.roadload import RoadLoad
from buildlog.records.checked_paths import session_field
from buildlog.records.configuration import Configuration
from buildlog.records.session import Road, Session

Floats = NDArray[np.float64]
_MASS = session_field("road.mass")

# Relative standard uncertainties (common practice, no source); grade is absolute.
U_MASS, U_ROTATING, U_MEASURED_LOAD, U_COMPUTED_LOAD, U_GRADE = 0.02, 0.2, 0.05, 0.15, 0.005
SEA_LEVEL_DENSITY = 1.2  # [kg/m^3] where the air is not given; enters drag only


class _Load(NamedTuple):
    load: RoadLoad
    u: float
    words: str


def road_power(
    session: Session,
    channels: Mapping[str, Floats],
    configuration: Configuration,
    gear: int | None,
    where: str,
) -> Derived | None:
    """Power at the tyres from speed over time; None where this is no road log.

    InvalidInput names what is missing: the mass, the road load, time or road speed.
    """
    if session.dyno is None or session.dyno.kind != "road":
        return None
    road = session.road or Road.blank()
    mass = road.mass or (configuration.chassis.mass if configuration.chassis else None)
    gone = [name for name in ("time", "road_speed") if name not in channels]
    gone += [_MASS] if mass is None else []
    if gone or mass is None:
        raise InvalidInput(
            f"power cannot be had from a road log: {', '.join(gone)} missing",
            where=where,
            hint='mass = "..." in [road]; time and road_speed in [[column]]',
        )
    load = _load(session, road, configuration, mass.si, where)
    rotating, words = _rotating(road, configuration, gear, mass.si)
    try:
        found = roadload.road_power(
            channels["time"], channels["road_speed"], mass.si, rotating, load.load,
            grade=road.grade.si if road.grade else 0.0,
            u_mass=U_MASS, u_rotating=U_ROTATING, u_road_load=load.u, u_grade=U_GRADE,
        )  # fmt: skip
    except ValueError as error:
        raise InvalidInput(str(error), where=where) from None
    good = np.isfinite(found.power) & (found.power > 0)
    if not good.any():
        raise InvalidInput("the car does not gain speed in this log", where=where)
    u = float(np.median(found.u[good] / found.power[good]))
    grade = "" if road.grade else "; grade taken as level (road.grade is missing)"
    parts = ", ".join(f"{name} {100 * share:.1f} %" for name, share in found.u_parts.items())
    note = (
        f"power is an estimate from a road log: {mass.text}, {words}, {load.words}{grade}; one "
        f"standard deviation {100 * u:.1f} % ({parts}; common practice)"
    )
    middle = float(np.nanmedian(found.speed))
    reach = float(np.nanmedian(np.abs(found.acceleration))) * found.smoothing
    return Derived(found.power, "road log (estimate)", (note,), u, reach / middle)


def _load(
    session: Session, road: Road, configuration: Configuration, mass: float, where: str
) -> _Load:
    """The road load declared from a coast-down, else worked out from drag area and rolling."""
    if road.a or road.b or road.c:
        a, b, c = (part.si if part else 0.0 for part in (road.a, road.b, road.c))
        return _Load(RoadLoad(a, b, c), U_MEASURED_LOAD, "declared road load")
    chassis = configuration.chassis
    rolling = chassis.rolling_coefficient if chassis else None
    area = chassis.drag_area if chassis else None
    if rolling is None or area is None:
        raise InvalidInput(
            "the road load is missing: neither road.a, b, c nor chassis.drag_area and "
            "rolling_coefficient are given",
            where=where,
            hint='a = "..." b = "..." c = "..." in [road], from a coast-down',
        )
    density = SEA_LEVEL_DENSITY
    given = session.air
    if given and given.pressure and given.temperature and given.humidity:
        density = air.moist_density(given.pressure.si, given.temperature.si, given.humidity.si)
    load = RoadLoad(rolling * mass * G0, 0.0, 0.5 * density * area.si)
    return _Load(load, U_COMPUTED_LOAD, "road load computed from drag area and rolling coefficient")


def _rotating(
    road: Road, configuration: Configuration, gear: int | None, mass: float
) -> tuple[float, str]:
    """Equivalent mass [kg] of what turns, and where it comes from."""
    if road.rotating_mass_factor is not None:
        factor = road.rotating_mass_factor
        return (factor - 1) * mass, f"rotating-mass factor {factor:g} declared"
    wheels = roadload.rotating_mass(mass)
    flywheel = configuration.flywheel.inertia if configuration.flywheel else None
    found = gearing(configuration, gear)
    if flywheel is None or found.ratio is None or found.circumference is None:
        return wheels, "wheels as 3 % of the mass, what turns with the engine not added"
    radius = found.circumference / (2 * math.pi)
    engine = roadload.driveline_mass(flywheel.si, found.ratio, radius)
    return wheels + engine, "wheels as 3 % of the mass, flywheel by its inertia"
