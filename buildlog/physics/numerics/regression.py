"""Local quadratic regression: from noisy samples to a curve, its slope and its peak.

Every smooth curve of the program is made here, so that one width describes it.
Formula: at each place g the parabola b0 + b1 u + b2 u^2, u = (x - g)/(width/2), is
fitted with tricube weights (1 - |u|^3)^3; the value is b0, the slope 2 b1/width.
Source: W. S. Cleveland, "Robust Locally Weighted Regression and Smoothing
Scatterplots", J. Am. Stat. Assoc. 74 (1979), weights and local fit [from memory].
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

RPM = math.pi / 30  # [rad/s] one revolution per minute
ENGINE_STEP, ENGINE_WIDTH = 50 * RPM, 200 * RPM  # grid and smoothing of a pull by engine speed
ROAD_STEP, ROAD_WIDTH = 1 / 3.6, 4 / 3.6  # the same by road speed [m/s]
MAX_PLACES = 4000  # a trace is fitted at no more places than this, and interpolated between
AT_ONCE = 100  # places; a window holds two thousand samples at most
MIN_POINTS = 4  # a parabola through three samples would follow their noise exactly


@dataclass(frozen=True)
class Fit:
    """A local fit on a grid; every array has the grid's shape (g,).

    `values` in the unit of y, `slope` in y per x, `curvature` in y per x^2.
    `gain` is the variance of a value per unit variance of independent samples
    (0.05 means: twenty samples' worth of averaging). `slope_gain` is the same for
    the slope [1/x^2]. All are NaN where the samples do not surround the place.
    """

    at: Floats
    values: Floats
    slope: Floats
    curvature: Floats
    gain: Floats
    slope_gain: Floats
    width: float

    def settled(self) -> NDArray[np.bool_]:
        """Where the slope's noise is at most twice the usual, (g,): toward the ends of the samples
        the window has one side, and there it grows to nine times."""
        known = np.isfinite(self.slope_gain)
        usual = float(np.median(self.slope_gain[known])) if known.any() else 0.0
        return known & (self.slope_gain <= 4 * usual)


@dataclass(frozen=True)
class Peak:
    """Where a fitted curve is highest, with one-standard-deviation uncertainties.

    `at_edge` says that the curve still rises at the end of its range: the peak lies
    outside what was driven and `u_location` is infinite.
    """

    location: float
    value: float
    u_location: float
    u_value: float
    at_edge: bool
    width: float


def grid(lo: float, hi: float, step: float) -> Floats:
    """Multiples of `step` inside [lo, hi], so that every curve shares its places.

    >>> grid(1990.0, 2160.0, 50.0).tolist()
    [2000.0, 2050.0, 2100.0, 2150.0]
    """
    if not (step > 0 and math.isfinite(lo) and math.isfinite(hi)):
        raise ValueError("A grid needs a finite range and a step above zero.")
    slack = 1e-9  # so that 50 rpm in rad/s still counts as a multiple of itself
    first, last = math.ceil(lo / step - slack), math.floor(hi / step + slack)
    return np.arange(first, last + 1, dtype=np.float64) * step


def local_quadratic(x: ArrayLike, y: ArrayLike, at: ArrayLike, width: float) -> Fit:
    """Fit y(x) locally at each place of `at`, never outside the samples.

    Inputs: x (n,) in any order, y (n,), at (g,), `width` the full width of the
    window in the unit of x. Rows with a NaN are left out. A place gets NaN unless
    at least four samples lie in its window, with one on or beyond each side of it.
    Exact for a parabola, so smoothing bends a curve only by its third derivative on.

    >>> x = np.linspace(0.0, 10.0, 101)
    >>> fit = local_quadratic(x, x**2, [5.0, 11.0], 2.0)
    >>> round(float(fit.values[0]), 9), round(float(fit.slope[0]), 9), float(fit.values[1])
    (25.0, 10.0, nan)
    """
    if not width > 0:
        raise ValueError("The smoothing width must be above zero.")
    xs, ys, group = _thinned(*_sorted_pairs(x, y), width)
    places = np.atleast_1d(np.asarray(at, dtype=np.float64))
    half = width / 2
    first, last = np.searchsorted(xs, places - half), np.searchsorted(xs, places + half, "right")
    moments, squares, rhs = _moments(xs, ys, places, half, first, last)
    usable = _surrounded(xs, places, first, last) & (_rank(moments) > 1e-9)
    return _solve(places, moments, squares / group, rhs, usable, width)


def fit_trace(t: ArrayLike, y: ArrayLike, width: float) -> Fit:
    """The local fit at every row of a trace, (n,); of a very long one by interpolation.

    Inputs as `local_quadratic`, with t rising. Beyond 4,000 rows the fit is made at 4,000
    even places and read between them along straight lines: the width must span several.
    """
    rows = np.asarray(t, dtype=np.float64).ravel()
    if rows.size <= MAX_PLACES:
        return local_quadratic(rows, y, rows, width)
    known = rows[np.isfinite(rows)]
    fit = local_quadratic(rows, y, np.linspace(known[0], known[-1], MAX_PLACES), width)
    fields = (fit.values, fit.slope, fit.curvature, fit.gain, fit.slope_gain)
    values, slope, curvature, gain, slope_gain = (np.interp(rows, fit.at, f) for f in fields)
    return Fit(rows, values, slope, curvature, gain, slope_gain, width)


def _sorted_pairs(x: ArrayLike, y: ArrayLike) -> tuple[Floats, Floats]:
    xs, ys = np.asarray(x, dtype=np.float64).ravel(), np.asarray(y, dtype=np.float64).ravel()
    if xs.shape != ys.shape:
        raise ValueError(f"The axis has {xs.size} rows but the channel has {ys.size}.")
    finite = np.isfinite(xs) & np.isfinite(ys)
    if not finite.all():
        xs, ys = xs[finite], ys[finite]
    if xs.size > 1 and np.any(xs[1:] < xs[:-1]):
        order = np.argsort(xs, kind="stable")
        xs, ys = xs[order], ys[order]
    return xs, ys


def _thinned(xs: Floats, ys: Floats, width: float) -> tuple[Floats, Floats, int]:
    """Means of neighbouring samples where a window holds thousands: 10 million rows are quick.

    A group spans about a thousandth of a window, so its mean stands for it exactly enough.
    """
    reach = float(xs[-1] - xs[0]) if xs.size else 0.0
    group = int(xs.size * width / reach / 1000) if reach > 0 else 1
    group = min(group, xs.size // 100)
    if group < 2:
        return xs, ys, 1
    whole = xs.size // group * group
    means = [c[:whole].reshape(-1, group).mean(axis=1) for c in (xs, ys)]
    means[0][0], means[0][-1] = xs[0], xs[-1]  # the ends stay covered
    return means[0], means[1], group


def _moments(
    xs: Floats,
    ys: Floats,
    places: Floats,
    half: float,
    first: NDArray[np.intp],
    last: NDArray[np.intp],
) -> tuple[Floats, Floats, Floats]:
    """Sums of w u^k and w^2 u^k (k = 0..4) and of w y u^k (k = 0..2) per place."""
    moments, squares = np.zeros((places.size, 5)), np.zeros((places.size, 5))
    rhs = np.zeros((places.size, 3))
    most = int((last - first).max(initial=0))  # rows of the fullest window
    for here in (slice(i, i + AT_ONCE) for i in range(0, places.size, AT_ONCE) if most):
        rows = first[here, None] + np.arange(most)
        inside = rows < last[here, None]
        rows = np.minimum(rows, xs.size - 1)
        u = (xs[rows] - places[here, None]) / half
        weighted = w = np.where(inside, np.maximum(1 - np.abs(u) ** 2 * np.abs(u), 0.0) ** 3, 0.0)
        for k in range(5):
            moments[here, k] = weighted.sum(axis=1)
            squares[here, k] = np.einsum("gi,gi->g", w, weighted)
            if k < 3:
                rhs[here, k] = np.einsum("gi,gi->g", weighted, ys[rows])
            weighted = weighted * u
    return moments, squares, rhs


_HANKEL = np.arange(3)[:, None] + np.arange(3)[None, :]


def _rank(moments: Floats) -> Floats:
    """Determinant of the normal equations, scaled so that 0 means "no parabola here"."""
    total = np.where(moments[:, 0] > 0, moments[:, 0], 1.0)
    return np.asarray(np.linalg.det((moments / total[:, None])[:, _HANKEL]), dtype=np.float64)


def _surrounded(
    xs: Floats, places: Floats, first: NDArray[np.intp], last: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Whether the window holds enough samples, on both sides of its place."""
    if xs.size == 0:
        return np.zeros(places.shape, dtype=bool)
    enough = last - first >= MIN_POINTS
    low = xs[np.minimum(first, xs.size - 1)]
    high = xs[np.maximum(last - 1, 0)]
    slack = 1e-9 * max(float(np.abs(xs[[0, -1]]).max()), 1e-300)
    return enough & (low <= places + slack) & (high >= places - slack)


def _solve(
    places: Floats,
    moments: Floats,
    squares: Floats,
    rhs: Floats,
    usable: NDArray[np.bool_],
    width: float,
) -> Fit:
    out = np.full((5, places.size), np.nan)
    if usable.any():
        inverse = np.linalg.inv(moments[usable][:, _HANKEL])
        beta = np.einsum("gij,gj->gi", inverse, rhs[usable])
        spread = inverse @ squares[usable][:, _HANKEL] @ inverse
        out[:3, usable] = beta.T
        out[3, usable], out[4, usable] = spread[:, 0, 0], spread[:, 1, 1]
    half = width / 2
    return Fit(places, out[0], out[1] / half, 2 * out[2] / half**2, out[3], out[4] / half**2, width)


def noise(x: ArrayLike, y: ArrayLike, width: float) -> tuple[float, float]:
    """Standard deviation of the samples about their local fit, and their correlation.

    Result: (sigma in the unit of y, lag-one correlation of the residuals, 0..0.95).
    The degrees of freedom spent on the curve are taken as the sum of the fit's gains.
    The correlation widens standard errors: neighbouring dyno samples are not independent.
    """
    xs, ys = _sorted_pairs(x, y)
    places = np.linspace(xs[0], xs[-1], min(max(int(8 * (xs[-1] - xs[0]) / width), 20), 2000))
    fit = local_quadratic(xs, ys, places, width)
    good = np.isfinite(fit.values)
    if good.sum() < 2:
        raise ValueError("The smoothing width is too small for the spacing of the samples.")
    residual = ys - np.interp(xs, places[good], fit.values[good])
    spent = float(np.interp(xs, places[good], fit.gain[good]).sum())
    sigma = math.sqrt(float(residual @ residual) / max(xs.size - spent, 1.0))
    power = float(residual @ residual)
    lag = float(residual[1:] @ residual[:-1]) / power if power > 0 else 0.0
    return sigma, min(max(lag, 0.0), 0.95)


def peak(x: ArrayLike, y: ArrayLike, width: float) -> Peak:
    """The highest place of the fitted curve, never the largest noisy sample.

    Found on a grid of width/40, then moved to where the local parabola is level.
    u_value = sigma sqrt(gain) k and u_location = sigma sqrt(slope gain) k/|curvature|,
    k = sqrt((1 + r)/(1 - r)) for a lag-one correlation r of the residuals.
    Validity: the uncertainty of the location is a first-order figure; on a flat top
    it is large, as it should be.

    >>> x = np.linspace(2000.0, 6000.0, 400)
    >>> top = peak(x, 100.0 - ((x - 4500.0) / 1000.0) ** 2, 400.0)
    >>> round(top.location, 3), round(top.value, 6), top.at_edge
    (4500.0, 100.0, False)
    """
    xs, ys = _sorted_pairs(x, y)
    if xs.size < MIN_POINTS or xs[0] == xs[-1]:
        raise ValueError("A peak needs at least four samples at different places.")
    places = np.linspace(xs[0], xs[-1], max(int(40 * (xs[-1] - xs[0]) / width), 40) + 1)
    fit = local_quadratic(xs, ys, places, width)
    if not np.isfinite(fit.values).any():
        raise ValueError("The smoothing width is too small for the spacing of the samples.")
    top = int(np.nanargmax(fit.values))
    inside = np.flatnonzero(np.isfinite(fit.values))
    at_edge = top in (int(inside[0]), int(inside[-1])) or not fit.curvature[top] < 0
    place = places[top] if at_edge else _level(xs, ys, float(places[top]), width)
    final = local_quadratic(xs, ys, [place], width)
    return _peak_with_errors(xs, ys, final, width, at_edge)


def _level(xs: Floats, ys: Floats, place: float, width: float) -> float:
    """Move to where the fitted slope is zero, in steps no longer than the search grid's."""
    here = place
    for _ in range(4):
        fit = local_quadratic(xs, ys, [here], width)
        if not fit.curvature[0] < 0:
            return place
        move = float(-fit.slope[0] / fit.curvature[0])
        here += min(max(move, -width / 40), width / 40)
    return here if math.isfinite(here) and abs(here - place) <= width / 20 else place


def _peak_with_errors(xs: Floats, ys: Floats, fit: Fit, width: float, at_edge: bool) -> Peak:
    sigma, lag = noise(xs, ys, width)
    widened = sigma * math.sqrt((1 + lag) / (1 - lag))
    curvature = abs(float(fit.curvature[0]))
    u_place = math.inf
    if not at_edge and curvature > 0:
        u_place = widened * math.sqrt(float(fit.slope_gain[0])) / curvature
    return Peak(
        float(fit.at[0]),
        float(fit.values[0]),
        u_place,
        widened * math.sqrt(float(fit.gain[0])),
        at_edge,
        width,
    )
