"""Which data each computation still needs. Unknown is never shown as clear: it names what to
write."""

from __future__ import annotations

from dataclasses import dataclass

from buildlog.records.checked_paths import (
    FieldPath,
    TablePath,
    field_paths,
    has_table,
    table,
    value_at,
)
from buildlog.records.configuration import Configuration

_Need = tuple[FieldPath, ...]  # any of them answers


def _all(*paths: str) -> tuple[_Need, ...]:
    """Fields that are needed each."""
    return tuple((path,) for path in field_paths(*paths))


# computation, the table whose presence makes it count, what it needs
_NEEDS: tuple[tuple[str, TablePath, tuple[_Need, ...]], ...] = (
    ("engine speed from road speed", table("gearbox"), (
        *_all("gearbox.ratios"),
        field_paths("final_drive.ratio", "final_drive.rear.ratio", "final_drive.front.ratio"),
        field_paths("tyres.rolling_circumference", "tyres.size", "tyres.rear.size",
                    "tyres.front.size"))),
    ("prediction", table("engine"), (
        field_paths("engine.displacement", "engine.bore"),
        *_all("engine.cylinders", "engine.compression_ratio", "induction.kind", "fuel.kind"))),
    ("injector duty", table("fuel.injectors"), _all(
        "fuel.injectors.count", "fuel.injectors.flow", "fuel.injectors.rated_pressure",
        "fuel.injectors.system_pressure", "fuel.injectors.referenced", "fuel.ethanol_content")),
    ("fuel pump", table("fuel"), _all("fuel.pump.flow", "fuel.pump.at_pressure")),
    ("clutch torque", table("gearbox"), (
        field_paths("clutch.rated_torque", "clutch.clamp_force"),)),
    ("rotating assembly", table("engine"), _all("engine.rotating_assembly_limit")),
    ("mean piston speed", table("engine"), (
        *_all("engine.stroke"),
        field_paths("engine.rev_limit", "calibration.rev_limit"),
        *_all("engine.mean_piston_speed_limit"))),
    ("gearbox input torque", table("gearbox"), _all("gearbox.rated_torque")),
    ("final drive", table("final_drive"), _all("final_drive.rated_torque")),
    ("tyre speed and load", table("tyres"), (
        field_paths("tyres.speed_symbol", "tyres.rear.speed_symbol"),
        field_paths("tyres.load_index", "tyres.rear.load_index"))),
    ("compressor speed", table("induction.compressor"), (
        *_all("induction.compressor.speed_limit"),
        field_paths("induction.compressor.drive_ratio", "induction.compressor.stated_speed"))),
    ("boost", table("induction.compressor"), _all(
        "induction.boost.target_gauge", "induction.boost.control")),
    ("belt", table("induction.belt"), (
        *_all("induction.belt.ribs"),
        field_paths("induction.belt.rated_power_per_rib", "induction.belt.wrap_angle"))),
    ("flywheel", table("flywheel"), (
        *_all("flywheel.diameter"),
        field_paths("flywheel.material", "flywheel.speed_limit"))),
    ("mixture target", table("calibration"), _all(
        "calibration.id", "calibration.lambda_full_load")),
)  # fmt: skip


@dataclass(frozen=True)
class Missing:
    """One computation and the fields it waits for; alternatives joined by "or"."""

    computation: str
    fields: tuple[str, ...]


def missing(now: Configuration) -> list[Missing]:
    """The computations that cannot be made, and why."""
    found = []
    for name, about, needs in _NEEDS:
        if not has_table(now, about) or not _applies(name, now):
            continue
        lacking = tuple(_lacks(now, need) for need in needs if _lacks(now, need))
        if lacking:
            found.append(Missing(name, lacking))
    return found


def _lacks(now: Configuration, need: _Need) -> str:
    if any(value_at(now, choice) is not None for choice in need):
        return ""
    return " or ".join(need[:2])


def _applies(name: str, now: Configuration) -> bool:
    source = now.car.power_source
    if name in ("prediction", "injector duty", "fuel pump", "mixture target"):
        return source in (None, "spark-ignition", "hybrid")
    if name == "clutch torque":
        return now.gearbox is None or now.gearbox.kind != "automatic"
    return source != "electric" or name.split()[0] in ("tyre", "gearbox", "final")
