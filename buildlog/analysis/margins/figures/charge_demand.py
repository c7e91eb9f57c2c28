"""Pressure and temperature of the charge at full load from the boost that is held, and what the
compressor's belt carries for it."""

from __future__ import annotations

from dataclasses import replace

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive, exact
from buildlog.analysis.margins.figures.fuel_demand import air_flow
from buildlog.analysis.margins.figures.margin_car import MarginCar, once_a_car
from buildlog.physics.gases import charge
from buildlog.physics.numerics.constants import ATM
from buildlog.physics.parts import belt
from buildlog.records.checked_paths import field

_TARGET = field("induction.boost.target_gauge")
_EFFICIENCY = field("induction.compressor.efficiency")
_EFFECTIVENESS = field("induction.charge_cooler.effectiveness")
_PRESSURE_DROP = field("induction.charge_cooler.pressure_drop")


@once_a_car
def boost(car: MarginCar) -> DemandFigure:
    """Boost at full load [Pa gauge]; zero without a compressor."""
    if not car.boosted:
        return exact(0.0)
    run = car.subject.run
    if run is not None and run.boost is not None:
        return run.boost
    delivered = car.prior("boost_delivery" if car.driven else "boost_control")
    held = derive(lambda boost, share: boost * share, car.given(_TARGET), delivered)
    return replace(held, basis="declared") if held.band is not None else held


def inlet(car: MarginCar) -> DemandFigure:
    """Temperature of the air before the compressor [K]."""
    return car.prior("inlet_air")


@once_a_car
def manifold(car: MarginCar) -> DemandFigure:
    """Absolute manifold pressure at full load, at sea level [Pa]."""
    return derive(lambda boost: ATM + boost, boost(car))


@once_a_car
def compressor_efficiency(car: MarginCar) -> DemandFigure:
    """Adiabatic efficiency of the compressor [-]."""
    kind = car.compressor or "turbocharger"
    return car.given_or_prior(_EFFICIENCY, f"{kind.replace('-', '_')}_efficiency")


@once_a_car
def pressure_ratio(car: MarginCar) -> DemandFigure:
    """Pressure ratio across the compressor [-], loss of the cooler included."""
    drop: DemandFigure | float = 0.0
    if car.cooled:
        drop = car.given_or_prior(_PRESSURE_DROP, "cooler_pressure_drop")
    return derive(lambda p, lost: (p + lost) / ATM, manifold(car), drop)


def cooler_effectiveness(car: MarginCar) -> DemandFigure:
    """Temperature drop of the charge in the cooler over the most it could drop [-]."""
    return car.given_or_prior(_EFFECTIVENESS, "cooler_effectiveness")


def coolant_rise(car: MarginCar) -> DemandFigure:
    """How much warmer than the day's air what cools the charge is [K]."""
    return car.prior("cooler_coolant_rise")


@once_a_car
def charge_temperature(car: MarginCar) -> DemandFigure:
    """Temperature of the charge behind the cooler, or behind the compressor without one [K]."""
    sides = inlet(car), pressure_ratio(car), compressor_efficiency(car)
    if not car.cooled:
        return derive(charge.compressor_temperature, *sides)
    # One formula from the inlet on: hot and coolant share the inlet's spread.
    return derive(_cooled, *sides, cooler_effectiveness(car), coolant_rise(car))


def _cooled(inlet: float, ratio: float, efficiency: float, effect: float, rise: float) -> float:
    hot = charge.compressor_temperature(inlet, ratio, efficiency)
    return charge.cooled_temperature(hot, effect, inlet + rise)


_PULLEY = field("induction.compressor.crank_pulley_diameter")


def belt_speed(car: MarginCar, omega: DemandFigure) -> DemandFigure:
    """Speed of the belt at an engine speed [m/s]."""
    return derive(belt.belt_speed, omega, car.given(_PULLEY))


@once_a_car
def compressor_power(car: MarginCar) -> DemandFigure:
    """Power that the belt brings to the compressor at full load [W]."""
    return derive(
        lambda air, inlet, ratio, eta, drive: charge.compressor_power(
            air, inlet, charge.compressor_temperature(inlet, ratio, eta), drive
        ),
        air_flow(car), inlet(car), pressure_ratio(car), compressor_efficiency(car),
        car.prior("blower_drive_efficiency"),
    )  # fmt: skip
