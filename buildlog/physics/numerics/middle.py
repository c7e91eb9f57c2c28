"""The median of a series."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike


def median(values: ArrayLike) -> float:
    """The middle value, or the mean of the middle two; NaN where one is NaN or none is given.

    numpy's own looks into its masked arrays, whose import takes longer than a pull does.

    >>> median([3.0, 1.0, 2.0]), median([4.0, 1.0, 2.0, 3.0])
    (2.0, 2.5)
    """
    ordered = np.sort(np.asarray(values, dtype=float), axis=None)
    if not ordered.size or np.isnan(ordered[-1]):
        return float("nan")
    low, high = ordered[(ordered.size - 1) // 2], ordered[ordered.size // 2]
    return float(np.mean((low, high)))
