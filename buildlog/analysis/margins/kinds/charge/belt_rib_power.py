"""Belt power per rib: the compressor's power shared by the ribs, of the maker's figure for one."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.charge_demand import compressor_power
from buildlog.analysis.margins.figures.demand_figure import derive
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.physics.parts import belt
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)

_RIBS = field("induction.belt.ribs")
_RATED = stated_limit("induction.belt.rated_power_per_rib")


def rows(car: MarginCar) -> Iterator[Row]:
    """One, where the engine drives the compressor."""
    if car.driven and car.combustion:
        each = derive(
            lambda power, ribs: belt.power_per_rib(power, int(ribs)),
            compressor_power(car), car.given(_RIBS),
        )  # fmt: skip
        yield row(KIND, each, car.limit(_RATED))
