"""Engine speed where none was logged, and slip where it was.

Two ways back from road speed: ratios and tyre; one known point. Both need a LOCKED drive:
with an open converter the ratio is not constant and neither applies.
Sources: the kinematics of rolling; figures for slip and growth are common practice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from buildlog.physics.numerics.middle import median
from buildlog.physics.numerics.regression import Floats

U_PLAIN_SIZE = 0.015  # pi D/1.032 against revs per mile of 70 cars of 1990, s = 0.0155
U_SLIP = 0.010  # tyre on a roller at full load; common practice, no source
U_GROWTH = 0.005  # circumference against speed; common practice, no source
DRIFT_LIMIT = 0.02  # engine to road speed over a pull; common practice, no source

Way = Literal["ratios and tire", "one known point"]


@dataclass(frozen=True)
class EngineSpeed:
    """Recovered engine speed [rad/s], shape (n,), with its relative uncertainty (1 sigma).

    `parts` names what the uncertainty is made of. The parts are common to the whole
    pull: they shift the curve along the axis, they do not scatter its points.
    """

    omega: Floats
    u: float
    way: Way
    parts: dict[str, float]


def from_ratios(
    road_speed: ArrayLike,
    gear_ratio: float,
    final_drive: float,
    circumference: float,
    *,
    u_circumference: float = U_PLAIN_SIZE,
    slip: float = 0.0,
    u_slip: float = U_SLIP,
    u_growth: float = U_GROWTH,
) -> EngineSpeed:
    """omega = 2 pi v/C * i_gear * i_final/(1 - slip).

    Inputs: road_speed (n,) surface speed of the roller or the road [m/s]; ratios (engine
    turns per wheel turn in total); circumference C [m] (rolling). u_... relative, 1 sigma.
    Validity: locked drive, tyre not spinning. Errors: ValueError for a ratio or size <= 0.

    >>> speed = from_ratios([26.8224], 0.68, 3.55, math.pi * 0.6523 / 1.032)
    >>> round(float(speed.omega[0]) * 30 / math.pi, 0), round(speed.u, 4)
    (1956.0, 0.0187)
    """
    if min(gear_ratio, final_drive, circumference) <= 0 or not 0 <= slip < 1:
        raise ValueError(
            "Gear ratio, final drive and circumference must be above zero, slip 0 to 1."
        )
    v = np.asarray(road_speed, dtype=np.float64)
    omega = 2 * math.pi * v / circumference * gear_ratio * final_drive / (1 - slip)
    parts = {"circumference": u_circumference, "slip": u_slip, "tire growth": u_growth}
    return EngineSpeed(omega, _quadrature(parts), "ratios and tire", parts)


def from_known_point(
    road_speed: ArrayLike,
    known_speed: float,
    known_omega: float,
    *,
    u_reading: float = 0.01,
    u_slip: float = U_SLIP,
    u_growth: float = U_GROWTH,
) -> EngineSpeed:
    """Scale road speed by one place where the engine speed was read: omega = v omega_0/v_0.

    Inputs: road_speed (n,) [m/s]; the point (v_0 [m/s], omega_0 [rad/s]); `u_reading`
    relative: half a division of the rev counter over the reading. Tyre size and ratios
    cancel. Errors: ValueError for a point at or below zero.
    """
    if min(known_speed, known_omega) <= 0:
        raise ValueError("The known point needs a road speed and an engine speed above zero.")
    omega = np.asarray(road_speed, dtype=np.float64) * (known_omega / known_speed)
    parts = {"reading of the known point": u_reading, "slip": u_slip, "tire growth": u_growth}
    return EngineSpeed(omega, _quadrature(parts), "one known point", parts)


def _quadrature(parts: dict[str, float]) -> float:
    if min(parts.values()) < 0:
        raise ValueError("An uncertainty cannot be below zero.")
    return math.sqrt(sum(u * u for u in parts.values()))


@dataclass(frozen=True)
class Drift:
    """How the ratio of engine to road speed moves over a pull.

    `ratio` [rad/m] is its median; `change` the ratio at the top of the pull over that at
    the bottom, less 1; `spread` the widest excursion of the ten medians, relative.
    `slip` says that the spread is above 2 %. `at` (k,) [rad/s] and `course` (k,) relative
    to the median show where.
    """

    ratio: float
    change: float
    spread: float
    slip: bool
    at: Floats
    course: Floats


def ratio_drift(omega: ArrayLike, road_speed: ArrayLike, limit: float = DRIFT_LIMIT) -> Drift:
    """Check that engine speed and road speed stay in one ratio over a pull.

    Inputs: omega (n,) [rad/s], road_speed (n,) [m/s] of one trimmed sweep. Medians over
    ten equal parts of the pull, so that single bad samples do not count.
    Errors: ValueError for fewer than 20 usable rows. A clutch, a converter or a tyre may
    slip: which of them, the ratio alone cannot say.
    """
    w, v = np.asarray(omega, float).ravel(), np.asarray(road_speed, float).ravel()
    if w.size != v.size:
        raise ValueError(f"Engine speed has {w.size} rows but road speed has {v.size}.")
    good = np.isfinite(w) & np.isfinite(v) & (w > 0) & (v > 0)
    if good.sum() < 20:
        raise ValueError("The ratio of engine to road speed needs at least 20 usable rows.")
    w, v = w[good], v[good]
    order = np.argsort(w, kind="stable")
    parts = np.array_split(order, 10)
    at = np.array([median(w[rows]) for rows in parts])
    level = np.array([median(w[rows] / v[rows]) for rows in parts])
    middle = median(level)
    spread = float(np.ptp(level)) / middle
    return Drift(
        middle, float(level[-1] / level[0]) - 1, spread, spread > limit, at, level / middle
    )
