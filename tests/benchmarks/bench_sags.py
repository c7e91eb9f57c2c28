"""Rates of the sag search: false alarms, and dips found, over kinds of curve and of noise.

Run: python tests/benchmarks/bench_sags.py [sets]   (default 200 per line)
One set = 3 pulls of one smooth curve on a 50 rpm grid, each with its own AR(1) noise of
0.3 to 0.8 % standard deviation (uniform) and the stated lag-one correlation per 50 rpm;
"any" draws it uniformly from 0 to 0.9. A dip is planted at a random place at least
800 rpm from the ends; "half" is 300 rpm wide at half depth, "foot" 300 rpm from foot to foot.
An alarm counts whether it is said of all pulls or of one. Found = a sag within 100 rpm.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable

import numpy as np

from buildlog.physics.traces.sags import Sags, find_sags

RPM = math.pi / 30
GRID = np.arange(2000, 6501, 50.0)
Curve = Callable[[np.random.Generator], np.ndarray]


def hump(rng: np.random.Generator) -> np.ndarray:
    """Naturally aspirated: one broad hump of torque."""
    return 200 * (1 - rng.uniform(0.10, 0.35) * ((GRID - rng.uniform(3500, 5000)) / 2200) ** 2)


def rising(rng: np.random.Generator) -> np.ndarray:
    """Positive displacement: nearly flat or rising torque."""
    return 120 + rng.uniform(0, 90) * (GRID - 2000) / 4500


def falling(rng: np.random.Generator) -> np.ndarray:
    """Small turbocharger: flat, then fading toward the end."""
    fade = np.clip((GRID - rng.uniform(3500, 5500)) / 2500, 0, None)
    return 300 * (1 - rng.uniform(0.1, 0.3) * fade**2)


def boost(rng: np.random.Generator) -> np.ndarray:
    """Large turbocharger: torque that rises steeply with boost, then holds."""
    rise = 1 / (1 + np.exp(-(GRID - rng.uniform(1800, 3500)) / rng.uniform(150, 350)))
    return rng.uniform(100, 200) + rng.uniform(100, 250) * rise


SMOOTH: tuple[Curve, ...] = (hump, rising, falling)
ALL: tuple[Curve, ...] = (*SMOOTH, boost)


def noise(rng: np.random.Generator, pulls: int, correlation: float) -> np.ndarray:
    white = rng.standard_normal((pulls, GRID.size))
    red = white.copy()
    for i in range(1, GRID.size):
        red[:, i] = correlation * red[:, i - 1] + math.sqrt(1 - correlation**2) * white[:, i]
    return rng.uniform(0.003, 0.008) * red


def dip(place: float, depth: float, kind: str) -> np.ndarray:
    if kind == "half":
        return 1 - depth * np.exp(-4 * math.log(2) * ((GRID - place) / 300) ** 2)
    u = (GRID - place) / 150
    return 1 - np.where(np.abs(u) < 1, depth * 0.5 * (1 + np.cos(np.pi * u)), 0.0)


def one_set(
    rng: np.random.Generator,
    curves: tuple[Curve, ...],
    correlation: float | None,
    depth: float = 0.0,
    kind: str = "half",
) -> tuple[Sags, float]:
    torque = curves[rng.integers(len(curves))](rng)
    place = float(rng.uniform(2800, 5700))
    lag = float(rng.uniform(0, 0.9)) if correlation is None else correlation
    power = torque * GRID * RPM * dip(place, depth, kind) * np.exp(noise(rng, 3, lag))
    return find_sags(GRID * RPM, power), place


def rates(
    sets: int,
    curves: tuple[Curve, ...],
    correlation: float | None,
    depth: float = 0.0,
    kind: str = "half",
    seed: int = 2026,
) -> tuple[int, int]:
    """(sets with an alarm away from the dip, sets in which the dip was found)."""
    rng = np.random.default_rng(seed)
    alarms = found = 0
    for _ in range(sets):
        sags, place = one_set(rng, curves, correlation, depth, kind)
        off = [abs(s.at / RPM - place) for s in sags.found]
        alarms += bool(off) if depth == 0 else any(o > 100 for o in off)
        found += depth > 0 and any(o <= 100 for o in off)
    return alarms, found


def main() -> None:
    sets = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    start = time.perf_counter()
    print(f"{sets} sets per line; alarms on smooth curves, then found of 2.5 % and 1.2 % dips")
    print("curves  corr   alarms  2.5% half  2.5% foot  1.2% half  1.2% foot")
    for name, curves in (("smooth", SMOOTH), ("boost", (boost,))):
        for lag in (None, 0.0, 0.3, 0.6, 0.8, 0.9):
            cells = [f"{rates(sets, curves, lag)[0] / sets:8.1%}"]
            cells += [
                f"{rates(sets, curves, lag, depth, kind)[1] / sets:10.1%}"
                for depth in (0.025, 0.012)
                for kind in ("half", "foot")
            ]
            print(f"{name:7s} {'any' if lag is None else lag!s:5s}", *cells, flush=True)
    print(f"{time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
