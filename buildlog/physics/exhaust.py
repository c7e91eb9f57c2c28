"""Back-pressure of an exhaust: scaled from a known one, or from the pipe itself."""

from __future__ import annotations

from math import log10, pi

from buildlog.physics.checks import above_zero, not_negative
from buildlog.physics.constants import ATM, R_AIR


def scaled(
    known_drop: float,
    known_flow: float,
    flow: float,
    resistance_ratio: float = 1.0,
) -> float:
    """Return the back-pressure at another mass flow, through another or the same exhaust.

    Formula: turbulent loss, dp2 = dp1 k (m2/m1)^2.
    Inputs: known_drop dp1 [Pa] at known_flow m1 [kg/s], flow m2 [kg/s], resistance_ratio k:
    loss of the new exhaust over the old at equal flow [-].
    Result: gauge pressure [Pa].
    Validity: gas temperature as before; catalysts flow partly laminar, see `catalyst_drop`,
    so that this overstates the growth where they dominate.
    Errors: ValueError unless both flows and k are above zero, or for a negative drop.
    Source: turbulent loss law (from memory).

    >>> round(scaled(24e3, 0.225, 0.33) / 1e3, 1)  # kPa
    51.6
    """
    not_negative(known_drop=known_drop, flow=flow)
    above_zero(known_flow=known_flow, resistance_ratio=resistance_ratio)
    return known_drop * resistance_ratio * (flow / known_flow) ** 2


def catalyst_drop(flow: float, linear: float, quadratic: float) -> float:
    """Return the loss of a catalyst, laminar channels and turbulent ends.

    Formula: dp = a m + b m^2.
    Inputs: flow m [kg/s], linear a [Pa*s/kg], quadratic b [Pa*s^2/kg^2]. Result: [Pa].
    Validity: one gas temperature. Errors: ValueError for negative input.
    Source: monolith channel flow (from memory).

    >>> catalyst_drop(0.2, 10e3, 50e3)
    4000.0
    """
    not_negative(flow=flow, linear_term=linear, quadratic_term=quadratic)
    return linear * flow + quadratic * flow**2


def viscosity(temperature: float) -> float:
    """Return the dynamic viscosity of hot air, which exhaust gas is close to.

    Formula: Sutherland, 1.458e-6 T^1.5/(T + 110.4).
    Inputs: temperature T [K]. Result: viscosity [Pa*s].
    Validity: 300 to 1200 K, where it is 0.4 to 5 % below CoolProp's air.
    Errors: ValueError unless T is above zero.
    Source: constants of the US Standard Atmosphere 1976 (from memory).

    >>> round(viscosity(300) * 1e6, 2)
    18.46
    """
    above_zero(temperature=temperature)
    result: float = 1.458e-6 * temperature**1.5 / (temperature + 110.4)
    return result


def density(pressure: float, temperature: float) -> float:
    """Return the density of exhaust gas, taken as air.

    Formula: p/(R T). Inputs: absolute pressure [Pa], temperature [K]. Result: [kg/m^3].
    Validity: the true gas constant is within 2 % of air's.
    Errors: ValueError unless both are above zero. Source: gas law.

    >>> round(density(110e3, 1000.0), 4)
    0.3832
    """
    above_zero(pressure=pressure, temperature=temperature)
    return pressure / (R_AIR * temperature)


def friction_factor(reynolds: float, relative_roughness: float) -> float:
    """Return the Darcy friction factor of a round pipe.

    Formula: Swamee-Jain, 0.25/log10(e/3.7 + 5.74/Re^0.9)^2; 64/Re when laminar.
    Inputs: Reynolds number [-], roughness over diameter [-]. Result: factor [-].
    Validity: Re 5000 to 1e7, roughness 1e-5 to 0.04: within 3.5 % of the implicit Colebrook
    formula. Between 2300 and 5000 it is only an order of magnitude.
    Errors: ValueError unless Re is above zero, or for a negative roughness.
    Source: Swamee & Jain (1976) (from memory), checked against the library `fluids`.

    >>> round(friction_factor(57_910, 0.046 / 63.5), 5)
    0.02285
    """
    above_zero(reynolds_number=reynolds)
    not_negative(relative_roughness=relative_roughness)
    if reynolds < 2300:
        return 64 / reynolds
    return 0.25 / log10(relative_roughness / 3.7 + 5.74 / reynolds**0.9) ** 2


def pipe_drop(
    flow: float,
    diameter: float,
    length: float,
    temperature: float,
    pressure: float = ATM,
    roughness: float = 46e-6,
    loss_coefficients: float = 0.0,
) -> float:
    """Return the pressure lost in an exhaust pipe and its fittings.

    Formula: Darcy, dp = (f L/D + sum K) rho V^2/2.
    Inputs: mass flow [kg/s], inner diameter D [m], length L [m], gas temperature [K],
    absolute pressure [Pa], roughness [m] (commercial steel), loss_coefficients: sum of K [-].
    Result: pressure loss [Pa].
    Validity: loss below a tenth of the pressure (5 % low over 3 m of the example, against
    compressible flow); pulsation is not modelled.
    Errors: ValueError unless flow, diameter, length, temperature and pressure are above zero.
    Source: Darcy-Weisbach, textbook.

    >>> round(pipe_drop(0.125, 0.0635, 1.0, 1000.0, 110e3))
    727
    """
    above_zero(flow=flow, diameter=diameter, length=length)
    not_negative(roughness=roughness, loss_coefficients=loss_coefficients)
    rho = density(pressure, temperature)
    velocity = 4 * flow / (pi * diameter**2 * rho)
    factor = friction_factor(
        rho * velocity * diameter / viscosity(temperature), roughness / diameter
    )
    return (factor * length / diameter + loss_coefficients) * rho * velocity**2 / 2
