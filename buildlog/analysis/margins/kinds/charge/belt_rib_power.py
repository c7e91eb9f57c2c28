"""Belt power per rib: the compressor's power shared by the ribs, of the maker's figure for one."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.charge_demand import compressor_power
from buildlog.analysis.margins.figures.demand_figure import derive
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, Row, at_crank, row
from buildlog.physics.parts import belt
from buildlog.records.checked_paths import field

KIND = Kind(
    name="belt power per rib",
    unit="W",
    caution=0.10,
    meaning="The compressor's power shared by the ribs, against the maker's figure for one rib.",
    formula="P/ribs",
    source="definition",
    typical="2 to 5 kW for each rib (common practice)",
    says_not="how long the belt lasts at that load",
    power_driven=True,
)
EXAMPLE = Example(
    by_hand="251.6 g/s x 1005 J/(kg K) x 52.06 K/0.9447 = 13.93 kW on 6 ribs = 2322 W each, "
    "of 4 kW",
    demand=2322.0,
    capacity=4e3,
    car={
        "fuel.kind": "gasoline", "fuel.ethanol_content": "0 percent",
        "induction.kind": "centrifugal", "induction.compressor.efficiency": 0.70,
        "induction.belt.ribs": 6, "induction.belt.rated_power_per_rib": "4 kW",
    },
    run=at_crank(200e3, 600.0, boost=50.66e3),
)  # fmt: skip

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
