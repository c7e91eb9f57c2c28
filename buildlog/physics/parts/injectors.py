"""Fuel demand of an engine and what its injectors pass."""

from __future__ import annotations

from math import sqrt

from buildlog.physics.gases.fuels import FUELS
from buildlog.physics.numerics.arguments import above_zero, not_negative


def differential_pressure(system_gauge: float, manifold_gauge: float, referenced: bool) -> float:
    """Return the pressure that drives fuel through an injector, rail minus manifold.

    Formula: a regulator with a manifold reference holds the difference at its setting; one
    without holds the rail at its setting above ambient, so that boost eats into it.
    Inputs: system_gauge: regulator setting [Pa]; manifold_gauge: boost, negative for vacuum
    [Pa]; referenced: whether the regulator feels the manifold.
    Result: differential pressure [Pa], negative once boost exceeds an unreferenced rail.
    Validity: a pump that holds the rail at its setting; see pump.py.
    Errors: ValueError unless the setting is above zero.
    Source: definition.

    >>> differential_pressure(300e3, 50e3, referenced=False)
    250000.0
    """
    above_zero(system_pressure=system_gauge)
    return system_gauge if referenced else system_gauge - manifold_gauge


def flow_at_pressure(rated_flow: float, rated_pressure: float, differential: float) -> float:
    """Return an injector's flow at another pressure than the one it is rated at.

    Formula: q2 = q1 sqrt(dp2/dp1); zero where nothing drives the fuel.
    Inputs: rated_flow [m^3/s or kg/s], rated_pressure [Pa] (a difference), differential [Pa].
    Result: flow at full opening, in the unit of rated_flow.
    Validity: about half to twice the rated pressure; opening and closing times also change
    with pressure and are not modelled.
    Errors: ValueError unless rated flow and pressure are above zero.
    Source: orifice law (Bernoulli); several trade pages state it (opened).

    >>> round(flow_at_pressure(24.0, 39.15, 55.0), 3)  # lb/h at psi
    28.446
    """
    above_zero(rated_flow=rated_flow, rated_pressure=rated_pressure)
    return rated_flow * sqrt(max(0.0, differential) / rated_pressure)


def mass_flow(
    rated_volume_flow: float,
    rated_pressure: float,
    differential: float,
    density: float,
    rated_density: float = FUELS["gasoline"].density,
) -> float:
    """Return the mass of fuel that one fully open injector passes.

    Formula: m = q rho_r sqrt(rho/rho_r) sqrt(dp/dp_r): an orifice passes the square root of
    density times pressure.
    Inputs: rated_volume_flow q [m^3/s], rated_pressure and differential [Pa], density of the
    fuel and of the fluid it was rated with [kg/m^3].
    Result: mass flow [kg/s].
    Validity: as flow_at_pressure; viscosity is not modelled. Injectors are often rated with
    a test fluid near 0.77 kg/L: 2 % between that and gasoline.
    Errors: ValueError unless both densities, rated flow and pressure are above zero.
    Source: orifice law (Bernoulli).

    >>> round(mass_flow(310e-6 / 60, 300e3, 300e3, 744.8, 744.8) * 3600, 2)  # kg/h
    13.85
    """
    above_zero(density=density, rated_density=rated_density)
    volume = flow_at_pressure(rated_volume_flow, rated_pressure, differential)
    return volume * sqrt(density * rated_density)


def fuel_demand(crank_power: float, bsfc: float) -> float:
    """Return the fuel that a power needs.

    Formula: m = P bsfc.
    Inputs: crank_power P [W], brake specific fuel consumption bsfc [kg/J].
    Result: fuel mass flow [kg/s].
    Validity: full load at the mixture the bsfc belongs to.
    Errors: ValueError unless bsfc is above zero, or for a negative power.
    Source: definition.

    >>> round(fuel_demand(100e3, 300e-3 / 3.6e6) * 3600, 6)  # 300 g/kWh
    30.0
    """
    above_zero(bsfc=bsfc)
    not_negative(crank_power=crank_power)
    return crank_power * bsfc


def specific_consumption(brake_efficiency: float, heating_value: float) -> float:
    """Return the brake specific fuel consumption from an efficiency.

    Formula: bsfc = 1/(eta LHV), so that one efficiency serves gasoline and its blends.
    Inputs: brake_efficiency eta [-], heating_value LHV of the fuel [J/kg].
    Result: bsfc [kg/J].
    Validity: equal efficiency at equal lambda: 1.48 times the mass on 85 % ethanol. Trade
    figures for engines that run E85 leaner in lambda give about 1.42.
    Errors: ValueError unless both are above zero.
    Source: definition.

    >>> bsfc = specific_consumption(0.2725, FUELS["gasoline"].lower_heating_value)
    >>> round(bsfc * 3.6e9)  # g/kWh; 0.50 lb/(hp h) is 304
    304
    """
    above_zero(brake_efficiency=brake_efficiency, heating_value=heating_value)
    return 1 / (brake_efficiency * heating_value)
