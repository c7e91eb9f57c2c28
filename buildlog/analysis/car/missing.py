"""Which data each computation still needs. Unknown is never shown as clear: it names what to
write."""

from __future__ import annotations

from dataclasses import dataclass

from buildlog.records.configuration import Configuration
from buildlog.records.paths import get

# computation -> what it needs; alternatives are separated by a bar. An assembly in brackets
# says that the row counts only where the car has it.
_NEEDS: tuple[tuple[str, str | None, tuple[str, ...]], ...] = (
    ("engine speed from road speed", "gearbox", (
        "gearbox.ratios", "final_drive.ratio|final_drive.rear.ratio|final_drive.front.ratio",
        "tyres.rolling_circumference|tyres.size|tyres.rear.size|tyres.front.size")),
    ("prediction", "engine", (
        "engine.displacement|engine.bore", "engine.cylinders", "engine.compression_ratio",
        "induction.kind", "fuel.kind")),
    ("injector duty", "fuel.injectors", (
        "fuel.injectors.count", "fuel.injectors.flow", "fuel.injectors.rated_pressure",
        "fuel.injectors.system_pressure", "fuel.injectors.referenced", "fuel.ethanol_content")),
    ("fuel pump", "fuel", ("fuel.pump.flow", "fuel.pump.at_pressure")),
    ("clutch torque", "gearbox", ("clutch.rated_torque|clutch.clamp_force",)),
    ("rotating assembly", "engine", ("engine.rotating_assembly_limit",)),
    ("mean piston speed", "engine", (
        "engine.stroke", "engine.rev_limit|calibration.rev_limit",
        "engine.mean_piston_speed_limit")),
    ("gearbox input torque", "gearbox", ("gearbox.rated_torque",)),
    ("final drive", "final_drive", ("final_drive.rated_torque",)),
    ("tyre speed and load", "tyres", (
        "tyres.speed_symbol|tyres.rear.speed_symbol", "tyres.load_index|tyres.rear.load_index")),
    ("compressor speed", "induction.compressor", (
        "induction.compressor.speed_limit",
        "induction.compressor.drive_ratio|induction.compressor.stated_speed")),
    ("boost", "induction.compressor", (
        "induction.boost.target_gauge", "induction.boost.control")),
    ("belt", "induction.belt", (
        "induction.belt.ribs", "induction.belt.rated_power_per_rib|induction.belt.wrap_angle")),
    ("flywheel", "flywheel", ("flywheel.diameter", "flywheel.material|flywheel.speed_limit")),
    ("mixture target", "calibration", ("calibration.id", "calibration.lambda_full_load")),
)  # fmt: skip


@dataclass(frozen=True)
class Missing:
    """One computation and the fields it waits for; alternatives joined by "or"."""

    computation: str
    fields: tuple[str, ...]


def missing(now: Configuration) -> list[Missing]:
    """The computations that cannot be made, and why."""
    found = []
    for name, table, needs in _NEEDS:
        if (table is not None and get(now, table) is None) or not _applies(name, now):
            continue
        lacking = tuple(_lacks(now, need) for need in needs if _lacks(now, need))
        if lacking:
            found.append(Missing(name, lacking))
    return found


def _lacks(now: Configuration, need: str) -> str:
    choices = need.split("|")
    if any(get(now, choice) is not None for choice in choices):
        return ""
    return " or ".join(choices[:2])


def _applies(name: str, now: Configuration) -> bool:
    source = now.car.power_source
    if name in ("prediction", "injector duty", "fuel pump", "mixture target"):
        return source in (None, "spark-ignition", "hybrid")
    if name == "clutch torque":
        return now.gearbox is None or now.gearbox.kind != "automatic"
    return source != "electric" or name.split()[0] in ("tyre", "gearbox", "final")
