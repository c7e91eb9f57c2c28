"""How often a measured gain's interval holds the truth, by simulation. Run by hand:

    python tests/benchmarks/bench_gains.py [sessions] [seed]     (4000, 2026)

Each case is a car measured before and after a change of known gain, three pulls a side on two
days, on a dyno whose own scatter between days is drawn for each shop, log-normally about 1.06 % a
visit (factor 1.65). Pulls scatter by 0.6 % in level, their noise of 0.15 % is correlated over
400 rpm. `stated`: the shop's true figure; `default`: the usual one; `learned`: from so many repeat
visits. `unequal`: one pull of three is lifted early. Common practice, no source, for all figures.
"""

from __future__ import annotations

import math
import sys
from itertools import product
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from buildlog.physics.numerics.between_days import RepeatVisit, between_days
from buildlog.physics.numerics.levelling import Levelled, levelled
from buildlog.physics.numerics.repeatability import (
    DifferenceSource,
    combine_differences,
    combine_scatter,
    half_width_95,
    mean_half_width,
    pooled_scatter,
)

GRID = np.arange(2000.0, 6501.0, 50.0)
TRUE = 300 * (1 - 0.2 * ((GRID - 4400) / 2200) ** 2) * GRID / 6000
KEEP = math.exp(-50 / 400)
WAYS: tuple[str | int, ...] = ("stated", "default", 2, 3, 5, 12)


def pulls(rng: np.random.Generator, level: float, unequal: bool, count: int = 3) -> np.ndarray:
    """Pulls of one visit (n, g)."""
    white = rng.standard_normal((count, GRID.size))
    for i in range(1, GRID.size):
        white[:, i] = KEEP * white[:, i - 1] + math.sqrt(1 - KEEP**2) * white[:, i]
    rows = TRUE * level * (1 + 0.006 * rng.standard_normal((count, 1)) + 0.0015 * white)
    if unequal:
        rows[0, rng.uniform(4500, 5800) < GRID] = np.nan
    return rows


def one(rng: np.random.Generator, gain: float, unequal: bool, way: str | int) -> tuple[bool, bool]:
    """Whether the interval of the mean gain holds the truth, and whether it says "larger"."""
    spread = 0.0106 * math.exp(math.log(1.65) * rng.standard_normal())
    day = lambda: 1 + spread * rng.standard_normal()  # noqa: E731
    before, after = pulls(rng, day(), unequal), pulls(rng, (1 + gain) * day(), unequal)
    scatter = combine_scatter(
        [found for rows in (before, after) if (found := pooled_scatter([rows]))]
    )
    assert scatter is not None
    known = {}
    if way == "stated":
        text = "another day, stated"
        known["another day"] = DifferenceSource("another day", text, math.sqrt(2) * spread)
    elif isinstance(way, int):
        visits = [
            RepeatVisit(float(levelled(pulls(rng, day(), False), 6).mean.mean()), 3, 9 * n)
            for n in range(way)
        ]
        found = between_days([visits], scatter.s)
        assert found is not None
        known["another day"] = found.source
    u, _ = combine_differences(["another day"], known)
    sides = [levelled(rows, 6) for rows in (before, after)]
    measured = float(np.mean(sides[1].mean) / np.mean(sides[0].mean)) - 1
    base = half_width_95(scatter, 3, 3, u)
    own = mean_half_width(scatter, 1)
    half = math.sqrt(base**2 + own**2 * sum(_fewer(side) for side in sides)) * (1 + gain / 2)
    return abs(measured - gain) <= half, abs(measured) > half


def _fewer(side: Levelled) -> float:
    return float(np.mean(side.widening() ** 2 - 1)) / 3


def main() -> None:
    """Print every case and the pool."""
    total = int(sys.argv[1]) if len(sys.argv) > 1 else 4000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 2026
    cases = list(product((0.0, 0.02, 0.05), (False, True), WAYS))
    each = max(total // len(cases), 1)
    print(f"{each} sessions a case, {each * len(cases)} in all")
    print("gain  pulls    day      holds   said larger")
    inside = said = nothing = 0
    for n, (gain, unequal, way) in enumerate(cases):
        rng = np.random.default_rng([seed, n])
        found = [one(rng, gain, unequal, way) for _ in range(each)]
        holds, larger = (sum(column) for column in zip(*found, strict=True))
        inside += holds
        if gain == 0:
            said, nothing = said + larger, nothing + each
        how = f"{way} visits" if isinstance(way, int) else way
        kind = "unequal" if unequal else "equal"
        print(f"{gain:4.0%}  {kind:8s} {how:9s} {holds / each:6.1%}  {larger / each:6.1%}")
    print(f"pool: holds {inside / (each * len(cases)):.1%}; false larger {said / nothing:.1%}")


if __name__ == "__main__":
    main()
