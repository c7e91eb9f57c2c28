"""Injector duty: the fuel that full load needs of what the injectors pass when held open."""

from __future__ import annotations

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive
from buildlog.analysis.margins.figures.fuel_demand import injected_flow, tank
from buildlog.analysis.margins.figures.margin_car import MarginCar, burns_by_spark
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, at_crank, one_row
from buildlog.analysis.margins.figures.rail_pressure import differential, volume_flow
from buildlog.physics.parts import injectors
from buildlog.records.checked_paths import field

KIND = Kind(
    name="injector duty",
    unit="kg/s",
    caution=0.15,
    caution_source="80 to 85 % duty at most, trade pages (opened, no authority)",
    meaning="How much of the time the injectors must stay open to pass the fuel that full load "
    "needs.",
    formula="P/(eta LHV) at the highest ethanol content, of n q sqrt(rho rho_r dp/dp_r)",
    source="orifice law (Bernoulli)",
    typical="65 to 80 % at full load; past 85 % they have no time left to close "
    "(trade pages, no authority)",
    says_not="how long the injectors take to open and close, or whether they spray alike",
    power_driven=True,
)
EXAMPLE = Example(
    by_hand="100 kW/(0.2713 x 43.44 MJ/kg) = 8.486 g/s, of 4 x 4 cm3/s x 0.7448 g/cm3 = "
    "11.92 g/s at the rated pressure",
    demand=8.486e-3,
    capacity=11.92e-3,
    car={
        "fuel.kind": "gasoline", "fuel.ethanol_content": "0 percent",
        "fuel.injectors.count": 4, "fuel.injectors.flow": "240 cc/min",
        "fuel.injectors.rated_pressure": "300 kPa", "fuel.injectors.system_pressure": "300 kPa",
    },
    run=at_crank(100e3, 600.0),
)  # fmt: skip

_COUNT = field("fuel.injectors.count")
_FLOW = field("fuel.injectors.flow")
_RATED_PRESSURE = field("fuel.injectors.rated_pressure")


def _capacity(car: MarginCar) -> DemandFigure:
    """What all of them pass at the pressure they see [kg/s]."""
    liquid, known = tank(car)
    density = liquid.density if liquid else 1.0
    return derive(
        lambda count, flow, rated, across, _: (
            count * injectors.mass_flow(flow, rated, across, density)
        ),
        car.given(_COUNT), volume_flow(car, _FLOW), car.given(_RATED_PRESSURE),
        differential(car), known,
    )  # fmt: skip


rows = one_row(KIND, injected_flow, _capacity, burns_by_spark)  # of all injectors together
