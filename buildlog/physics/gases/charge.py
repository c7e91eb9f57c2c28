"""The charge between the air filter and the cylinder: compressors, coolers, drives.

Pressures are absolute unless a name says gauge. Scalar calls need no numpy, except in the
two functions that cap a value elementwise and in the matching of a blower to an engine.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from itertools import pairwise
from math import pi
from typing import cast

from buildlog.physics.numerics.constants import CP_AIR, GAMMA_AIR, R_AIR, Real

ISENTROPIC = (GAMMA_AIR - 1) / GAMMA_AIR
"""[-] exponent of pressure in the isentropic temperature ratio of air, 0.2857."""

VOLUMETRIC_SLOPE = 0.08
"""[-] loss of a positive-displacement blower's delivery per unit of pressure ratio.

A linear stand-in, common practice, no source: 0.85 to 0.95 is delivered at 7 psi.
"""

_MATCHING_STEPS = 12


def compressor_temperature(inlet: Real, pressure_ratio: Real, efficiency: Real) -> Real:
    """Return the temperature of the air that leaves a compressor.

    Formula: T2 = T1 [1 + (PR^((gamma-1)/gamma) - 1) / eta].
    Inputs: inlet temperature T1 [K], pressure ratio across the compressor PR [-] (absolute
    over absolute), adiabatic efficiency eta [-]; scalars, or arrays that broadcast.
    Result: outlet temperature T2 [K].
    Validity: PR 1 to 3 (real air is 0.5 K warmer at PR 2, 1.6 K at PR 3: CoolProp, computed).
    Errors: none for arrays; ZeroDivisionError for a scalar efficiency of zero.
    Source: NASA Glenn, Compressor Thermodynamics (opened); Heywood eq. 6.40 (from memory).

    >>> round(compressor_temperature(298.15, 1.47632, 0.60) - 273.15, 1)
    83.5
    """
    result: Real = inlet * (1 + (pressure_ratio**ISENTROPIC - 1) / efficiency)
    return result


def cooled_temperature(hot: Real, effectiveness: Real, coolant: Real) -> Real:
    """Return the temperature of the charge behind a charge cooler.

    Formula: T3 = T2 - eps (T2 - Tc).
    Inputs: temperature before the cooler T2 [K], effectiveness eps [-], temperature of the
    cooling air or water that enters the cooler Tc [K].
    Result: temperature T3 [K]. Validity: 0 <= eps <= 1. Errors: none.
    Source: definition of effectiveness; Heywood section 6.8 (from memory).

    >>> round(cooled_temperature(356.65, 0.70, 308.15) - 273.15, 1)
    49.6
    """
    return hot - effectiveness * (hot - coolant)


def compressor_power(flow: Real, inlet: Real, outlet: Real, mechanical: Real) -> Real:
    """Return the power that drives a compressor.

    Formula: P = m cp (T2 - T1) / eta_m.
    Inputs: air mass flow m [kg/s], temperatures T1 and T2 [K], mechanical efficiency of the
    drive eta_m [-]. Result: power at the crankshaft [W].
    Validity: no heat lost by the casing. Errors: none.
    Source: first law of thermodynamics.

    >>> round(compressor_power(0.30, 298.15, 356.65, 1.0) / 1e3, 2)
    17.64
    """
    return flow * CP_AIR * (outlet - inlet) / mechanical


def air_flow(
    volumetric_efficiency: Real,
    pressure: Real,
    temperature: Real,
    displacement: float,
    omega: Real,
) -> Real:
    """Return the air mass flow of a four-stroke engine by speed and density.

    Formula: m = eta_v p / (R T) V omega / (4 pi).
    Inputs: volumetric efficiency referred to the manifold eta_v [-], manifold pressure p
    [Pa] and temperature T [K], swept volume V [m^3], engine speed omega [rad/s].
    Result: air mass flow [kg/s]. Validity: four-stroke, dry air. Errors: none for arrays.
    Source: Heywood eq. 2.27 (from memory).

    >>> from math import pi
    >>> round(air_flow(0.90, 150e3, 325.0, 2.593548e-3, 5500 * pi / 30), 6)
    0.172016
    """
    return (
        volumetric_efficiency * pressure / (R_AIR * temperature) * displacement * omega / (4 * pi)
    )


def corrected_flow(flow: Real, temperature: float, pressure: float) -> Real:
    """Return the flow of a compressor as its map shows it.

    Formula: m sqrt(T/298.15 K)/(p/100 kPa).
    Inputs: mass flow m [kg/s], temperature T [K] and absolute pressure p [Pa] before the
    compressor. Result: corrected mass flow [kg/s].
    Validity: air; a map drawn for other reference air moves by a few per cent.
    Errors: none. Source: similarity of compressors, Watson and Janota, Turbocharging the
    Internal Combustion Engine (from memory); reference air of SAE J1826 (from memory).

    >>> round(corrected_flow(0.10, 308.15, 80e3), 4)
    0.1271
    """
    result: Real = flow * (temperature / 298.15) ** 0.5 / (pressure / 100e3)
    return result


def surge_flow(pressure_ratio: float, ratios: Sequence[float], flows: Sequence[float]) -> float:
    """Return the corrected flow below which a compressor surges at a pressure ratio.

    Formula: straight lines between the points of the maker's surge line.
    Inputs: pressure ratio [-]; pressure ratios of the points, rising [-], and the corrected flow
    at each [kg/s]. Result: flow [kg/s]. Validity: within the stated points.
    Errors: ValueError for a ratio beyond them, or points that do not rise or are not pairs.
    Source: definition of the surge line of a compressor map.

    >>> surge_flow(1.75, [1.5, 2.0, 2.5], [0.04, 0.06, 0.09])
    0.05
    """
    if len(ratios) != len(flows) or any(b <= a for a, b in pairwise(ratios)):
        raise ValueError("a surge line needs a flow for each pressure ratio, and these must rise.")
    if not ratios[0] <= pressure_ratio <= ratios[-1]:
        raise ValueError(f"the surge line is stated from {ratios[0]:g} to {ratios[-1]:g} only.")
    right = max(1, bisect_left(ratios, pressure_ratio))
    share = (pressure_ratio - ratios[right - 1]) / (ratios[right] - ratios[right - 1])
    return flows[right - 1] + share * (flows[right] - flows[right - 1])


def drive_ratio(crank_pulley: float, blower_pulley: float) -> float:
    """Return how many turns a blower makes for one of the crankshaft.

    Formula: x = d_crank / d_blower. Inputs: effective pulley diameters [m].
    Result: ratio [-]. Validity: no belt slip. Errors: ValueError unless both are above zero.
    Source: definition.

    >>> drive_ratio(0.150, 0.075)
    2.0
    """
    if crank_pulley <= 0 or blower_pulley <= 0:
        raise ValueError(
            f"pulley diameters must be above zero, not {crank_pulley} and {blower_pulley} m."
        )
    return crank_pulley / blower_pulley


def blower_delivery(at_zero_rise: Real, pressure_ratio: Real) -> Real:
    """Return the volumetric efficiency of a positive-displacement blower.

    Formula: ev = e0 - 0.08 (PR - 1). Inputs: value without pressure rise e0 [-], pressure
    ratio PR [-]. Result: ev [-]. Validity: PR 1 to 2. Errors: none.
    Source: a linear stand-in of this project; common practice, no source.

    >>> round(blower_delivery(0.97, 1.5), 3)
    0.93
    """
    return at_zero_rise - VOLUMETRIC_SLOPE * (pressure_ratio - 1)


def matched_pressure(
    swept_per_turn: Real,
    swallowed_per_turn: Real,
    inlet_pressure: Real,
    inlet_temperature: Real,
    at_zero_rise: Real,
    efficiency: Real,
    effectiveness: Real,
    coolant: Real,
    cooler_drop: Real,
) -> Real:
    """Return the manifold pressure at which a blower delivers what the engine swallows.

    Formula: D x ev(PR) p1/T1 = (V/2) eta_v p3/T3 with T3 behind compressor and cooler,
    solved for p3 by a fixed-point iteration (it contracts by a factor of four or more).
    Inputs, scalars or arrays that broadcast: blower volume for one turn of the crankshaft
    D x [m^3], engine volume for one turn (V/2) eta_v [m^3], p1 [Pa], T1 [K], e0 [-],
    adiabatic efficiency [-], cooler effectiveness [-] (0: none), Tc [K], pressure drop of
    the cooler [Pa]. Result: p3 [Pa].
    Validity: PR 1 to 2.5; no relief valve (cap the result). Where the blower sweeps less
    than the engine the result falls below p1: a bypass would open.
    Errors: none. Source: mass balance, computed.

    >>> p3 = matched_pressure(0.9e-3 * 1.85, 2.593548e-3 / 2 * 0.90, 99e3, 298.15,
    ...                       0.97, 0.62, 0.65, 313.15, 0.0)
    >>> round((p3 - 99e3) / 6894.757, 3)
    6.615
    """
    geometric = swept_per_turn / swallowed_per_turn * inlet_pressure / inlet_temperature
    manifold = inlet_pressure * 1.4
    for _ in range(_MATCHING_STEPS):
        ratio = (manifold + cooler_drop) / inlet_pressure
        hot = compressor_temperature(inlet_temperature, ratio, efficiency)
        cold = cooled_temperature(hot, effectiveness, coolant)
        manifold = geometric * blower_delivery(at_zero_rise, ratio) * cold
    return manifold


def swallowed_volume(
    swept_per_turn: Real,
    manifold_pressure: Real,
    inlet_pressure: Real,
    inlet_temperature: Real,
    at_zero_rise: Real,
    efficiency: Real,
    effectiveness: Real,
    coolant: Real,
) -> Real:
    """Return the engine volume for one turn that explains a measured boost (inverse matching).

    Formula: mass balance of `matched_pressure` solved for (V/2) eta_v.
    Inputs: as there, with the measured manifold pressure [Pa]; no cooler drop.
    Result: (V/2) eta_v [m^3]. Validity and source: as there. Errors: none.

    >>> v = swallowed_volume(0.9e-3 * 1.85, 144609.0, 99e3, 298.15, 0.97, 0.62, 0.65, 313.15)
    >>> round(v / (2.593548e-3 / 2), 3)
    0.9
    """
    ratio = manifold_pressure / inlet_pressure
    hot = compressor_temperature(inlet_temperature, ratio, efficiency)
    cold = cooled_temperature(hot, effectiveness, coolant)
    delivered = swept_per_turn * blower_delivery(at_zero_rise, ratio)
    return delivered / ratio * cold / inlet_temperature


def boost_after_drive_change(
    boost_gauge: float,
    ratio_before: float,
    ratio_after: float,
    *,
    inlet_pressure: float = 101_325.0,
    inlet_temperature: float = 298.15,
    at_zero_rise: float = 0.95,
    efficiency: float = 0.60,
    effectiveness: float = 0.0,
    coolant: float = 308.15,
) -> float:
    """Return the boost of a positive-displacement blower after a change of pulley.

    Formula: the engine's swallowed volume follows from the boost before; the match is
    solved again with the new drive ratio. The blower's own size cancels.
    Inputs: boost before [Pa gauge], drive ratios before and after [-], inlet state,
    blower and cooler values as in `matched_pressure`.
    Result: boost after [Pa gauge]. Validity: no relief valve, no belt slip, PR below 2.5.
    Errors: ValueError unless both ratios are above zero.
    Source: mass balance, computed.

    >>> before = 45609.0
    >>> round(boost_after_drive_change(before, 1.85, 2.10, inlet_pressure=99e3, at_zero_rise=0.97,
    ...     efficiency=0.62, effectiveness=0.65, coolant=313.15) / 6894.757, 2)
    9.54
    """
    if ratio_before <= 0 or ratio_after <= 0:
        raise ValueError(f"drive ratios must be above zero, not {ratio_before} and {ratio_after}.")
    blower = (inlet_pressure, inlet_temperature, at_zero_rise, efficiency, effectiveness, coolant)
    swallowed = swallowed_volume(ratio_before, inlet_pressure + boost_gauge, *blower)
    return matched_pressure(ratio_after, swallowed, *blower, 0.0) - inlet_pressure


def centrifugal_boost(omega: Real, stated_boost: Real, stated_omega: Real) -> Real:
    """Return the boost of a gear- or belt-driven centrifugal compressor over engine speed.

    Formula: boost = stated (omega/omega_stated)^2 up to the stated point, held beyond it.
    Inputs: engine speed omega [rad/s], stated boost [Pa gauge], engine speed at which it is
    stated [rad/s]. Result: boost [Pa gauge].
    Validity: head of an impeller rises with the square of its speed at one flow coefficient;
    nothing is credited beyond the stated point. Errors: none. Source: similarity laws of
    turbomachinery (from memory).

    >>> from math import pi
    >>> round(float(centrifugal_boost(3000 * pi / 30, 60e3, 6000 * pi / 30)), 6)
    15000.0
    """
    import numpy as np

    return cast("Real", stated_boost * np.minimum(omega / stated_omega, 1.0) ** 2)


def turbocharger_boost(omega: Real, target: Real, threshold: Real) -> Real:
    """Return the boost of a turbocharger at full load over engine speed.

    Formula: target above the threshold speed, target (omega/omega_t)^2 below it.
    Inputs: engine speed [rad/s], boost target [Pa gauge], threshold speed [rad/s].
    Result: boost [Pa gauge]. Validity: steady full load, boost control that reaches its
    target; no compressor map is used. Errors: none. Source: common practice, no source.

    >>> float(turbocharger_boost(400.0, 60e3, 300.0))
    60000.0
    """
    import numpy as np

    return cast("Real", target * np.minimum(omega / threshold, 1.0) ** 2)
