"""The mean of pulls of unequal length: each pull's own level first, so that no pull's end shows.

y_i(x) = k_i m(x) (1 + e): one pull lies above another by a share, whatever the place. The mean at a
place is the sum of the pulls that were there over the sum of their levels; where all were, that is
their plain mean. Sources: alternating least squares from a median polish (J. W. Tukey, Exploratory
Data Analysis (1977) [from memory]); what counts as shared is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buildlog.physics.numerics.regression import Floats

LEAST_SHARED = 0.25  # of the shorter pull's range: over less of it no level can be told
_ROWS_FOR_LEVEL = 0.3  # of the highest value: lower rows are the foot of a pull
_NEAR = 0.05  # relative: a row further from the mean is a pull's own affair
_ROUNDS = 50
_FALL = 0.15  # of the highest force, over `run_out`: no engine falls so fast but at its limiter


@dataclass(frozen=True)
class Levelled:
    """`mean` (g,) in the unit of the pulls, NaN where none was; `count` (g,) how many were there.

    `levels` (n,), 1 on average; all are 1 where the pulls share too little (`told` is False).
    `level_share` [-]: how much of the variance of one pull is that of its level.
    """

    mean: Floats
    count: NDArray[np.intp]
    levels: Floats
    told: bool
    level_share: float

    def widening(self) -> Floats:
        """Half-width of the mean at each place over that of a mean of all pulls (g,), from 1."""
        n = len(self.levels)
        own = 1 - self.level_share
        with np.errstate(divide="ignore"):
            return np.sqrt(self.level_share + own * n / self.count)


def levelled(curves: ArrayLike, fade: int, force: ArrayLike | None = None) -> Levelled:
    """The mean of pulls on one grid.

    Inputs: curves (n, g), NaN where a pull has no data; `fade`: places over which what is left of
    a step fades out behind a pull's end (or before its start); `force` (n, g), what its run-out
    is known by (power over axis), the curves themselves without it. A pull's run-out is no
    coverage where another pull goes on. Errors: none; a place without data is NaN.

    >>> nan = float("nan")
    >>> both = [[100, 110, 120, nan, nan], [102, 112.2, 122.4, 132.6, 142.8]]
    >>> [round(float(x), 1) for x in levelled(both, 0).mean]
    [101.0, 111.1, 121.2, 131.3, 141.4]
    """
    y = np.atleast_2d(np.asarray(curves, dtype=np.float64))
    there = _covered(y if force is None else np.atleast_2d(np.asarray(force)), max(fade, 1))
    there &= np.isfinite(y)
    told = len(y) > 1 and _shares_enough(there)
    levels, share = _levels(y, there) if told else (np.ones(len(y)), 1.0)
    with np.errstate(invalid="ignore"):
        mean = np.where(there, y, 0.0).sum(axis=0) / (there * levels[:, None]).sum(axis=0)
    mean = mean * _eased(y, there, levels, fade) if fade else mean
    return Levelled(mean, there.sum(axis=0), levels, told or len(y) == 1, share)


def _covered(force: Floats, reach: int) -> NDArray[np.bool_]:
    """Where each pull counts: without its run-out, unless no pull goes on there."""
    finite = np.isfinite(force)
    kept = finite.copy()
    for row, pull in zip(kept, force, strict=True):
        places = np.flatnonzero(np.isfinite(pull))
        top = float(pull[places].max()) if places.size else 0.0
        while places.size > reach and pull[places[-1 - reach]] - pull[places[-1]] > _FALL * top:
            row[places[-1]] = False
            places = places[:-1]
    return np.where(kept.any(axis=0), kept, finite)


def _eased(y: Floats, there: NDArray[np.bool_], levels: Floats, fade: int) -> Floats:
    """Factors (g,) that take out the step the mean makes where a pull ends, over `fade` places.

    Just inside the end, the mean of all that are there over that of those that go on is what the
    step would be; it fades out behind the end, so that within the common range nothing changes.
    """
    factor = np.ones(y.shape[1])
    outward = np.arange(1, fade + 1)
    for at in np.flatnonzero((there[:, 1:] != there[:, :-1]).any(axis=0)):
        upward = there[:, at].sum() >= there[:, at + 1].sum()
        inner, sign = (int(at), 1) if upward else (int(at) + 1, -1)
        stay = there[:, inner] & there[:, inner + sign]
        if not stay.any():
            continue
        all_there, on = (
            y[held, inner].sum() / levels[held].sum() for held in (there[:, inner], stay)
        )
        places = inner + sign * outward
        known = (places >= 0) & (places < factor.size)
        factor[places[known]] *= 1 + (all_there / on - 1) * (1 - outward[known] / (fade + 1))
    return factor


def _shares_enough(there: NDArray[np.bool_]) -> bool:
    shared = int(there.all(axis=0).sum())
    return shared >= max(2, LEAST_SHARED * int(there.sum(axis=1).min()))


def _levels(y: Floats, there: NDArray[np.bool_]) -> tuple[Floats, float]:
    """Levels (1 on average), and the share of one pull's variance that is its level's."""
    high = there & (np.where(there, y, 0.0) > _ROWS_FOR_LEVEL * float(np.nanmax(y)))
    both = high & (high.sum(axis=0) > 1)
    if not both.any(axis=1).all():
        return np.ones(len(y)), 1.0
    rows = np.where(both, y, np.nan)[:, both.any(axis=0)]
    middle = np.nanmean(rows, axis=0) if len(y) == 2 else np.nanmedian(rows, axis=0)
    levels = _scaled(np.nanmedian(rows / middle, axis=1))
    rows = np.where(np.abs(rows / (levels[:, None] * middle) - 1) < _NEAR, rows, np.nan)
    for _ in range(_ROUNDS):
        held = np.isfinite(rows)
        weights = (held * levels[:, None] ** 2).sum(axis=0)
        weights = np.where(weights > 0, weights, np.nan)
        middle = np.nansum(rows * levels[:, None], axis=0) / weights
        square = np.nansum(held * middle**2, axis=1)
        levels = _scaled(np.nansum(rows * middle, axis=1) / np.where(square > 0, square, np.nan))
        if not np.isfinite(levels).all():
            return np.ones(len(y)), 1.0
    return levels, _level_share(rows / (levels[:, None] * middle) - 1, levels)


def _scaled(levels: Floats) -> Floats:
    scaled: Floats = levels / levels.mean()
    return scaled


def _level_share(residuals: Floats, levels: Floats) -> float:
    shared = residuals[:, np.isfinite(residuals).all(axis=0)]
    own = float((shared**2).sum()) / max((len(levels) - 1) * shared.shape[1], 1)
    between = float(levels.var(ddof=1))
    return between / (between + own) if between + own > 0 else 1.0
