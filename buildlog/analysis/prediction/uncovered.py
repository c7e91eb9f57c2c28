"""What changed between two configurations and no formula or declared effect answers.

Silence is not a figure: what stands here is named beside every prediction, and alone it cannot be
predicted at all. What moves the engine's breathing, its octane or its calibration teaches the
model nothing either; what moves only what the dyno reads is told apart.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from buildlog.analysis.car.changes import power_neutral
from buildlog.analysis.prediction.prediction_inputs import declared_effects
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import TablePath, field, field_paths, table, value_at
from buildlog.records.field_traits import moves
from buildlog.records.fields.parts import Part
from buildlog.records.fields.traits import UNMODELLED
from buildlog.records.paths import differences

# Parts whose change alters breathing in a way that only a declared effect can give.
_BREATHES = (
    table("engine.camshaft"),
    table("engine.cylinder_head"),
    field("engine.valvetrain"),
    table("intake.manifold"),
    table("intake.filter"),
    table("exhaust.headers"),
    table("induction.compressor"),
    table("induction.turbine"),
)
# Papers of a piece that is still the same one, and a point of its maker's.
_PAPERS = field_paths(
    "condition", "document", "basis", "made", "fitted_on", "fitted_at_odometer", "note", model=Part
)
_STATED = field_paths(
    "induction.compressor.stated_pressure_ratio", "induction.compressor.stated_speed"
)
_OCTANE = field_paths("fuel.ron", "fuel.mon", "fuel.aki")
_CALIBRATION = field("calibration.id")
_SPARK = field("calibration.spark_retard")
_SPARK_OR_MIXTURE = (_SPARK, field("calibration.lambda_full_load"))
# A formula asks for the figure of both sides; one that is new on one side says nothing.
_BOTH_SIDES = field_paths("intake.throttle_diameter", "exhaust.headers.kind")


def not_covered(one: Configuration, other: Configuration) -> tuple[str, ...]:
    """What changed of breathing, octane or calibration, with neither a formula nor a declared
    effect."""
    changed = [path for path, _, _ in differences(one, other)]
    found = [*_breathing(one, other, changed), *_one_sided(one, other, changed)]
    if any(path in _OCTANE for path in changed) and not _both(one, other, _SPARK):
        found.append(next(path for path in changed if path in _OCTANE))
    if _CALIBRATION in changed and not any(path in _SPARK_OR_MIXTURE for path in changed):
        found.append(_CALIBRATION)
    declared = _declared(one, other)
    return tuple(name for name in dict.fromkeys(found) if name not in declared)


def beside(one: Configuration, other: Configuration) -> tuple[str, ...]:
    """Tables of what else changed that may move what the dyno reads, and no formula follows."""
    named = (*not_covered(one, other), *_declared(one, other))
    tables = (
        _owner(path)
        for path, _, _ in differences(one, other)
        if moves(path) & UNMODELLED and not power_neutral(path) and not _within(path, named)
    )
    return tuple(dict.fromkeys(tables))


def _declared(one: Configuration, other: Configuration) -> set[str]:
    return {effect.name for side in (one, other) for effect in declared_effects(side)}


def _breathing(one: Configuration, other: Configuration, changed: Iterable[str]) -> Iterator[str]:
    same_kind = _kind(one) == _kind(other)
    for path in changed:
        owner = next((name for name in _BREATHES if _within(path, (name,))), None)
        if owner is not None and _tells(path) and (same_kind or not owner.startswith("induction")):
            yield owner


def _one_sided(one: Configuration, other: Configuration, changed: Iterable[str]) -> Iterator[str]:
    for path in _BOTH_SIDES:
        if path in changed and not _both(one, other, path):
            yield path.table if isinstance(path.table, TablePath) and path.count(".") > 1 else path


def _both(one: Configuration, other: Configuration, path: str) -> bool:
    return all(value_at(side, path) is not None for side in (one, other))  # type: ignore[arg-type]


def _within(path: str, tables: Iterable[str]) -> bool:
    return any(f"{path}.".startswith(f"{name}.") for name in tables)


def _owner(path: str) -> str:
    """The table that a field belongs to, a part's own being its assembly's."""
    owner = path.rpartition(".")[0]
    return owner.removesuffix(".part")


def _kind(configuration: Configuration) -> str | None:
    return configuration.induction.kind if configuration.induction else None


def _tells(path: str) -> bool:
    """Whether a changed field of such a part means other breathing that no formula has."""
    owner, _, name = path.rpartition(".")
    if owner.endswith(".part"):
        return name not in _PAPERS
    return bool(moves(path) & UNMODELLED) and path not in _STATED
