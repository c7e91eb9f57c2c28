"""Power from the roller trace of an inertia dyno.

P = (1 + s) I omega d(omega)/dt + T_loss(omega) omega, with s the share of the car's own
wheels and tyres in the inertia and T_loss the drag of the roller itself. Speed and
acceleration come from one local quadratic regression over time, whose width is stated
in the unit of the axis, so that a reader knows what it can and cannot show.
Source: Newton's law for rotation; the wheels' share of about 2 % is a worked figure.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from buildlog.physics.numerics.middle import median
from buildlog.physics.numerics.regression import Floats, fit_trace, noise
from buildlog.physics.traces.roadload import RoadLoad

DEFAULT_INTERVAL = 25.0  # regression widths along a pull; common practice, no source


@dataclass(frozen=True)
class RollerPower:
    """Power at the roller's surface; arrays (n,) in the order of time, NaN at unfit rows and at the
    ends, where the slope would mostly be noise.

    `omega` [rad/s] and `alpha` [rad/s^2] of the roller; `power` [W]; `u_noise` [W] the
    standard uncertainty from the noise of the speed alone; `width` [s] of the regression;
    `smoothing` (least, median, most) [rad/s of the roller]: the width seen along the axis.
    """

    omega: Floats
    alpha: Floats
    power: Floats
    u_noise: Floats
    width: float
    smoothing: tuple[float, float, float]


def roller_power(
    time: ArrayLike,
    omega: ArrayLike,
    inertia: float,
    *,
    width: float | None = None,
    loss: RoadLoad | None = None,
    wheels_share: float = 0.0,
) -> RollerPower:
    """Power from the trace of one trimmed sweep.

    Inputs: time (n,) [s], rising, jitter allowed; omega (n,) roller speed [rad/s]; inertia
    of the roller with what turns with it [kg*m^2]; `width` [s] of the regression, by
    default a 25th of the pull; `loss` from its coast-down (None: not added, so the
    result is too low); `wheels_share` of the inertia (0: wheels and tyres not added).
    Bias: a change of power narrower than the width is smeared over it; elsewhere the bias
    is near width^2/76 of the second derivative of power in time. Errors: ValueError for an
    inertia not above zero, fewer than 20 rows or time running backwards.

    >>> t = np.linspace(0.0, 10.0, 1001)
    >>> result = roller_power(t, 30.0 + 5.5555555 * t, 335.34, width=0.5)
    >>> round(float(np.interp(82.785, result.omega, result.power)) / 1e3, 1)
    154.2
    """
    t, w = np.asarray(time, float).ravel(), np.asarray(omega, float).ravel()
    if inertia <= 0 or wheels_share < 0:
        raise ValueError("The inertia must be above zero and the wheels' share not below.")
    if t.size != w.size or t.size < 20:
        raise ValueError("A roller trace needs at least 20 rows, each with a time and a speed.")
    if np.any(np.diff(t) < 0):
        raise ValueError("Time runs backwards in the roller trace; take one pull of it.")
    width = float(t[-1] - t[0]) / DEFAULT_INTERVAL if width is None else width
    fit = fit_trace(t, w, width)
    sigma, _ = noise(t, w, width)
    whole = (1 + wheels_share) * inertia
    power = np.where(fit.settled(), whole * fit.values * fit.slope, np.nan)
    if loss is not None:
        power = power + loss.force(fit.values) * fit.values
    span = np.abs(fit.slope[np.isfinite(fit.slope)]) * width
    if span.size == 0:
        raise ValueError("The smoothing width is too small for the spacing of the samples.")
    smoothing = (float(span.min()), median(span), float(span.max()))
    u = whole * fit.values * sigma * np.sqrt(fit.slope_gain)
    return RollerPower(fit.values, fit.slope, power, u, width, smoothing)
