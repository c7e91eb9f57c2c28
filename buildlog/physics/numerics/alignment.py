"""A second log on its own time base, laid over a pull by a channel that both recorded.

The shift is the place of the best match between the two courses of that channel, both
resampled to one step; between samples a parabola gives the rest. Matching uses the
concordance of the two courses, 2 cov/(var a + var b + (mean a - mean b)^2) (L. I-K. Lin,
Biometrics 45 (1989) [from memory]), because over a straight rise a plain correlation is
1 at EVERY shift; for a channel in other units plain correlation is all there is.
A poor or ambiguous match is returned with the reason, so that it can be refused.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from buildlog.physics.numerics.middle import median
from buildlog.physics.numerics.regression import Floats, local_quadratic

MIN_MATCH = 0.95  # common practice, no source: below it the courses differ visibly
MIN_OVERLAP = 0.5  # of the shorter record: a match over a sliver proves nothing
MAX_SAMPLES = 1 << 18  # after resampling, per record


@dataclass(frozen=True)
class Alignment:
    """Time of the pull = time of the log + `shift` [s].

    `match` 0..1 at that shift, `rival` the best match elsewhere, `overlap` the share of
    the shorter record that both cover, `u_shift` [s] one standard deviation of the shift,
    `reason` why it should be refused, or None.
    """

    shift: float
    match: float
    rival: float
    overlap: float
    u_shift: float
    reason: str | None

    @property
    def accepted(self) -> bool:
        return self.reason is None


def align_by_time(
    time: ArrayLike,
    channel: ArrayLike,
    log_time: ArrayLike,
    log_channel: ArrayLike,
    *,
    same_quantity: bool = True,
    max_shift: float | None = None,
) -> Alignment:
    """Find the shift between a pull and a log from a channel that both recorded.

    Inputs: time (n,) [s], channel (n,); log_time (m,) [s], log_channel (m,), same quantity
    in the same unit unless `same_quantity` is False; `max_shift` [s] limits the search.
    Result: Alignment. Errors: ValueError for fewer than 8 usable rows, or a constant channel.
    """
    t1, a = _record(time, channel, "pull")
    t2, b = _record(log_time, log_channel, "log")
    step = _step(t1, t2)
    one, two = _resample(t1, a, step), _resample(t2, b, step)
    lags, match, overlap = _matches(one, two, same_quantity)
    shifts = lags * step + (t1[0] - t2[0])
    allowed = overlap >= MIN_OVERLAP * min(one.size, two.size)
    if max_shift is not None:
        allowed &= np.abs(shifts) <= max_shift
    if not allowed.any():
        return Alignment(0.0, 0.0, 0.0, 0.0, float("inf"), "The two records do not overlap enough.")
    match = np.where(allowed, match, -1.0)
    return _best(shifts, match, overlap / min(one.size, two.size), step)


def onto_time(time: ArrayLike, log_time: ArrayLike, log_channel: ArrayLike, shift: float) -> Floats:
    """The log's channel at the pull's times (n,), NaN where the log does not reach.

    >>> onto_time([1.0, 2.0, 9.0], [0.0, 1.0, 2.0], [10.0, 20.0, 30.0], 0.5).tolist()
    [15.0, 25.0, nan]
    """
    t, values = _record(log_time, log_channel, "log", minimum=2)
    places = np.asarray(time, dtype=np.float64)
    return np.interp(places, t + shift, values, left=np.nan, right=np.nan)


def onto_speed(
    speed: ArrayLike, log_speed: ArrayLike, log_channel: ArrayLike, width: float
) -> Floats:
    """The log's channel at the pull's road speeds (n,), NaN outside the log's speeds.

    Both must be sweeps (trimmed beforehand). `width` [m/s] of the local regression that
    takes the log's noise out. Use it where the two share no clock but both know road speed.
    """
    return local_quadratic(log_speed, log_channel, np.asarray(speed, float).ravel(), width).values


def _record(
    time: ArrayLike, channel: ArrayLike, name: str, minimum: int = 8
) -> tuple[Floats, Floats]:
    t, values = np.asarray(time, float).ravel(), np.asarray(channel, float).ravel()
    if t.size != values.size:
        raise ValueError(f"The {name} has {t.size} times but {values.size} values.")
    good = np.isfinite(t) & np.isfinite(values)
    t, values = t[good], values[good]
    if t.size < minimum:
        raise ValueError(f"The {name} has only {t.size} usable rows; {minimum} are needed.")
    if np.any(np.diff(t) < 0):
        raise ValueError(f"Time runs backwards in the {name}; take one pull of it.")
    if minimum > 2 and float(np.ptp(values)) == 0:
        raise ValueError(f"The shared channel is constant in the {name}: it cannot align anything.")
    return t, values


def _step(t1: Floats, t2: Floats) -> float:
    usual = [median(np.diff(np.unique(t))) for t in (t1, t2)]
    longest = max(float(np.ptp(t1)), float(np.ptp(t2)))
    return max(min(usual), longest / MAX_SAMPLES)


def _resample(t: Floats, values: Floats, step: float) -> Floats:
    places = np.arange(t[0], t[-1] + 0.5 * step, step)
    return np.interp(places, t, values)


def _matches(a: Floats, b: Floats, same: bool) -> tuple[Floats, Floats, Floats]:
    """Lags [samples], match and number of overlapping samples at each lag of b over a."""
    centre = float(a.mean())  # keeps the sums small; the match does not depend on it
    x, y = a - centre, b - (centre if same else float(b.mean()))
    size = 1 << (a.size + b.size - 1).bit_length()
    ones = (np.ones_like(x), np.ones_like(y))

    def cross(p: Floats, q: Floats) -> Floats:
        full = np.fft.irfft(np.fft.rfft(p, size) * np.conj(np.fft.rfft(q, size)), size)
        return np.concatenate([full[size - b.size + 1 :], full[: a.size]])

    n = np.round(cross(*ones))
    n = np.maximum(n, 1)
    sx, sy = cross(x, ones[1]) / n, cross(ones[0], y) / n
    vx, vy = cross(x * x, ones[1]) / n - sx**2, cross(ones[0], y * y) / n - sy**2
    vx, vy = np.maximum(vx, 0), np.maximum(vy, 0)
    covariance = cross(x, y) / n - sx * sy
    scale = vx + vy + (sx - sy) ** 2 if same else 2 * np.sqrt(vx * vy)
    floor = 1e-9 * (float(x.var()) + float(y.var()))
    match = np.where(scale > floor, 2 * covariance / np.maximum(scale, floor), 0.0)
    return np.arange(1 - b.size, a.size, dtype=np.float64), match, n


def _best(shifts: Floats, match: Floats, overlap: Floats, step: float) -> Alignment:
    top = int(np.argmax(match))
    peak = float(match[top])
    move, bend = 0.0, 0.0
    if 0 < top < match.size - 1 and match[top - 1] > -1 and match[top + 1] > -1:
        left, right = float(match[top - 1]), float(match[top + 1])
        bend = max(2 * peak - left - right, 0.0)
        move = 0.5 * (right - left) / bend if bend > 0 else 0.0
    low, high = _lobe(match, top)
    elsewhere = np.concatenate([match[:low], match[high + 1 :]])
    rival = max(float(elsewhere.max()), 0.0) if elsewhere.size else 0.0
    # 1 - match is the misfit: the shift that doubles it, over the root of the number of
    # samples, and twice that, because both records carry noise (checked by simulation)
    doubling = float(np.sqrt(2 * max(1 - peak, 0) / bend)) if bend > 0 else np.inf
    u = 2 * step * max(0.5, doubling) / float(np.sqrt(max(overlap[top] * match.size / 2, 1.0)))
    return Alignment(
        float(shifts[top]) + move * step,
        peak,
        rival,
        float(overlap[top]),
        u,
        _refusal(peak, rival, top in (0, match.size - 1)),
    )


def _lobe(match: Floats, top: int) -> tuple[int, int]:
    """First and last lag around the best one down to where the match rises again."""
    low = high = top
    while low > 0 and match[low - 1] <= match[low] + 1e-12:
        low -= 1
    while high < match.size - 1 and match[high + 1] <= match[high] + 1e-12:
        high += 1
    return low, high


def _refusal(peak: float, rival: float, at_end: bool) -> str | None:
    if peak < MIN_MATCH:
        return f"The best match is {peak:.2f}; below {MIN_MATCH:.2f} the two courses differ."
    if at_end:
        return "The best match lies at the end of the search: the true shift may be outside it."
    if 1 - rival < 2 * (1 - peak) + 1e-6:
        return f"Another shift matches almost as well ({rival:.3f} against {peak:.3f})."
    return None


# The finer shift

ROUNDS = 12  # of the least squares; three are enough where they converge at all
SETTLED = 0.01  # of the logger's step
SMOOTHED = 0.6  # [s] of the pull's course, at least: shorter than what counts in a sweep


def refined(
    time: ArrayLike,
    channel: ArrayLike,
    log_time: ArrayLike,
    log_channel: ArrayLike,
    found: Alignment,
    u_gain: float,
) -> Alignment:
    """The shift by least squares from where `align_by_time` found it, with its uncertainty.

    Formula: the sum of (g b_j - a(t_j + shift))^2 over the log's rows b_j that fall into the pull
    is least in the shift and a gain g, of which (g - 1) has the standard deviation `u_gain`: two
    road speeds differ by their tyres, two engine speeds hardly. a is the pull's course by a local
    parabola over 0.6 s or 3 rows. Inputs as `align_by_time`. Result: the Alignment with the finer
    shift [s] and u_shift [s]: that of the fit, widened by how long one residual resembles the next,
    and a row that may be as old as the logger's step, a uniform doubt of step / sqrt(12) (JCGM
    100:2008, 4.3.7). Where it does not settle, `found` is given back with
    no less than the logger's step for u_shift.
    """
    t1, a = _record(time, channel, "pull")
    t2, b = _record(log_time, log_channel, "log")
    step = median(np.diff(np.unique(t2)))
    width = max(SMOOTHED, 6 * median(np.diff(np.unique(t1))))
    places = np.linspace(t1[0], t1[-1], min(max(int(np.ptp(t1) / (width / 12)), 32), 4000))
    fit = local_quadratic(t1, a, places, width)
    good = np.isfinite(fit.values) & np.isfinite(fit.slope)
    rough = replace(found, u_shift=max(found.u_shift, step))
    if good.sum() < 5:
        return rough
    course = _Course(places[good], fit.values[good], fit.slope[good])
    shift, gain = found.shift, 1.0
    for _ in range(ROUNDS):
        solved = _solved(course, t2, b, shift, gain, u_gain)
        if solved is None:
            return rough
        move, gain, residual, u_fit = solved
        shift += move
        if abs(move) < SETTLED * step:
            break
    # Rows that come in and go out at the ends move it a little for ever; more is no answer.
    if abs(move) > step / 4 or abs(shift - found.shift) > 4 * max(step, width):
        return rough
    u = float(np.hypot(u_fit * _resemblance(residual), step / np.sqrt(12)))
    return replace(found, shift=shift, u_shift=u)


@dataclass(frozen=True)
class _Course:
    """A smooth course over time: places [s], values and slopes [1/s] there."""

    at: Floats
    values: Floats
    slope: Floats


def _solved(
    course: _Course, t: Floats, b: Floats, shift: float, gain: float, u_gain: float
) -> tuple[float, float, Floats, float] | None:
    """One round: the move of the shift, the gain, the residuals, u of the shift."""
    places = t + shift
    inside = (places >= course.at[0]) & (places <= course.at[-1])
    if inside.sum() < 5:
        return None
    values = np.interp(places[inside], course.at, course.values)
    slope = np.interp(places[inside], course.at, course.slope)
    residual = gain * b[inside] - values
    spread = float(np.sqrt(np.mean(residual**2)))
    noise = max(spread, 1e-6 * float(np.ptp(course.values)))
    normal = np.array([[slope @ slope, -slope @ b[inside]],
                       [-slope @ b[inside], b[inside] @ b[inside]]])  # fmt: skip
    pull = np.array([slope @ residual, -(b[inside] @ residual)])
    prior = (noise / u_gain) ** 2
    normal[1, 1] += prior
    pull[1] -= prior * (gain - 1)
    if np.linalg.cond(normal) > 1e14:
        return None
    move = np.linalg.solve(normal, pull)
    return (
        float(move[0]),
        gain + float(move[1]),
        residual,
        noise * float(np.sqrt(np.linalg.inv(normal)[0, 0])),
    )


def _resemblance(residual: Floats) -> float:
    """How much wider an uncertainty is because one residual resembles the next [-], from 1."""
    centred = residual - residual.mean()
    own = float(centred @ centred)
    likeness = float(centred[1:] @ centred[:-1]) / own if own > 0 else 0.0
    likeness = min(max(likeness, 0.0), 0.9)
    return float(np.sqrt((1 + likeness) / (1 - likeness)))
