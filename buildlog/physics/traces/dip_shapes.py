"""What a dip of a curve looks like after smoothing, and everything else a curve may do there.

All lengths are in revolutions per minute, or in what stands for them on a road-speed axis. Every
shape is passed through the smoother that made the curve (local quadratic regression with tricube
weights, as a convolution), so that it is compared with what smoothing left of it. Sources:
B-splines (C. de Boor) and stepwise least squares [from memory].
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import pi
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from buildlog.physics.numerics.regression import Floats

_FINE = 12.5  # [rpm] between the points of a shape before smoothing
_FAR = 6000.0  # [rpm] how far to either side of its place a shape is kept
STEP_SCALES = (15.0, 30.0, 60.0, 100.0, 150.0, 250.0, 400.0)
HINGE_SCALES = (15.0, 80.0, 200.0)
BULGES = (100.0, 150.0, 200.0, 300.0, 400.0, 550.0, 750.0, 1000.0)
WAVES = (150.0, 220.0, 300.0, 420.0, 580.0, 800.0, 1100.0)
DECAYS = (0.6, 1.0, 1.7, 3.0)  # of the wavelength
NEAR_WIDTHS = (0.7, 0.84, 1.0, 1.19, 1.41)  # of a dip's width: those tried about it
Shape = Callable[[Any], Any]


def raised_cosine(width: float) -> Shape:
    """A dip by its full width at half depth; nothing beyond one width from its middle."""
    return lambda u: np.where(np.abs(u) < width, 0.5 * (1 + np.cos(pi * u / width)), 0.0)


def _logistic(scale: float) -> Shape:
    return lambda u: 1 / (1 + np.exp(-np.clip(u / scale, -60, 60)))


def _hinge(scale: float) -> Shape:
    return lambda u: scale * np.logaddexp(0, u / scale)


def _damped(wave: float, decay: float, phase: Shape) -> Shape:
    return lambda u: np.where(
        u > 0, np.exp(-np.clip(u, 0, None) / decay) * phase(2 * pi * u / wave), 0.0
    )


def smoothed(shape: Shape, smoothing: float) -> tuple[Floats, Floats]:
    """Places and values of a shape behind a smoother of this full width.

    Kernel: tricube(u) (M4 - M2 u^2)/(M0 M4 - M2^2), M_k the moments of the tricube.
    """
    half = round(smoothing / 2 / _FINE)
    places = np.arange(-_FAR - half * _FINE, _FAR + half * _FINE + 1, _FINE)
    values = shape(places)
    if half < 2:
        return places, values
    u = np.arange(-half, half + 1) / half
    weight = (1 - np.abs(u) ** 3) ** 3
    m0, m2, m4 = (float((weight * u**k).sum()) for k in (0, 2, 4))
    kernel = weight * (m4 - m2 * u * u) / (m0 * m4 - m2 * m2)
    return places[half:-half], np.convolve(values, kernel, "valid")


@lru_cache(maxsize=64)
def _templates(smoothing: float) -> dict[tuple[str, float, float], tuple[Floats, Floats]]:
    """Every shape that does not depend on a dip's width, smoothed, by kind and scale."""
    shapes: dict[tuple[str, float, float], Shape] = {
        **{("step", scale, 0.0): _logistic(scale) for scale in STEP_SCALES},
        **{("hinge", scale, 0.0): _hinge(scale) for scale in HINGE_SCALES},
        **{("bulge", width, 0.0): raised_cosine(width) for width in BULGES},
        ("onset", 0.0, 0.0): lambda u: (u > 0) * 1.0,
    }
    for wave in WAVES:
        for decay in DECAYS:
            shapes["cosine", wave, decay] = _damped(wave, decay * wave, np.cos)
            shapes["sine", wave, decay] = _damped(wave, decay * wave, np.sin)
    return {key: smoothed(shape, smoothing) for key, shape in shapes.items()}


def at_places(made: tuple[Floats, Floats], x: Floats, centres: ArrayLike) -> Floats:
    """A smoothed shape put at several centres (c,), as rows over x: (c, g)."""
    from_centre = x[None, :] - np.atleast_1d(np.asarray(centres, dtype=np.float64))[:, None]
    return np.interp(from_centre, *made)


def dips(width: float, smoothing: float, x: Floats, centres: ArrayLike) -> Floats:
    """Smoothed dips of one width at several centres, as rows over x: (c, g)."""
    return at_places(smoothed(raised_cosine(width), smoothing), x, centres)


def course(x: Floats, spacing: float) -> Floats:
    """An orthonormal basis (g, k) of the cubic splines over x whose knots lie `spacing` apart."""
    pieces = max(1, round(float(x[-1] - x[0]) / spacing))
    z = (x - x[0]) / (float(x[-1] - x[0]) / pieces)
    away = np.abs(z[:, None] - np.arange(-1, pieces + 2)[None, :])
    inner, outer = (4 - 6 * away**2 + 3 * away**3) / 6, np.clip(2 - away, 0, None) ** 3 / 6
    basis: Floats = np.linalg.qr(np.where(away < 1, inner, outer))[0]
    return basis


def freed(rows: Floats, basis: Floats) -> Floats:
    """Rows (c, g) without what a basis (g, k) holds of them."""
    return rows - (rows @ basis) @ basis.T


@dataclass(frozen=True)
class Rivals:
    """Shapes over a window of `size` places, freed of a cubic course and of unit length.

    `cubic` (g, 4) the course; `near` (c, g) dips about the middle, not scaled, with their centres
    and widths in `near_at` (c, 2); `either` (k, g) what may rise or fall; `up` (b, g) bulges.
    """

    cubic: Floats
    near: Floats
    near_at: Floats
    either: Floats
    up: Floats

    @property
    def near_squares(self) -> Floats:
        """Sums of squares of the dips (c,)."""
        squares: Floats = (self.near**2).sum(axis=1)
        return squares


@lru_cache(maxsize=512)
def rivals(size: int, step: float, width: float, smoothing: float, middle: float) -> Rivals:
    """All that competes in a window that begins at 0, about a dip of `width` at `middle`."""
    x, cubic = _window(size, step)
    centres = np.arange(middle - width / 2, middle + width / 2 + 1, 25.0)
    widths = [width * k for k in NEAR_WIDTHS]
    near = np.vstack([freed(dips(w, smoothing, x, centres), cubic) for w in widths])
    near_at = np.array([(c, w) for w in widths for c in centres])
    either, up = _others(size, step, smoothing)
    return Rivals(cubic, near, near_at, either, up)


@lru_cache(maxsize=128)
def _window(size: int, step: float) -> tuple[Floats, Floats]:
    x = step * np.arange(size, dtype=np.float64)
    return x, np.linalg.qr(np.vander(2 * x / x[-1] - 1, 4))[0]


@lru_cache(maxsize=128)
def _others(size: int, step: float, smoothing: float) -> tuple[Floats, Floats]:
    """Steps and hinges, and bulges, from 100 rpm before the window to 100 rpm behind it."""
    x, cubic = _window(size, step)
    places, made = np.arange(-100, x[-1] + 101, 50.0), _templates(smoothing)
    found = [
        freed(
            np.vstack([at_places(made[key], x, places) for key in made if key[0] in kinds]), cubic
        )
        for kinds in (("step", "hinge"), ("bulge",))
    ]
    either, up = (_unit(rows) for rows in found)
    return either, up


def _unit(rows: Floats) -> Floats:
    length: Floats = np.sqrt((rows**2).sum(axis=1))
    kept = length > 1e-4 * float(length.max())
    unit: Floats = rows[kept] / length[kept, None]
    return unit


@lru_cache(maxsize=64)
def ringing(size: int, step: float, smoothing: float, spacing: float) -> tuple[Floats, Floats]:
    """The course of a wide window (g, k), and answers of a damped system to a step, freed of it.

    A step, a damped cosine and a damped sine from one onset as an orthonormal triple (c, g, 3): any
    wave and decay of the lists, from 600 rpm before the window to 100 rpm before its end.
    """
    x = step * np.arange(size, dtype=np.float64)
    basis = course(x, spacing)
    made, onsets = _templates(smoothing), np.arange(-600, x[-1] - 100, 50.0)
    held = freed(at_places(made["onset", 0.0, 0.0], x, onsets), basis)
    triples = [
        np.stack(
            [
                held,
                *(freed(at_places(made[kind, wave, decay], x, onsets), basis) for kind in _WAVY),
            ],
            axis=2,
        )
        for wave in WAVES
        for decay in DECAYS
    ]
    found, sizes = np.linalg.qr(np.concatenate(triples))
    real = np.abs(np.diagonal(sizes, axis1=1, axis2=2)) > 1e-6
    return basis, np.asarray(np.where(real[:, None, :], found, 0.0), dtype=np.float64)


_WAVY = ("cosine", "sine")
