"""Clutch torque: the engine's highest torque of what the clutch holds without slipping."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.analysis.margins.figures.shaft_demand import behind_primary, crank_torque
from buildlog.physics.parts import clutch
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)

_RATED = stated_limit("clutch.rated_torque", "torque")
_FRICTION = field("clutch.friction_coefficient")
_GEOMETRY = (
    field("clutch.clamp_force"), field("clutch.outer_diameter"), field("clutch.inner_diameter"),
    field("clutch.faces"),
)  # fmt: skip


def rows(car: MarginCar) -> Iterator[Row]:
    """One, unless an automatic has a converter in its place."""
    box = car.configuration.gearbox
    if car.combustion and not (box is not None and box.kind == "automatic"):
        torque = behind_primary(car, crank_torque(car))
        yield row(KIND, torque, car.limit(_RATED), _computed(car))


def _computed(car: MarginCar) -> DemandFigure:
    """From geometry, friction and clamp force, with the service factor [N*m]."""
    given = car.configuration.clutch
    friction = car.given(_FRICTION)
    if friction.band is None and given is not None and given.kind == "organic":
        friction = car.prior("clutch_friction")  # that of an organic facing
    return derive(
        lambda mu, force, outer, inner, faces, factor: clutch.usable_torque(
            clutch.capacity_uniform_wear(mu, force, outer, inner, int(faces)), factor
        ),
        friction, *(car.given(path) for path in _GEOMETRY), car.prior("clutch_service_factor"),
    )  # fmt: skip
