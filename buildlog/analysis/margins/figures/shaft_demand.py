"""Power, torque and speed at full load, from the flywheel through primary drive, gears and final
drive to the wheels, and what the tyres can pass to the road."""

from __future__ import annotations

from collections.abc import Callable
from math import pi

from buildlog.analysis.car.gearing import driven_tyres, loss_prior, primary_ratio, rolling
from buildlog.analysis.margins.figures.demand_figure import (
    SESSION,
    Z90,
    DemandFigure,
    Source,
    absent,
    derive,
    exact,
)
from buildlog.analysis.margins.figures.margin_car import MarginCar, once_a_car
from buildlog.physics.engines import crank
from buildlog.physics.numerics.band import Band
from buildlog.physics.parts import gear_train, traction
from buildlog.physics.parts.tyres import parse_size
from buildlog.records.checked_paths import field

_RATED_SPEED = field("engine.rated_power_speed")
_LIMITERS = (field("calibration.rev_limit"), field("engine.rev_limit"))


@once_a_car
def run_power(car: MarginCar) -> DemandFigure:
    """The power that is known, at wheels or crank as the run says [W]."""
    run = car.subject.run
    return absent(SESSION) if run is None else _of_run(car, run.power, run.source)


def _of_run(car: MarginCar, known: Band, source: Source) -> DemandFigure:
    """What the run gave, with what nitrous adds where it is taken to flow."""
    run, gain = car.subject.run, car.subject.gain
    assert run is not None
    figure = DemandFigure(known, run.basis, (source,))
    return figure if gain is None else derive(lambda value, by: value * by, figure, gain)


@once_a_car
def driveline_loss(car: MarginCar) -> DemandFigure:
    """Share of crank power that does not reach the wheels."""
    return car.prior(loss_prior(car.configuration))


@once_a_car
def crank_power(car: MarginCar) -> DemandFigure:
    """Power at the flywheel [W]."""
    known, run = run_power(car), car.subject.run
    return known if run is not None and run.at_crank else _at_crank(car, known)


@once_a_car
def wheel_power(car: MarginCar) -> DemandFigure:
    """Power at the tyres [W]."""
    known, run = run_power(car), car.subject.run
    if run is None or not run.at_crank:
        return known
    return derive(lambda crank, loss: crank * (1 - loss), known, driveline_loss(car))


@once_a_car
def crank_torque(car: MarginCar) -> DemandFigure:
    """The highest torque at the flywheel [N*m]."""
    run = car.subject.run
    if run is not None and run.torque is not None:
        known = _of_run(car, run.torque, run.torque_source or run.source)
        return known if run.at_crank else _at_crank(car, known)
    rise = car.prior("torque_rise")
    return derive(lambda p, w, r: crank.torque(p, w) * r, crank_power(car), peak_speed(car), rise)


def _at_crank(car: MarginCar, at_wheels: DemandFigure) -> DemandFigure:
    return derive(lambda wheel, loss: wheel / (1 - loss), at_wheels, driveline_loss(car))


@once_a_car
def peak_speed(car: MarginCar) -> DemandFigure:
    """Engine speed at the power peak [rad/s]."""
    run = car.subject.run
    if run is None:
        return absent(SESSION)
    return absent(_RATED_SPEED) if run.omega is None else exact(run.omega, "", run.basis)


@once_a_car
def limiter(car: MarginCar) -> DemandFigure:
    """Speed at which the calibration cuts engine or motor, else the maker's limit [rad/s]."""
    return car.given(*_LIMITERS) if car.combustion else car.given(*_MOTOR_LIMITERS)


_MOTOR_LIMITERS = (field("calibration.rev_limit"), field("motor.speed_limit"))
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
    if (box is None or not box.ratios) and car.combustion:
        return derive(formula, *figures, absent(_RATIOS))
    ratios = tuple(primary * r for r in (box.ratios if box and box.ratios else (1.0,)))
    return derive(lambda *values: formula(*values, ratios), *figures)


@once_a_car
def shaft_torque(car: MarginCar) -> DemandFigure:
    """Highest steady torque behind the gearbox [N*m], no more than the tyres let through; a limit
    by grip counts only where all that it hangs on is known."""
    torque = through_gears(
        car,
        lambda torque, ratios: gear_train.highest_output_torque(torque, ratios, 1.0),
        crank_torque(car),
    )
    grip = _torque_at_grip(car)
    known = grip.band is not None and torque.band is not None
    return derive(min, torque, grip) if known else torque


@once_a_car
def _torque_at_grip(car: MarginCar) -> DemandFigure:
    """What the tyres let the shaft see [N*m]; the load that moves in driving off must be known."""
    return derive(
        lambda force, final, radius, *_: traction.torque_at_grip(force, final, radius),
        grip_force(car), final_ratio(car), wheel_radius(car), *_transfer(car),
    )  # fmt: skip


def without_grip(car: MarginCar) -> str | None:
    """What is missing for a limit by grip, in words; None where there is one."""
    missing = _torque_at_grip(car).missing
    return f"not limited by what the tires pass: {missing[0]} is missing" if missing else None


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


_DRIVEN_WHEELS = field("chassis.driven_wheels")
_MASS = field("chassis.mass")
_DRIVEN_LOAD = field("chassis.driven_axle_load")
_AXLE_LOAD = {axle: field(f"chassis.{axle}_axle_load") for axle in ("front", "rear")}
_HEIGHT = field("chassis.centre_of_gravity_height")
_WHEELBASE = field("chassis.wheelbase")
_GRIP = field("chassis.grip_coefficient")


@once_a_car
def grip_force(car: MarginCar) -> DemandFigure:
    """Largest force of the driven tyres, with the load that driving off moves to the rear [N]."""
    driven = driven_wheels(car)
    if driven is None:
        return absent(_DRIVEN_WHEELS)
    whole = driven == "all"
    load = car.given(_MASS if whole else _DRIVEN_LOAD)
    if load.band is None and not whole:
        load = car.given(_AXLE_LOAD[driven])
    friction = car.given_or_prior(_GRIP, "tyre_friction")
    known = all(one.band is not None for one in _transfer(car))
    if whole or (driven == "rear" and not known):  # the load that moves to the rear only adds
        return derive(traction.grip_force, friction, load)
    sign = -1.0 if driven == "front" else 1.0
    return derive(
        lambda mu, mass, h, b: traction.grip_force(mu, mass, sign * h / b),
        friction, load, *_transfer(car),
    )  # fmt: skip


def _transfer(car: MarginCar) -> tuple[DemandFigure, ...]:
    """What moves load from axle to axle: height of the centre of gravity and wheelbase [m]; with
    all wheels driven none leaves the driven ones."""
    return () if driven_wheels(car) == "all" else (car.given(_HEIGHT), car.given(_WHEELBASE))
