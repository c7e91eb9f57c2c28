"""Drag from coast-down files: A, B and C of a car's road load or of an empty dyno."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from buildlog.analysis.pulls.pull_data import Floats
from buildlog.errors import InvalidInput, refused_at
from buildlog.findings import how_many
from buildlog.physics.traces import roadload
from buildlog.physics.traces.roadload import RoadLoad

LEAST_ROWS = 20


@dataclass(frozen=True)
class CoastDown:
    """The fitted drag, the mass [kg] that slows down (of a drum: inertia over radius squared),
    what it is in words, whether it is an empty dyno's, and how many runs stand behind it."""

    load: RoadLoad
    effective_mass: float
    what: str
    drum: bool
    runs: int

    @property
    def u(self) -> tuple[float, float, float]:
        """Standard uncertainties of A [N], B [N*s/m] and C [N*s^2/m^2]."""
        spread = self.load.covariance
        if spread is None:
            return (float("nan"),) * 3
        a, b, c = np.sqrt(np.maximum(np.diag(spread), 0.0)).tolist()
        return a, b, c


def coasted(time: Floats, speed: Floats, name: str) -> tuple[Floats, Floats]:
    """The part of a recording in which the car coasts: from its highest speed on.

    InvalidInput names the file where it holds no coast-down.
    """
    known = np.isfinite(time) & np.isfinite(speed)
    t, v = time[known], speed[known]
    if t.size:
        first = int(np.argmax(v))
        last = first + int(np.argmin(v[first:])) + 1
        t, v = t[first:last], v[first:last]
    if t.size < LEAST_ROWS:
        raise InvalidInput(
            f"only {how_many(t.size, 'row')} of a coast-down; at least {LEAST_ROWS} are needed",
            where=name,
            hint="log from the moment the clutch is down until the car is slow",
        )
    return t, v


def car_mass(mass: float) -> float:
    """Mass [kg] that a coasting car slows down, with its wheels by the 3 % rule of UN GTR 15."""
    return mass + roadload.rotating_mass(mass)


def drum_mass(inertia: float, circumference: float) -> float:
    """Mass [kg] at the roller's surface that an empty drum of this inertia [kg*m^2] is worth."""
    return inertia / (circumference / (2 * math.pi)) ** 2


def coast_down(
    runs: Sequence[tuple[Floats, Floats]], effective_mass: float, what: str, drum: bool
) -> CoastDown:
    """Fit A, B and C of the drag at the tyre's or roller's surface to coast-down runs."""
    with refused_at("the coast-down"):
        load = roadload.coast_down(list(runs), effective_mass)
    return CoastDown(load, effective_mass, what, drum, len(runs))
