"""Belt grip: the pull that the compressor asks of its belt of the pull at which it slips."""

from __future__ import annotations

from collections.abc import Iterator
from math import pi

from buildlog.analysis.margins.figures.charge_demand import belt_speed, compressor_power
from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive
from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, Row, at_crank, row
from buildlog.analysis.margins.figures.shaft_demand import peak_speed
from buildlog.physics.parts import belt
from buildlog.records.checked_paths import field, value_at

KIND = Kind(
    name="belt grip",
    unit="N",
    caution=0.15,
    meaning="The pull that the compressor asks of its belt against the pull at which it slips.",
    formula="P/v of 2 (T0 - m v^2)(R - 1)/(R + 1), R = exp(mu wrap/sin(beta/2))",
    source="belt equation; Shigley, ch. 17 (from memory)",
    typical="15 % in hand with a warm dry belt (common practice)",
    says_not="what oil, water, wear or a weak tensioner do to the grip",
    power_driven=True,
)
EXAMPLE = Example(
    by_hand="251.6 g/s x 1005 J/(kg K) x 52.06 K/0.9447 = 13.93 kW, at 45 m/s 309.6 N; of "
    "2 x 900 N x (R - 1)/(R + 1) = 820.1 N with R = exp(0.3131 pi) = 2.674 for a flat belt",
    demand=309.6,
    capacity=820.1,
    car={
        "fuel.kind": "gasoline", "fuel.ethanol_content": "0 percent",
        "induction.kind": "centrifugal", "induction.compressor.efficiency": 0.70,
        "induction.compressor.crank_pulley_diameter": "150 mm",
        "induction.belt.installed_tension": "900 N", "induction.belt.wrap_angle": "180 deg",
    },
    run=at_crank(200e3, 600.0, boost=50.66e3),
)  # fmt: skip

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
