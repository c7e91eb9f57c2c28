"""Uncertain inputs and how they are drawn: distributions and a sliced Latin hypercube."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from statistics import NormalDist
from typing import Protocol
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Distribution(Protocol):
    """Anything with an inverse of its cumulative distribution."""

    def ppf(self, u: Array) -> Array:
        """Return the value below which a share u of the distribution lies."""
        ...


@dataclass(frozen=True)
class Triangular:
    """Lowest, most likely and highest value: what people can say of an input they know."""

    low: float
    mode: float
    high: float

    def __post_init__(self) -> None:
        if not (self.low <= self.mode <= self.high and self.low < self.high):
            raise ValueError(
                f"a triangular distribution needs low <= mode <= high, not {self.low}, "
                f"{self.mode}, {self.high}."
            )

    def ppf(self, u: Array) -> Array:
        """Inverse cumulative distribution."""
        width, left = self.high - self.low, self.mode - self.low
        rising = self.low + np.sqrt(u * width * left)
        falling = self.high - np.sqrt((1 - u) * width * (self.high - self.mode))
        return np.where(u * width < left, rising, falling)


@dataclass(frozen=True)
class Uniform:
    """Every value between two ends alike: for a band stated without a middle."""

    low: float
    high: float

    def __post_init__(self) -> None:
        if not self.low < self.high:
            raise ValueError(
                f"a uniform distribution needs low < high, not {self.low}, {self.high}."
            )

    def ppf(self, u: Array) -> Array:
        """Inverse cumulative distribution."""
        return self.low + u * (self.high - self.low)


@dataclass(frozen=True)
class Normal:
    """Mean and standard deviation."""

    mean: float
    sd: float

    def __post_init__(self) -> None:
        if not self.sd > 0:
            raise ValueError(f"a standard deviation must be above zero, not {self.sd}.")

    def ppf(self, u: Array) -> Array:
        """Inverse cumulative distribution."""
        z = _normal_quantiles(u)
        return self.mean + self.sd * z


def _normal_quantiles(u: Array) -> Array:
    # The standard library's: scipy.special takes longer to load than a prediction to work out.
    quantile = NormalDist().inv_cdf
    return np.fromiter(map(quantile, u.ravel().tolist()), np.float64, u.size).reshape(u.shape)


@dataclass(frozen=True)
class LogNormal:
    """Median and standard deviation of the natural logarithm."""

    median: float
    sigma: float

    def __post_init__(self) -> None:
        if not (self.median > 0 and self.sigma > 0):
            raise ValueError(
                f"median and sigma must be above zero, not {self.median} and {self.sigma}."
            )

    def ppf(self, u: Array) -> Array:
        """Inverse cumulative distribution."""
        z = _normal_quantiles(u)
        return self.median * np.exp(self.sigma * z)


@dataclass(frozen=True)
class Uncertain:
    """An input that is not known exactly. Inputs of one name share their draws."""

    name: str
    distribution: Distribution

    def median(self) -> float:
        """The middle value."""
        return float(self.distribution.ppf(np.array(0.5)))


def latin_hypercube(
    names: Iterable[str], count: int, seed: int, slices: int = 4
) -> dict[str, Array]:
    """Return stratified probabilities in (0, 1), one row of `count` for each name.

    Formula: sliced Latin hypercube: over all draws each of `count` equal intervals holds one
    value, at its middle; over each of the `slices` consecutive parts each of count/slices
    intervals holds one, so that a part is itself a fair sample.
    Inputs: names, count of draws (a multiple of slices), seed, slices.
    Result: probabilities, arrays of shape (count,). A name's row depends on seed and name
    only: adding an input leaves all others as they were.
    Errors: ValueError if count is not a multiple of slices.
    Source: McKay, Beckman and Conover, Technometrics 21 (1979); Qian, Sliced Latin hypercube
    designs, JASA 107 (2012) (both from memory).

    >>> [float(x) for x in sorted(latin_hypercube(["a"], 4, 1)["a"])]
    [0.125, 0.375, 0.625, 0.875]
    """
    if count <= 0 or count % slices:
        raise ValueError(f"the number of draws must be a multiple of {slices}, not {count}.")
    return {name: _row(name, count, seed, slices) for name in names}


def _row(name: str, count: int, seed: int, slices: int) -> Array:
    random = np.random.default_rng([seed, crc32(name.encode())])
    strata = np.arange(count).reshape(-1, slices)
    dealt = random.permuted(strata, axis=1).T
    return (random.permuted(dealt, axis=1).ravel() + 0.5) / count


def weighted_quantiles(
    values: Array, weights: Array, probabilities: Iterable[float]
) -> list[Array]:
    """Return quantiles of weighted draws along the first axis.

    Formula: linear between the sorted values placed at the middle of their weight
    (the Hazen position for equal weights).
    Inputs: values (draws, ...), weights (draws,), probabilities [-].
    Result: one array of the remaining shape for each probability.
    Validity: any positive weights. Errors: none. Source: Hazen plotting position (from memory).

    >>> weighted_quantiles(np.array([3.0, 1.0, 2.0]), np.ones(3), [0.5])
    [np.float64(2.0)]
    """
    if len(values) == 1:
        return [values[0] for _ in probabilities]
    order = np.argsort(values, axis=0)
    ordered = np.take_along_axis(values, order, axis=0)
    heights = weights[order]
    position = (np.cumsum(heights, axis=0) - heights / 2) / weights.sum()
    return [_interpolate(ordered, position, p) for p in probabilities]


def _interpolate(ordered: Array, position: Array, probability: float) -> Array:
    above = np.clip((position < probability).sum(axis=0), 1, len(ordered) - 1)[None]
    low, high = (np.take_along_axis(ordered, above - i, axis=0)[0] for i in (1, 0))
    start, end = (np.take_along_axis(position, above - i, axis=0)[0] for i in (1, 0))
    share = np.clip((probability - start) / (end - start), 0, 1)
    result: Array = low + share * (high - low)
    return result
