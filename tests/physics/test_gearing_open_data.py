"""Engine turns per mile against tyre size and overall ratio, on an open table of cars."""

from __future__ import annotations

import math
import statistics
import tomllib
from pathlib import Path

from buildlog.physics.parts import tyres

# Consumer Reports, April 1990 (car90 of the R package rpart); the source stands in the file.
TABLE = Path(__file__).parents[2] / "shared" / "tables" / "turns-per-mile.toml"
MILE = 1609.344  # m


def test_turns_per_mile_of_the_manual_cars_of_1990() -> None:
    errors, factors = [], []
    for size, ratio, turns in tomllib.loads(TABLE.read_text("utf-8"))["rows"]:
        diameter = tyres.diameter(tyres.parse_size(size))
        expected = ratio * MILE / tyres.rolling_circumference(diameter)
        errors.append(turns / expected - 1)
        factors.append(turns / (ratio * MILE / (math.pi * diameter)))
    assert len(errors) >= 60
    assert abs(statistics.median(factors) - 1.032) < 0.004
    assert sum(abs(error) < 0.03 for error in errors) >= 0.94 * len(errors)
