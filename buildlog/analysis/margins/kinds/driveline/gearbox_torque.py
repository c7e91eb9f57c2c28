"""Gearbox torque: the highest torque at its input of what the gearbox is rated for."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, Row, at_crank, row
from buildlog.analysis.margins.figures.shaft_demand import behind_primary, crank_torque
from buildlog.records.checked_paths import field

KIND = Kind(
    name="gearbox torque",
    unit="N*m",
    caution=0.10,
    meaning="The engine's highest torque against the input torque that the gearbox is rated for.",
    formula="engine torque of the rated input torque",
    source="definition",
    typical="10 % in hand; it lasts longer with more (common practice)",
    says_not="how shocks and hard shifts shorten its life",
    power_driven=True,
)
EXAMPLE = Example(
    by_hand="382 N*m at the crank, of 420 N*m",
    demand=382.0,
    capacity=420.0,
    car={"gearbox.rated_torque": "420 N*m"},
    run=at_crank(200e3, 600.0, torque=382.0),
)

_RATED = stated_limit("gearbox.rated_torque", "torque")
_MOTOR_TORQUE = field("motor.rated_torque")


def rows(car: MarginCar) -> Iterator[Row]:
    """One; an electric car need not have a gearbox."""
    if car.combustion or car.configuration.gearbox is not None:
        torque = crank_torque(car) if car.combustion else car.given(_MOTOR_TORQUE)
        yield row(KIND, behind_primary(car, torque), car.limit(_RATED))
