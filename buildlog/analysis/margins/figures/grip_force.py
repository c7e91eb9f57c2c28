"""What the driven tyres can pass to the road."""

from __future__ import annotations

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent, derive
from buildlog.analysis.margins.figures.margin_car import MarginCar, once_a_car
from buildlog.analysis.margins.figures.shaft_demand import driven_wheels
from buildlog.physics.parts import traction
from buildlog.records.checked_paths import field

_DRIVEN_WHEELS = field("chassis.driven_wheels")
_MASS = field("chassis.mass")
_DRIVEN_LOAD = field("chassis.driven_axle_load")
_AXLE_LOAD = {axle: field(f"chassis.{axle}_axle_load") for axle in ("front", "rear")}
_HEIGHT = field("chassis.centre_of_gravity_height")
_WHEELBASE = field("chassis.wheelbase")
_GRIP = field("chassis.grip_coefficient")


@once_a_car
def grip_force(car: MarginCar) -> DemandFigure:
    """Largest force of the driven tyres, with the load that driving off moves to the rear [N]."""
    driven = driven_wheels(car)
    if driven is None:
        return absent(_DRIVEN_WHEELS)
    whole = driven == "all"
    load = car.given(_MASS if whole else _DRIVEN_LOAD)
    if load.band is None and not whole:
        load = car.given(_AXLE_LOAD[driven])
    height, base = car.given(_HEIGHT), car.given(_WHEELBASE)
    friction = car.given_or_prior(_GRIP, "tyre_friction")
    if whole or height.band is None or base.band is None:
        return derive(traction.grip_force, friction, load)
    sign = -1.0 if driven == "front" else 1.0
    return derive(
        lambda mu, mass, h, b: traction.grip_force(mu, mass, sign * h / b),
        friction, load, height, base,
    )  # fmt: skip
