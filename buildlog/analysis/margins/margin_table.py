"""Every margin there is, and the file that holds all of it: a new one is a line here.

A file is loaded when its margin is asked for, so that `explain` loads one, and a fault in a file
is a fault of that margin alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING

from buildlog.physics.parts.margin import Kind

if TYPE_CHECKING:
    from buildlog.analysis.margins.figures.margin_car import MarginCar
    from buildlog.analysis.margins.figures.margin_rows import Row

FILES = {
    "injector duty": "fuel.injector_duty",
    "fuel pump": "fuel.fuel_pump",
    "rail-to-manifold differential": "fuel.rail_differential",
    "full-load lambda": "fuel.full_load_lambda",
    "knock": "fuel.knock_demand",
    "charge temperature": "charge.charge_temperature",
    "compressor speed": "charge.compressor_speed",
    "compressor flow": "charge.compressor_flow",
    "surge": "charge.surge",
    "turbine inlet temperature": "charge.turbine_temperature",
    "air meter range": "charge.air_meter",
    "boost against relief": "charge.boost_relief",
    "boost against limit": "charge.boost_limit",
    "boost against sensor range": "charge.boost_sensor",
    "belt speed": "charge.belt_speed",
    "belt grip": "charge.belt_grip",
    "belt power per rib": "charge.belt_rib_power",
    "mean piston speed": "engine.piston_speed",
    "rotating assembly": "engine.rotating_assembly",
    "engine speed": "engine.engine_speed",
    "battery power": "engine.battery_power",
    "clutch torque": "driveline.clutch_torque",
    "flywheel stress": "driveline.flywheel_stress",
    "flywheel speed": "driveline.flywheel_speed",
    "gearbox torque": "driveline.gearbox_torque",
    "driveshaft torque": "driveline.driveshaft_torque",
    "driveshaft stress": "driveline.driveshaft_stress",
    "driveshaft critical speed": "driveline.driveshaft_speed",
    "final drive torque": "driveline.final_drive_torque",
    "tire speed": "road.tyre_speed",
    "tire load": "road.tyre_load",
    "tire age": "road.tyre_age",
    "grip": "road.grip",
    "exhaust back-pressure": "engine.back_pressure",
    "heat to coolant": "engine.coolant_heat",
    "charge cooler heat": "charge.charge_cooler_heat",
    "fastener": "driveline.fastener",
}
"""File by name, in the order in which `explain` lists them."""


@dataclass(frozen=True)
class MarginFile:
    """What the files of a margin hold: its definition, and its rows for a car."""

    kind: Kind
    rows: Callable[[MarginCar], Iterator[Row]]


def margin_file(name: str) -> MarginFile:
    """The file of a margin by its name in the table."""
    module = import_module(f"buildlog.analysis.margins.kinds.{FILES[name]}")
    return MarginFile(module.KIND, module.rows)


def margin_files() -> Iterator[MarginFile]:
    """All of them."""
    return map(margin_file, FILES)
