"""Fuel and air at full load: what is in the tank, how rich, how much of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent, derive, exact
from buildlog.analysis.margins.figures.margin_car import MarginCar, once_a_car
from buildlog.analysis.margins.figures.shaft_demand import crank_power
from buildlog.physics.gases import fuels
from buildlog.physics.gases.fuels import FUELS, FuelProperties
from buildlog.physics.parts import injectors
from buildlog.records.checked_paths import field

_KIND = field("fuel.kind")
_ETHANOL = field("fuel.ethanol_content")
_LAMBDA = field("calibration.lambda_full_load")
_USUAL_LAMBDA = {True: "lambda_boosted", False: "lambda_unboosted"}


@once_a_car
def tank(car: MarginCar) -> tuple[FuelProperties | None, DemandFigure]:
    """The fuel at the highest ethanol content allowed; a missing figure where it is unknown."""
    stated = car.configuration.fuel
    if stated is None or stated.kind is None:
        return None, absent(_KIND)
    if stated.kind == "methanol":
        return FUELS["methanol"], exact(1.0)
    allowed = [*(stated.ethanol_range or ()), stated.ethanol_content]
    highest = max((x for x in allowed if x is not None), key=lambda x: x.si, default=None)
    if stated.kind == "ethanol" and highest is None:
        return FUELS["ethanol"], exact(1.0)
    if stated.kind not in ("gasoline", "ethanol-blend", "ethanol"):
        return None, absent(_KIND)
    if highest is None:
        return None, absent(_ETHANOL)
    return fuels.blend(highest.si), exact(highest.si)


def of_tank(car: MarginCar, quality: Callable[[FuelProperties], float]) -> DemandFigure:
    """A property of the fuel in the tank; missing where the fuel is."""
    liquid, known = tank(car)
    return derive(lambda _: quality(liquid) if liquid else 1.0, known)


@once_a_car
def full_load_lambda(car: MarginCar) -> DemandFigure:
    """Full-load lambda at the power peak: logged, else aimed at, else missing [-]."""
    run = car.subject.run
    if run is not None and run.mixture is not None:
        return run.mixture
    return car.given(_LAMBDA)


@once_a_car
def brake_efficiency(car: MarginCar) -> DemandFigure:
    """Share of the fuel's energy that reaches the flywheel [-].

    The typical value belongs to the usual full-load mixture; where the car's own is known
    the surplus fuel of a richer one is counted, since the power hardly changes.
    """
    usual = car.prior("brake_efficiency_boosted" if car.boosted else "brake_efficiency_unboosted")
    if full_load_lambda(car).band is None:
        return usual
    reference = car.subject.priors[_USUAL_LAMBDA[car.boosted]].quantile(0.5)
    return derive(
        lambda eta, lam: eta * min(lam, 1.0) / reference, usual, full_load_lambda(car)
    )  # fmt: skip


@once_a_car
def fuel_flow(car: MarginCar) -> DemandFigure:
    """Fuel at full load [kg/s]."""
    heating = of_tank(car, lambda fuel: fuel.lower_heating_value)
    return derive(
        lambda power, eta, heating: injectors.fuel_demand(
            power, injectors.specific_consumption(eta, heating)
        ),
        crank_power(car), brake_efficiency(car), heating,
    )  # fmt: skip


@once_a_car
def injected_flow(car: MarginCar) -> DemandFigure:
    """Fuel that goes through the injectors [kg/s]; a wet nitrous kit brings its own."""
    if car.subject.injected_gain is None:
        return fuel_flow(car)
    return fuel_flow(MarginCar(replace(car.subject, gain=None)))


@once_a_car
def air_flow(car: MarginCar) -> DemandFigure:
    """Air at full load [kg/s], from the fuel and lambda."""
    lam = full_load_lambda(car)
    if lam.band is None:
        lam = car.prior(_USUAL_LAMBDA[car.boosted])
    ratio = of_tank(car, lambda fuel: fuel.stoichiometric_ratio)
    return derive(lambda m, x, ratio: m * x * ratio, fuel_flow(car), lam, ratio)
