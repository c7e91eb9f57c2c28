"""Belt grip: the pull that the compressor asks of its belt of the pull at which it slips."""

from __future__ import annotations

from collections.abc import Iterator
from math import pi

from buildlog.analysis.margins.figures.charge_demand import belt_speed, compressor_power
from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive
from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.analysis.margins.figures.shaft_demand import peak_speed
from buildlog.physics.parts import belt
from buildlog.records.checked_paths import field, value_at

KIND = kind_of(__file__)

_RIBS = field("induction.belt.ribs")
_TENSION = field("induction.belt.installed_tension")
_WRAP = field("induction.belt.wrap_angle")
_RIB_GROOVE = 40 * pi / 180  # ribs of 40 degrees (common practice)
_FLAT = pi


def rows(car: MarginCar) -> Iterator[Row]:
    """One, where the engine drives the compressor."""
    if car.driven and car.combustion:
        speed = belt_speed(car, peak_speed(car))
        pull = derive(belt.effective_tension, compressor_power(car), speed)
        yield row(KIND, pull, _capacity(car))


def _capacity(car: MarginCar) -> DemandFigure:
    """What the belt can pass before it slips [N]; ribs wedge, a flat belt does not."""
    ribbed = value_at(car.configuration, _RIBS) is not None
    groove = _RIB_GROOVE if ribbed else _FLAT
    return derive(
        lambda tension, mu, wrap: belt.grip(tension, mu, wrap, groove),
        car.given(_TENSION), car.prior("belt_friction"), car.given(_WRAP),
    )  # fmt: skip
