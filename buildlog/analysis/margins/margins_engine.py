"""Margins of the engine and what hangs on it: speeds, rating, exhaust, coolant."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from buildlog.analysis.margins.demands import DemandFigure, Demands, derive
from buildlog.analysis.margins.margin_rows import Row, row
from buildlog.physics.engines import crank
from buildlog.physics.gases import heat
from buildlog.physics.parts import margin_kinds
from buildlog.records.paths import get
from buildlog.units import Quantity


def engine_rows(car: Demands) -> Iterator[Row]:
    """Piston speed, rating of the rotating parts, engine speed, exhaust and coolant."""
    if not car.combustion:
        return
    if car.configuration.engine is None or car.configuration.engine.layout != "rotary":
        yield _piston_speed(car)
    yield _rotating_assembly(car)
    limiter = car.given("calibration.rev_limit")
    yield row(margin_kinds.ENGINE_SPEED, limiter, car.limit("engine.rev_limit", "angular_speed"))
    limit = car.general_limit("exhaust", "pressure")
    yield row(margin_kinds.BACK_PRESSURE, car.back_pressure, limit)
    if car.spark_ignition:
        yield _coolant(car)


def _piston_speed(car: Demands) -> Row:
    """Against the supplier's limit; else what is usual in the trade, and said to be so."""
    speed = derive(crank.mean_piston_speed, car.given("engine.stroke"), car.limiter)
    stated = car.limit("engine.mean_piston_speed_limit", "speed")
    if stated.band is None and stated.problem is None:
        words = ("usual upper mean piston speed of road engines (common practice)",)
        stated = DemandFigure(margin_kinds.USUAL_PISTON_SPEED, "typical", words)
    return row(margin_kinds.PISTON_SPEED, speed, stated)


def _rotating_assembly(car: Demands) -> Row:
    """The supplier may rate it by power or by torque."""
    path = "engine.rotating_assembly_limit"
    value = get(car.configuration, path)
    kind, demand = margin_kinds.ROTATING_ASSEMBLY, car.crank_power
    if isinstance(value, Quantity) and value.dimension == "torque":
        kind, demand = replace(kind, unit="N*m"), car.crank_torque
    return row(kind, demand, car.limit(path))


def _coolant(car: Demands) -> Row:
    liquid, known = car.tank
    heating = liquid.lower_heating_value if liquid else 1.0
    demand = derive(
        lambda flow, share, _: heat.to_coolant(flow, heating, share),
        car.fuel_flow, car.prior("coolant_heat_share"), known,
    )  # fmt: skip
    return row(margin_kinds.COOLANT_HEAT, demand, car.limit("cooling.rated_heat"))
