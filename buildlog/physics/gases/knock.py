"""Knock: how much more octane a change asks for. Differences only, never an absolute octane.

An absolute octane requirement from a one-zone model is about 20 numbers off, and the same
model of car varies by up to 6. A change relative to a configuration that is known to run
without knock on the same fuel keeps what is solid.
"""

from __future__ import annotations


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
