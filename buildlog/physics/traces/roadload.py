"""Road load F = A + B v + C v^2, from a coast-down, and power from a road log.

Sources: 40 CFR 1066.210 (symbols), Reg. (EU) 2017/1151 Annex XXI Sub-Annex 4 para 2.5
(rotating mass), both opened.
Power from a road log is an ESTIMATE with its own, wider interval.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from buildlog.physics.numerics.constants import G0
from buildlog.physics.numerics.regression import Floats, fit_trace, noise

ROTATING_SHARE = 0.03  # of (mass in running order + 25 kg): Reg. (EU) 2017/1151, opened


@dataclass(frozen=True)
class RoadLoad:
    """A [N], B [N*s/m], C [N*s^2/m^2], their covariance (3, 3), and the speeds covered [m/s].

    `covariance` is None for declared coefficients: their uncertainty is not known.
    """

    a: float
    b: float
    c: float
    covariance: Floats | None = None
    speeds: tuple[float, float] | None = None

    def force(self, speed: ArrayLike) -> Floats:
        """Road load [N] at speed (n,) [m/s].

        >>> round(float(RoadLoad(140.0, 1.2, 0.42).force(100 / 3.6)), 2)
        497.41
        """
        v = np.asarray(speed, dtype=np.float64)
        return np.asarray(self.a + self.b * v + self.c * v * v, dtype=np.float64)

    def u_force(self, speed: ArrayLike) -> Floats:
        """Standard uncertainty of the force [N] at speed (n,); NaN where it is unknown."""
        v = np.asarray(speed, dtype=np.float64)
        if self.covariance is None:
            return np.full(v.shape, np.nan)
        basis = np.stack([np.ones_like(v), v, v * v], axis=-1)
        square = np.einsum("...i,ij,...j->...", basis, self.covariance, basis)
        return np.asarray(np.sqrt(np.maximum(square, 0.0)), dtype=np.float64)


def rotating_mass(running_order: float) -> float:
    """Equivalent mass of the wheels of both axles, gearbox in neutral [kg]: 3 % rule.

    >>> round(rotating_mass(1420.0), 2)
    43.35
    """
    if running_order <= 0:
        raise ValueError("The mass in running order must be above zero.")
    return ROTATING_SHARE * (running_order + 25.0)


def driveline_mass(inertia: float, overall_ratio: float, rolling_radius: float) -> float:
    """Equivalent mass [kg] of what turns with the engine, in gear: J (i/r)^2.

    Inputs: inertia at the crankshaft [kg*m^2], gear times final drive, radius [m]. NOT
    part of the 3 % rule, which holds in neutral; a pull in gear needs both.

    >>> round(driveline_mass(0.08, 12.0, 0.32), 1)
    112.5
    """
    if rolling_radius <= 0 or overall_ratio <= 0 or inertia < 0:
        raise ValueError("Ratio and radius must be above zero and inertia not below.")
    return inertia * (overall_ratio / rolling_radius) ** 2


def coast_down(runs: list[tuple[ArrayLike, ArrayLike]], effective_mass: float) -> RoadLoad:
    """Fit A, B and C to coast-down runs, best with both directions of one road among them.

    Inputs: runs of (time (n,) [s], speed (n,) [m/s]), each coasting from high to low;
    effective mass [kg]. The equation of motion is fitted in its integral,
    v(t) = v0 - (A t + B s + C q)/Me, s and q the integrals of v and v^2 so far: no speed is
    differentiated, so its noise does not bias the result. B and C are common, A is fitted
    for each run and averaged: a steady grade cancels if as many runs go one way as the
    other. The covariance is widened for the residuals' lag-one correlation.
    Errors: ValueError for a run of fewer than 20 rows, or a total speed range too narrow.
    """
    if effective_mass <= 0 or not runs:
        raise ValueError("A coast-down needs at least one run and a mass above zero.")
    blocks = [_integral_rows(*run, k, len(runs)) for k, run in enumerate(runs)]
    design = np.vstack([rows for rows, _, _ in blocks])
    target = np.concatenate([v for _, v, _ in blocks])
    lowest, highest = min(b[2][0] for b in blocks), max(b[2][1] for b in blocks)
    if highest - lowest < 0.3 * highest:
        raise ValueError(
            "The coast-down covers too little speed to separate A, B and C; "
            "it should fall by at least 30 %."
        )
    solved, covariance = _least_squares(design, target)
    mean = np.zeros((3, design.shape[1]))
    mean[0, 2 : 2 + len(runs)] = 1 / len(runs)
    mean[1, 0] = mean[2, 1] = 1.0
    a, b, c = (float(x) for x in -(mean @ solved) * effective_mass)
    spread = mean @ covariance @ mean.T * effective_mass**2
    return RoadLoad(a, b, c, spread, (lowest, highest))


def _integral_rows(
    time: ArrayLike, speed: ArrayLike, k: int, runs: int
) -> tuple[Floats, Floats, tuple[float, float]]:
    t, v = np.asarray(time, float).ravel(), np.asarray(speed, float).ravel()
    if t.size != v.size:
        raise ValueError(f"Run {k + 1} has {t.size} times but {v.size} speeds.")
    good = np.isfinite(t) & np.isfinite(v)
    t, v = t[good], v[good]
    if t.size < 20 or np.any(np.diff(t) <= 0):
        raise ValueError(f"Run {k + 1} needs at least 20 rows with rising time.")
    if v[-1] >= v[0]:
        raise ValueError(f"Run {k + 1} does not slow down: it is no coast-down.")
    smooth = _cubic(t, v)  # so that the noise of v does not reach q with its own square
    step = np.diff(t)
    s, q = (
        np.concatenate([[0.0], np.cumsum(step * (f[1:] + f[:-1]) / 2)]) for f in (smooth, smooth**2)
    )
    own = np.zeros((t.size, 2 * runs))
    own[:, k], own[:, runs + k] = t - t[0], 1.0
    return np.column_stack([s, q, own]), v, (float(v.min()), float(v.max()))


def _cubic(t: Floats, v: Floats) -> Floats:
    """A smooth course through one coast-down, which has no features of its own."""
    return np.asarray(np.polynomial.Polynomial.fit(t, v, 5)(t), dtype=np.float64)


def _least_squares(design: Floats, target: Floats) -> tuple[Floats, Floats]:
    scale = np.linalg.norm(design, axis=0)
    solved = np.linalg.lstsq(design / scale, target, rcond=None)[0]
    residual = target - (design / scale) @ solved
    lag = float(residual[1:] @ residual[:-1] / max(float(residual @ residual), 1e-300))
    lag = min(max(lag, 0.0), 0.99)
    square = float(residual @ residual) / max(target.size - design.shape[1], 1)
    inverse = np.linalg.pinv((design / scale).T @ (design / scale))
    covariance = inverse * square * (1 + lag) / (1 - lag)
    return solved / scale, covariance / np.outer(scale, scale)


@dataclass(frozen=True)
class RoadPower:
    """Power at the tyres from a road log: an estimate. Arrays (n,), at the log's times.

    `power` [W]; `u` [W] its standard uncertainty, all parts together; `u_parts` relative
    to the median power; `smoothing` [s] the width of the regression.
    """

    speed: Floats
    acceleration: Floats
    power: Floats
    u: Floats
    u_parts: dict[str, float]
    smoothing: float


def road_power(
    time: ArrayLike,
    speed: ArrayLike,
    mass: float,
    rotating: float,
    road_load: RoadLoad,
    *,
    grade: ArrayLike = 0.0,
    width: float = 1.0,
    u_mass: float = 0.02,
    u_rotating: float = 0.2,
    u_road_load: float = 0.10,
    u_grade: float = 0.005,
    gravity: float = G0,
) -> RoadPower:
    """P = v ((M + Mr) dv/dt + A + B v + C v^2 + M g sin(atan grade)).

    Inputs: time (n,) [s], speed (n,) [m/s] of one full-load sweep; mass with people and
    fuel [kg]; rotating equivalent mass in gear [kg]; grade (n,) or one number (0.01 = 1 %);
    `width` [s] of the local regression. u: relative for masses and road load (used where
    the fit has no covariance), absolute for grade; defaults are common practice: 0.5 % of
    unseen grade alone is some 3 % of power. Validity: dry, straight, still air, locked drive.
    """
    if mass <= 0 or rotating < 0:
        raise ValueError("The mass must be above zero and the rotating mass not below.")
    t = np.asarray(time, dtype=np.float64)
    fit = fit_trace(t, speed, width)
    v, dv = fit.values, fit.slope
    slope = np.sin(np.arctan(np.asarray(grade, dtype=np.float64)))
    drag = road_load.force(v)
    power = v * ((mass + rotating) * dv + drag + mass * gravity * slope)
    power = np.where(fit.settled(), power, np.nan)
    fitted = road_load.u_force(v)
    u_drag = np.where(np.isfinite(fitted), fitted, u_road_load * drag)
    sigma, _ = noise(t, speed, width)
    parts = {
        "speed noise": v * (mass + rotating) * sigma * np.sqrt(fit.slope_gain),
        "mass": v * (dv + gravity * slope) * mass * u_mass,
        "rotating mass": v * dv * rotating * u_rotating,
        "road load": v * u_drag,
        "grade": v * mass * gravity * u_grade * np.ones_like(v),
    }
    u = np.sqrt(sum((part**2 for part in parts.values()), np.zeros_like(v)))
    middle = float(np.nanmedian(power))
    share = {name: float(np.nanmedian(np.abs(part))) / middle for name, part in parts.items()}
    return RoadPower(v, dv, power, u, share, width)
