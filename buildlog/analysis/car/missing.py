"""Which data each computation still needs. Unknown is never shown as clear: it names what to
write."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import (
    FieldPath,
    TablePath,
    field_paths,
    has_table,
    table,
    value_at,
)

_Need = tuple[FieldPath, ...]  # any of them answers
_Applies = Callable[[Configuration], bool]


def _all(*paths: str) -> tuple[_Need, ...]:
    """Fields that are needed each."""
    return tuple((path,) for path in field_paths(*paths))


def _every_car(now: Configuration) -> bool:
    return True


def _engine(now: Configuration) -> bool:
    return now.car.power_source != "electric"


def _fuel_model(now: Configuration) -> bool:
    return now.car.power_source in (None, "spark-ignition", "hybrid")


def _clutch(now: Configuration) -> bool:
    return now.gearbox is None or now.gearbox.kind != "automatic"


# computation, cars it is made for, the table whose presence makes it count, what it needs
_NEEDS: tuple[tuple[str, _Applies, TablePath, tuple[_Need, ...]], ...] = (
    ("engine speed from road speed", _engine, table("gearbox"), (
        *_all("gearbox.ratios"),
        field_paths("final_drive.ratio", "final_drive.rear.ratio", "final_drive.front.ratio"),
        field_paths("tyres.rolling_circumference", "tyres.size", "tyres.rear.size",
                    "tyres.front.size"))),
    ("prediction", _fuel_model, table("engine"), (
        field_paths("engine.displacement", "engine.bore"),
        *_all("engine.cylinders", "engine.compression_ratio", "induction.kind", "fuel.kind"))),
    ("injector duty", _fuel_model, table("fuel.injectors"), _all(
        "fuel.injectors.count", "fuel.injectors.flow", "fuel.injectors.rated_pressure",
        "fuel.injectors.system_pressure", "fuel.injectors.referenced", "fuel.ethanol_content")),
    ("fuel pump", _fuel_model, table("fuel"), _all("fuel.pump.flow", "fuel.pump.at_pressure")),
    ("clutch torque", _clutch, table("gearbox"), (
        field_paths("clutch.rated_torque", "clutch.clamp_force"),)),
    ("rotating assembly", _engine, table("engine"), _all("engine.rotating_assembly_limit")),
    ("mean piston speed", _engine, table("engine"), (
        *_all("engine.stroke"),
        field_paths("engine.rev_limit", "calibration.rev_limit"),
        *_all("engine.mean_piston_speed_limit"))),
    ("gearbox input torque", _every_car, table("gearbox"), _all("gearbox.rated_torque")),
    ("final drive", _every_car, table("final_drive"), _all("final_drive.rated_torque")),
    ("tire speed and load", _every_car, table("tyres"), (
        field_paths("tyres.speed_symbol", "tyres.rear.speed_symbol"),
        field_paths("tyres.load_index", "tyres.rear.load_index"))),
    ("compressor speed", _engine, table("induction.compressor"), (
        *_all("induction.compressor.speed_limit"),
        field_paths("induction.compressor.drive_ratio", "induction.compressor.stated_speed"))),
    ("boost", _engine, table("induction.compressor"), _all(
        "induction.boost.target_gauge", "induction.boost.control")),
    ("belt", _engine, table("induction.belt"), (
        *_all("induction.belt.ribs"),
        field_paths("induction.belt.rated_power_per_rib", "induction.belt.wrap_angle"))),
    ("flywheel", _engine, table("flywheel"), (
        *_all("flywheel.diameter"),
        field_paths("flywheel.material", "flywheel.speed_limit"))),
    ("mixture target", _fuel_model, table("calibration"), _all(
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
    for name, applies, about, needs in _NEEDS:
        if not has_table(now, about) or not applies(now):
            continue
        lacking = tuple(_lacks(now, need) for need in needs if _lacks(now, need))
        if lacking:
            found.append(Missing(name, lacking))
    return found


def _lacks(now: Configuration, need: _Need) -> str:
    if any(value_at(now, choice) is not None for choice in need):
        return ""
    return " or ".join(need[:2])
