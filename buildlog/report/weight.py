"""Which fields say most about a car: what the physics and the margins ask for first.

A screen shows these and counts the others. The order is our own, by what a stage usually turns
on; no field is left out of the full tables or of the JSON.
"""

from __future__ import annotations

from buildlog.analysis.car.changes import power_neutral

_FIRST = (
    "induction.kind",
    "induction.boost.target_gauge",
    "engine.bore",
    "engine.stroke",
    "engine.compression_ratio",
    "calibration.id",
    "fuel.kind",
    "fuel.injectors.flow",
    "clutch.rated_torque",
    "motor.rated_power",
    "motor.rated_torque",
    "induction.compressor.drive_ratio",
    "induction.charge_cooler.effectiveness",
    "exhaust.headers.kind",
    "exhaust.catalysts.kind",
    "exhaust.pipe_diameter",
    "fuel.pump.flow",
    "nitrous.flow",
    "charge_injection.flow",
    "engine.camshaft.kind",
    "engine.rotating_assembly_limit",
    "engine.rev_limit",
    "induction.boost.relief_gauge",
    "final_drive.ratio",
    "gearbox.kind",
    "gearbox.ratios",
    "tyres.size",
    "flywheel.inertia",
    "calibration.lambda_full_load",
    "calibration.boost_limit_gauge",
    "calibration.rev_limit",
    "fuel.ron",
    "fuel.ethanol_content",
    "clutch.kind",
    "intake.throttle_diameter",
    "ignition.plugs.kind",
    "engine.code",
    "engine.cylinders",
    "chassis.mass",
    "chassis.driven_wheels",
    "driveshaft.rated_torque",
    "final_drive.rated_torque",
    "cooling.rated_heat",
    "battery.energy",
)
_DETAILS = {"part", "source", "note", "written_for"}


def rank(path: str) -> tuple[int, bool]:
    """Sorts paths, weightiest first; those of equal weight keep the order of car.toml."""
    if path in _FIRST:
        return _FIRST.index(path), False
    return len(_FIRST) + detail(path), power_neutral(path)


def weighty(path: str) -> bool:
    """Whether a field is one that says most."""
    return path in _FIRST


def detail(path: str) -> bool:
    """Whether a field is about a part's papers: its maker, serial, source or note."""
    return any(part in _DETAILS for part in path.split(".")[1:])
