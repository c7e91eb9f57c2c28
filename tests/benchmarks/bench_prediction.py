"""How long a whole prediction takes: run as a script; prints seconds and a ratio.

4 096 draws x 80 engine speeds x all structures, attribution over 64 subsets on 1 024 of the
draws, dominance and bands included. The ratio is to the same count of plain numpy
exponentials in the same run, so that machines can be compared.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from math import pi
from pathlib import Path
from time import perf_counter

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))
sys.path.insert(0, str(Path(__file__).parents[1] / "physics"))
from prediction_cases import PRIORS, UNBOOSTED, mild

from buildlog.physics.engines.cycle import typical_full_load_power
from buildlog.physics.engines.ensemble import predict
from buildlog.physics.engines.model import STRUCTURES
from buildlog.physics.engines.state import Anchor

DRAWS, SPEEDS, SUBSETS, PART = 4096, 80, 64, 1024
LIMIT_SECONDS = 2.0


def case() -> tuple[Anchor, object]:
    omega = np.linspace(2000, 6000, SPEEDS) * pi / 30
    power = 0.85 * typical_full_load_power(omega, 112e3, 5600 * pi / 30)
    return Anchor(tuple(omega), tuple(power)), mild(compression_ratio=8.8)


def timed(work) -> tuple[float, object]:
    start = perf_counter()
    result = work()
    return perf_counter() - start, result


def main() -> int:
    anchor, after = case()
    before = replace(UNBOOSTED)
    runs = [timed(lambda: predict(anchor, before, after, PRIORS, draws=DRAWS)) for _ in range(5)]
    seconds = min(t for t, _ in runs)
    results = [r for _, r in runs]
    count = (DRAWS + SUBSETS * PART) * SPEEDS * len(STRUCTURES)
    sample = np.linspace(-1, 1, PART * SPEEDS)
    plain = min(timed(lambda: _exponentials(sample, count))[0] for _ in range(3))
    groups = len(results[0].attribution.shares)
    same = all(
        np.array_equal(results[0].ratios, r.ratios) and results[0].attribution == r.attribution
        for r in results
    )
    print(f"subsets           {2**groups}")
    print(f"prediction        {seconds:.3f} s, best of {len(runs)} (limit {LIMIT_SECONDS} s)")
    print(f"exponentials      {plain:.3f} s for {count:,}")
    print(f"ratio             {seconds / plain:.1f}")
    print(f"same for one seed {same}")
    return 0 if seconds < LIMIT_SECONDS and same and 2**groups == SUBSETS else 1


def _exponentials(sample: np.ndarray, count: int) -> None:
    for _ in range(count // sample.size):
        np.exp(sample)


if __name__ == "__main__":
    raise SystemExit(main())
