"""Knock: how much more octane a change asks for. Differences only, never an absolute octane.

An absolute octane requirement from a one-zone model is about 20 numbers off, and the same
model of car varies by up to 6. A change relative to a configuration that is known to run
without knock on the same fuel keeps what is solid.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import exp, log

from buildlog.physics.checks import above_zero
from buildlog.physics.constants import ATM

# Douaud & Eyzat, "Four-Octane-Number Method...", SAE 780080 (1978): the constants in ms and
# atm as seen in three unrelated public source files (secondary); the paper was not opened.
_A, _OCTANE_POWER, _PRESSURE_POWER, _ACTIVATION = 17.68e-3, 3.402, 1.7, 3800.0


def octane_demand_change(
    compression_points: float,
    manifold_pascal: float,
    charge_kelvin: float,
    retard_degrees: float,
    per_point: float,
    per_pascal: float,
    per_kelvin: float,
    per_degree: float,
) -> float:
    """Return how much the octane requirement changes between two configurations.

    Formula: sum of slope times difference over compression ratio, absolute manifold pressure,
    charge temperature and spark retard (after minus before).
    Inputs: the four differences [-], [Pa], [K], [degrees of crank] and the octane slopes per
    unit of each; per_degree is negative, since later spark asks for less.
    Result: change of the octane requirement [octane numbers].
    Validity: same engine, same fuel; manifold change up to about 70 kPa, compression up to 2
    points, retard up to 10 degrees. Deposits, mixture and coolant changes are not in it.
    Errors: none.
    Source: +4 to +5 per point of compression, Hamilton, Gasoline FAQ part 3 (1996), table
    (secondary); +2.4 per psi, +0.18 per K and -1.0 per degree from a one-zone model with
    the Douaud-Eyzat delay (computed; slopes only).

    >>> octane_demand_change(-1.0, 0.0, 0.0, 0.0, 4.5, 3.5e-4, 0.18, -1.0)
    -4.5
    """
    return (
        compression_points * per_point
        + manifold_pascal * per_pascal
        + charge_kelvin * per_kelvin
        + retard_degrees * per_degree
    )


def ignition_delay(octane: float, pressure: float, temperature: float) -> float:
    """Return the time after which unburnt mixture of one state ignites by itself.

    Formula: tau = 17.68 ms (ON/100)^3.402 (p/atm)^-1.7 exp(3800 K/T).
    Inputs: octane number ON [-], pressure p [Pa], temperature T [K].
    Result: delay [s].
    Validity: end gas of spark-ignition engines; for differences only.
    Errors: ValueError unless every input is above zero.
    Source: Douaud & Eyzat, SAE 780080 (1978) (constants secondary); Heywood, Internal
    Combustion Engine Fundamentals, eq. 9.6 (from memory).

    >>> round(ignition_delay(95, 40 * ATM, 850) * 1000, 4)  # ms
    2.4533
    """
    above_zero(octane=octane, pressure=pressure, temperature=temperature)
    share = (octane / 100) ** _OCTANE_POWER * (pressure / ATM) ** -_PRESSURE_POWER
    delay: float = _A * share * exp(_ACTIVATION / temperature)
    return delay


def knock_integral(
    times: Sequence[float],
    pressures: Sequence[float],
    temperatures: Sequence[float],
    octane: float,
) -> float:
    """Return how much of the ignition delay is used up along a history of the end gas.

    Formula: integral of dt/tau by the trapezoidal rule; ignition where it reaches 1.
    Inputs: times [s], pressures [Pa], temperatures [K] of equal length, octane number [-].
    Result: integral [-].
    Validity: for differences only. Errors: ValueError for unequal lengths, fewer than two
    points or times that do not rise.
    Source: Livengood & Wu (1955) (from memory) with the delay of `ignition_delay`.

    >>> tau = ignition_delay(95, 40 * ATM, 850)
    >>> round(knock_integral([0, tau], [40 * ATM] * 2, [850] * 2, 95), 9)
    1.0
    """
    if len(times) < 2 or not len(times) == len(pressures) == len(temperatures):
        raise ValueError("the knock integral needs two points or more in three equal columns.")
    if any(later <= earlier for earlier, later in pairwise(times)):
        raise ValueError("the times of the knock integral must rise.")
    rates = [1 / ignition_delay(octane, p, t) for p, t in zip(pressures, temperatures, strict=True)]
    steps = zip(pairwise(times), pairwise(rates), strict=True)
    return sum((t2 - t1) * (r1 + r2) / 2 for (t1, t2), (r1, r2) in steps)


def equivalent_octane(
    octane: float,
    pressure: float,
    temperature: float,
    new_pressure: float,
    new_temperature: float,
) -> float:
    """Return the octane that keeps the ignition delay when the end gas changes.

    Formula: tau unchanged, ON2 = ON1 [(p2/p1)^1.7 exp(3800/T1 - 3800/T2)]^(1/3.402); the
    inverse of `ignition_delay` and a second way to the slopes.
    Inputs: octane number [-] at pressure [Pa] and temperature [K] of the END GAS, and the
    new pressure and temperature.
    Result: octane number [-], of use as a difference only.
    Validity: one instant of the end gas, not a cycle. Errors: as ignition_delay.
    Source: as ignition_delay.

    >>> round(equivalent_octane(95, 40 * ATM, 850, 44 * ATM, 850) - 95, 2)
    4.63
    """
    above_zero(octane=octane, pressure=pressure, temperature=temperature)
    above_zero(new_pressure=new_pressure, new_temperature=new_temperature)
    growth = _PRESSURE_POWER * log(new_pressure / pressure)
    growth += _ACTIVATION * (1 / temperature - 1 / new_temperature)
    return octane * exp(growth / _OCTANE_POWER)
