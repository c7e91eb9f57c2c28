"""Road load from coast-down files: A, B and C with what they are worth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from buildlog.analysis.pull_data import Floats
from buildlog.errors import InvalidInput
from buildlog.physics import roadload
from buildlog.physics.roadload import RoadLoad

LEAST_ROWS = 20


@dataclass(frozen=True)
class CoastDown:
    """The fitted road load, the mass it rests on [kg], and how many runs stand behind it."""

    load: RoadLoad
    mass: float
    effective_mass: float
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
            f"only {t.size} rows belong to a coast-down; at least {LEAST_ROWS} are needed",
            where=name,
            hint="log from the moment the clutch is down until the car is slow",
        )
    return t, v


def coast_down(runs: Sequence[tuple[Floats, Floats]], mass: float) -> CoastDown:
    """Fit A, B and C; the wheels' rotating mass is taken by the 3 % rule of UN GTR 15."""
    effective = mass + roadload.rotating_mass(mass)
    try:
        load = roadload.coast_down(list(runs), effective)
    except ValueError as error:
        raise InvalidInput(str(error), where="the coast-down") from None
    return CoastDown(load, mass, effective, len(runs))
