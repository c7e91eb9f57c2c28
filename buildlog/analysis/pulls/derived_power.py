"""Power from a course of speed: of the roller of an inertia dyno, or of the moving car, where it is
an estimate, labelled, with its own wider interval."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from buildlog.analysis.car.gearing import gearing
from buildlog.errors import InvalidInput
from buildlog.physics.gases import air
from buildlog.physics.numerics.constants import G0
from buildlog.physics.numerics.middle import median
from buildlog.physics.traces import inertia, roadload
from buildlog.physics.traces.roadload import RoadLoad
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import session_field
from buildlog.records.session import Dyno, Road, Session

Floats = NDArray[np.float64]
_DRUM_INERTIA = session_field("dyno.drum_inertia")


@dataclass(frozen=True)
class Derived:
    """Power worked out from a course of speed: arrays (n,) in SI.

    `u` is the relative standard uncertainty common to the whole curve, `smoothing` the
    width of the regression as a share of the speed it stands at (median of the pull). `noise` is
    what the noise of the roller's speed makes of one pull's power, relative (median of the pull).
    """

    power: Floats
    source: str
    notes: tuple[str, ...]
    u: float = 0.0
    smoothing: float | None = None
    noise: float = 0.0


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


def trace_power(session: Session, channels: Mapping[str, Floats], unit: str) -> Derived | None:
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
            hint='--drum-inertia "... kg*m^2" (in session.toml: drum_inertia in [dyno])'
            if gone != "time"
            else "name its column: --map time=COLUMN:s",
        )
    omega = roller_omega(session, channels["roller_speed"], unit)
    if omega is None:
        raise InvalidInput(
            "the roller's speed is given at its surface, and its circumference is missing",
            hint='--roller-circumference "... m" (in session.toml: roller_circumference in [dyno])',
        )
    loss, notes = _loss(dyno)
    share = dyno.wheels_share.si if dyno.wheels_share else 0.0
    if dyno.wheels_share is None:
        notes.append(
            "the car's own wheels are not in the inertia (dyno.wheels_share is missing): power "
            "reads some 2 % low (worked figure)"
        )
    found = inertia.roller_power(
        channels["time"], omega, dyno.drum_inertia.si, loss=loss, wheels_share=share
    )
    middle = float(np.nanmedian(found.omega))
    words = f"roller's speed, drum inertia {dyno.drum_inertia.text}"
    good = found.power > 0
    share = median(found.u_noise[good] / found.power[good]) if good.any() else 0.0
    smoothing = found.smoothing[1] / middle if middle else None
    return Derived(found.power, words, tuple(notes), smoothing=smoothing, noise=share)


def _loss(dyno: Dyno) -> tuple[RoadLoad | None, list[str]]:
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
            hint='--roller-circumference "... m" (in session.toml: roller_circumference in [dyno])',
        )
    a, b, c = (part.si if part else 0.0 for part in declared)
    return RoadLoad(a * radius, b * radius**2, c * radius**3), []


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
            hint='mass = "..." in [road]; time and road_speed in [[column]]',
        )
    load = _load(session, road, configuration, mass.si)
    rotating, words = _rotating(road, configuration, gear, mass.si)
    found = roadload.road_power(
        channels["time"], channels["road_speed"], mass.si, rotating, load.load,
        grade=road.grade.si if road.grade else 0.0,
        u_mass=U_MASS, u_rotating=U_ROTATING, u_road_load=load.u, u_grade=U_GRADE,
    )  # fmt: skip
    good = np.isfinite(found.power) & (found.power > 0)
    if not good.any():
        raise InvalidInput("the car does not gain speed in this log")
    u = median(found.u[good] / found.power[good])
    grade = "" if road.grade else "; grade taken as level (road.grade is missing)"
    parts = ", ".join(f"{name} {100 * share:.1f} %" for name, share in found.u_parts.items())
    note = (
        f"power is an estimate from a road log: {mass.text}, {words}, {load.words}{grade}; one "
        f"standard deviation {100 * u:.1f} % ({parts}; common practice)"
    )
    middle = float(np.nanmedian(found.speed))
    reach = float(np.nanmedian(np.abs(found.acceleration))) * found.smoothing
    return Derived(found.power, "road log (estimate)", (note,), u, reach / middle)


def _load(session: Session, road: Road, configuration: Configuration, mass: float) -> _Load:
    """The road load declared from a coast-down, else worked out from drag area and rolling."""
    chassis = configuration.chassis
    own = (chassis.road_load_a, chassis.road_load_b, chassis.road_load_c) if chassis else ()
    for parts, words in (
        ((road.a, road.b, road.c), "declared road load"),
        (own, "the road load of car.toml"),
    ):
        if any(parts):
            a, b, c = (part.si if part else 0.0 for part in parts)
            return _Load(RoadLoad(a, b, c), U_MEASURED_LOAD, words)
    rolling = chassis.rolling_coefficient if chassis else None
    area = chassis.drag_area if chassis else None
    if rolling is None or area is None:
        raise InvalidInput(
            "the road load is missing: neither road.a, b, c nor chassis.road_load_a, b, c, nor "
            "chassis.drag_area and rolling_coefficient are given",
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
