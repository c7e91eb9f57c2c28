"""Heat that coolant and charge cooler must carry away."""

from __future__ import annotations

from buildlog.physics.numerics.arguments import above_zero, not_negative
from buildlog.physics.numerics.constants import CP_AIR


def to_coolant(fuel_flow: float, heating_value: float, share: float) -> float:
    """Return the heat that goes into the coolant.

    Formula: Q = m LHV s.
    Inputs: fuel_flow m [kg/s], heating_value LHV [J/kg], share s of the fuel's energy [-].
    Result: heat flow [W].
    Validity: steady full load; a road car seldom holds it long enough to reach balance.
    Errors: ValueError unless the heating value is above zero and the share 0 to 1.
    Source: energy balance; the share (about 0.17 to 0.26 at full power, Heywood, Internal
    Combustion Engine Fundamentals, table 12.1; from memory).

    >>> round(to_coolant(0.015, 43.4e6, 0.22) / 1e3)  # kW
    143
    """
    not_negative(fuel_flow=fuel_flow)
    above_zero(heating_value=heating_value)
    if not 0 <= share <= 1:
        raise ValueError(f"the share of heat to the coolant must be 0 to 1, not {share}.")
    return fuel_flow * heating_value * share


def from_charge(air_flow: float, temperature_in: float, temperature_out: float) -> float:
    """Return the heat that a charge cooler takes out of the charge.

    Formula: Q = m cp (T2 - T3).
    Inputs: air_flow m [kg/s], temperature before and after the cooler [K].
    Result: heat flow [W], zero where a warm cooler would heat a cold charge.
    Validity: dry air. Errors: ValueError for a negative flow or a temperature not above zero.
    Source: first law.

    >>> round(from_charge(0.30, 356.65, 322.75) / 1e3, 2)
    10.22
    """
    not_negative(air_flow=air_flow)
    above_zero(temperature_in=temperature_in, temperature_out=temperature_out)
    return air_flow * CP_AIR * max(0.0, temperature_in - temperature_out)
