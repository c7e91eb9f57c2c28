"""Rail-to-manifold differential: what pushes fuel through the injectors, and the least of it."""

from __future__ import annotations

from buildlog.analysis.margins.figures.margin_car import injects_by_spark, stated_limit
from buildlog.analysis.margins.figures.margin_rows import kind_of, one_row
from buildlog.analysis.margins.figures.rail_pressure import differential

KIND = kind_of(__file__)


rows = one_row(
    KIND, differential, stated_limit("fuel.injectors.least_differential"), injects_by_spark
)
