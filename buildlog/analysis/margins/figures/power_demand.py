"""Power, torque and speed of the engine at full load, at the flywheel and at the wheels."""

from __future__ import annotations

from buildlog.analysis.margins.figures.demand_figure import (
    SESSION,
    DemandFigure,
    absent,
    derive,
    exact,
)
from buildlog.analysis.margins.figures.margin_car import MarginCar, once_a_car
from buildlog.physics.engines import crank
from buildlog.physics.numerics.band import Band
from buildlog.records.checked_paths import field

_RATED_SPEED = field("engine.rated_power_speed")
_LIMITERS = (field("calibration.rev_limit"), field("engine.rev_limit"))


@once_a_car
def run_power(car: MarginCar) -> DemandFigure:
    """The power that is known, at wheels or crank as the run says [W]."""
    run = car.subject.run
    return absent(SESSION) if run is None else _of_run(car, run.power)


def _of_run(car: MarginCar, known: Band) -> DemandFigure:
    """What the run gave, with what nitrous adds where it is taken to flow."""
    run, gain = car.subject.run, car.subject.gain
    assert run is not None
    figure = DemandFigure(known, run.basis, (run.source,))
    return figure if gain is None else derive(lambda value, by: value * by, figure, gain)


@once_a_car
def driveline_loss(car: MarginCar) -> DemandFigure:
    """Share of crank power that does not reach the wheels."""
    chassis, box = car.configuration.chassis, car.configuration.gearbox
    name = "driveline_loss"
    if chassis is not None and chassis.driven_wheels == "all":
        name = "driveline_loss_all_wheel"
    elif box is not None and box.kind == "automatic":
        name = "driveline_loss_automatic"
    return car.prior(name)


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
        known = _of_run(car, run.torque)
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
    """Engine speed at which the calibration cuts, else the maker's limit [rad/s]."""
    return car.given(*_LIMITERS)
