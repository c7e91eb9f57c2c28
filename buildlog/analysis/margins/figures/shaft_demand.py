"""Torque and speed behind the crankshaft: primary drive, gears, final drive, wheels."""

from __future__ import annotations

from collections.abc import Callable
from math import pi

from buildlog.analysis.car.gearing import driven_tyres, primary_ratio, rolling
from buildlog.analysis.margins.figures.demand_figure import (
    Z90,
    DemandFigure,
    Source,
    absent,
    derive,
)
from buildlog.analysis.margins.figures.margin_car import MarginCar, once_a_car
from buildlog.analysis.margins.figures.power_demand import crank_torque, limiter
from buildlog.physics.numerics.band import Band
from buildlog.physics.parts import gear_train
from buildlog.physics.parts.tyres import parse_size
from buildlog.records.checked_paths import field

_RATIOS = field("gearbox.ratios")
_PRIMARY = field("gearbox.primary_ratio")
_FINAL = field("final_drive.ratio")
_AXLE_FINAL = {axle: field(f"final_drive.{axle}.ratio") for axle in ("front", "rear")}
_SIZE = field("tyres.size")
_SPEED_LIMIT = field("calibration.speed_limit")


def driven_wheels(car: MarginCar) -> str | None:
    """rear, front or all; None where it is not stated."""
    chassis = car.configuration.chassis
    return chassis.driven_wheels if chassis is not None else None


def driven_axle(car: MarginCar) -> str:
    """The axle whose final drive counts; the rear one unless the front wheels alone drive."""
    return "front" if driven_wheels(car) == "front" else "rear"


def has_driveshaft(car: MarginCar) -> bool:
    """Whether a shaft runs from the gearbox to an axle; stated, or not driven in front alone."""
    stated = car.configuration.driveshaft is not None
    return car.combustion and (stated or driven_wheels(car) != "front")


def behind_primary(car: MarginCar, torque: DemandFigure) -> DemandFigure:
    """What clutch and gearbox see: more than the crank gives where a primary drive reduces."""
    primary = car.given(_PRIMARY)
    return torque if primary.band is None else derive(lambda t, r: t * r, torque, primary)


def through_gears(
    car: MarginCar, formula: Callable[..., float], *figures: DemandFigure
) -> DemandFigure:
    """A formula that takes as its last argument the turns of the crankshaft for one behind the
    gearbox, gear by gear."""
    box, primary = car.configuration.gearbox, primary_ratio(car.configuration)
    if box is None or not box.ratios:
        return derive(formula, *figures, absent(_RATIOS))
    ratios = tuple(primary * r for r in box.ratios)
    return derive(lambda *values: formula(*values, ratios), *figures)


@once_a_car
def shaft_torque(car: MarginCar) -> DemandFigure:
    """Highest steady torque behind the gearbox [N*m]."""
    return through_gears(
        car,
        lambda torque, ratios: gear_train.highest_output_torque(torque, ratios, 1.0),
        crank_torque(car),
    )


@once_a_car
def final_ratio(car: MarginCar) -> DemandFigure:
    """Turns of the shaft for one of the driven wheels."""
    own = car.given(_AXLE_FINAL[driven_axle(car)])
    return own if own.band is not None else car.given(_FINAL)


@once_a_car
def circumference(car: MarginCar) -> DemandFigure:
    """What a driven wheel rolls in one turn [m]."""
    value, u, basis = rolling(car.configuration)
    if value is None:
        return _no_size(car)
    words = Source(f"rolling circumference by {basis}")
    return DemandFigure(Band.around(value, Z90 * u), "computed", (words,), paths=(_SIZE,))


def _no_size(car: MarginCar) -> DemandFigure:
    """Why nothing follows from the size: it is not given, or no tyre has it."""
    tyres = driven_tyres(car.configuration)
    if tyres is None or tyres.size is None:
        return absent(_SIZE)
    size = str(tyres.size)
    stated = DemandFigure(Band.exact(1.0), "declared", paths=(_SIZE,))
    return derive(lambda _: parse_size(size).rim, stated)


def wheel_radius(car: MarginCar) -> DemandFigure:
    """Rolling radius of a driven wheel [m]."""
    return derive(lambda round_: round_ / (2 * pi), circumference(car))


@once_a_car
def road_speed(car: MarginCar) -> DemandFigure:
    """Road speed at the limiter in the fastest gear, no more than the calibration allows [m/s]."""
    by_gear = through_gears(
        car,
        lambda omega, final, circumference, ratios: gear_train.fastest_at_limiter(
            omega, ratios, final, circumference
        ),
        limiter(car), final_ratio(car), circumference(car),
    )  # fmt: skip
    cut = car.given(_SPEED_LIMIT)
    if cut.band is None or (by_gear.band is not None and by_gear.band.p50 < cut.band.p50):
        return by_gear
    return cut
