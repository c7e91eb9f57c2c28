"""What compresses the charge, as the prediction sees it."""

from __future__ import annotations

from dataclasses import replace

from buildlog.analysis.prediction.prediction_anchor import Start
from buildlog.errors import InvalidInput
from buildlog.physics.engines.state import (
    Centrifugal,
    CoolerState,
    Induction,
    PositiveDisplacement,
    Turbocharger,
)
from buildlog.physics.gases import charge
from buildlog.records.car.configuration import Configuration
from buildlog.records.car.induction import BoostControl, Compressor
from buildlog.records.car.induction import Induction as Table
from buildlog.records.checked_paths import field_paths
from buildlog.records.paths import differences, same_value
from buildlog.units import Quantity

# What the formulas look at; a turbocharger's relief valve counts only below its target.
_TURBOCHARGER = field_paths(
    "compressor.efficiency",
    "turbine.back_pressure_ratio",
    "boost.target_gauge",
    "boost.control",
    "boost.threshold_speed",
    model=Table,
)
_DRIVEN = field_paths(
    "compressor.displacement_per_rev",
    "compressor.drive_ratio",
    "compressor.crank_pulley_diameter",
    "compressor.compressor_pulley_diameter",
    "compressor.step_up_ratio",
    "compressor.efficiency",
    "compressor.volumetric_efficiency",
    "boost.target_gauge",
    "boost.relief_gauge",
    "boost.threshold_speed",
    model=Table,
)


def induction(
    one: Configuration, other: Configuration, start: Start, notes: list[str]
) -> tuple[Induction | None, Induction | None]:
    """The induction of the measured car, with its measured boost, and of the other."""
    how = other.induction
    if how is not None and how.kind is None and _boost(how).target_gauge is not None:
        raise InvalidInput(
            "a boost target is stated, and what makes the boost is not", hint="set induction.kind"
        )
    before = _as_measured(_built(one, start, notes, None), start)
    if _alike(one.induction, other.induction):
        return before, before
    after = _built(other, start, notes, one)
    if isinstance(before, PositiveDisplacement) and isinstance(after, PositiveDisplacement):
        after = _pulley_changed(before, after, one, other, start, notes)
    return before, after


def cooler(configuration: Configuration) -> CoolerState | None:
    """The charge cooler; None without one or without boost."""
    how = configuration.induction
    if how is None or how.charge_cooler is None or how.kind in (None, "naturally-aspirated"):
        return None
    found = how.charge_cooler
    return CoolerState(effectiveness=found.effectiveness, pressure_drop=_si(found.pressure_drop))


def drive_ratio(compressor: Compressor | None) -> float | None:
    """Turns of the rotor for one of the crank: stated, or from pulleys and step-up gears."""
    if compressor is None:
        return None
    if compressor.drive_ratio is not None:
        return compressor.drive_ratio
    if compressor.crank_pulley_diameter is None or compressor.compressor_pulley_diameter is None:
        return None
    pulleys = charge.drive_ratio(
        compressor.crank_pulley_diameter.si, compressor.compressor_pulley_diameter.si
    )
    return pulleys * (compressor.step_up_ratio or 1.0)


def _alike(one: Table | None, other: Table | None) -> bool:
    a, b = one or Table.blank(), other or Table.blank()
    kind, other_kind = (table.kind or "naturally-aspirated" for table in (a, b))
    looked_at = {"naturally-aspirated": (), "turbocharger": _TURBOCHARGER}.get(kind, _DRIVEN)
    moved = [path for path, _, _ in differences(a, b) if path in looked_at]
    return kind == other_kind and not moved and _held(a) == _held(b)


def _held(how: Table) -> bool:
    """Whether the relief valve opens below the target."""
    relief, target = _boost(how).relief_gauge, _boost(how).target_gauge
    return relief is not None and target is not None and relief.si < target.si


def _built(
    configuration: Configuration, start: Start, notes: list[str], earlier: Configuration | None
) -> Induction | None:
    how = configuration.induction
    if how is None or how.kind in (None, "naturally-aspirated"):
        return None
    if how.kind == "turbocharger":
        return _turbocharger(how, configuration, start, notes)
    if how.kind == "centrifugal":
        return _centrifugal(how, configuration, notes, earlier)
    return _positive_displacement(how)


def _positive_displacement(how: Table) -> PositiveDisplacement:
    compressor = how.compressor or Compressor.blank()
    target, ratio = _si(_boost(how).target_gauge), drive_ratio(compressor)
    swept = _si(compressor.displacement_per_rev)
    if target is None and (swept is None or ratio is None):
        raise InvalidInput(
            "the boost is missing",
            hint="set induction.boost.target_gauge, or induction.compressor.displacement_per_rev "
            "and drive_ratio",
        )
    return PositiveDisplacement(
        boost=target,
        displacement_per_rev=swept,
        drive_ratio=ratio,
        relief=_si(_boost(how).relief_gauge),
        efficiency=compressor.efficiency,
        volumetric_efficiency=compressor.volumetric_efficiency if target is None else None,
    )


def _centrifugal(
    how: Table, configuration: Configuration, notes: list[str], earlier: Configuration | None
) -> Centrifugal:
    target = _needed_target(how)
    ratio = drive_ratio(how.compressor)
    past = earlier.induction if earlier else None
    before = drive_ratio(past.compressor) if past and past.kind == "centrifugal" else None
    stale = past is not None and past.boost is not None and how.boost is not None
    if stale and same_value(past.boost.target_gauge, how.boost.target_gauge) and ratio and before:  # type: ignore[union-attr]
        target *= (ratio / before) ** 2
        if ratio != before:
            notes.append("boost after the change of drive ratio by its square (similarity)")
    return Centrifugal(
        target,
        _stated_speed(how, configuration, notes),
        relief=_si(_boost(how).relief_gauge),
        efficiency=how.compressor.efficiency if how.compressor else None,
    )


def _stated_speed(how: Table, configuration: Configuration, notes: list[str]) -> float:
    stated = _boost(how).threshold_speed
    if stated is not None:
        return stated.si
    limits = (
        configuration.calibration.rev_limit if configuration.calibration else None,
        configuration.engine.rev_limit if configuration.engine else None,
    )
    limit = next((x for x in limits if x is not None), None)
    if limit is None:
        raise InvalidInput(
            "the engine speed at which the centrifugal compressor gives its boost is missing",
            hint="set induction.boost.threshold_speed",
        )
    notes.append(f"centrifugal boost is taken as reached at the limiter ({limit.text})")
    return limit.si


def _turbocharger(
    how: Table, configuration: Configuration, start: Start, notes: list[str]
) -> Turbocharger:
    target, boost = _needed_target(how), _boost(how)
    if boost.relief_gauge is not None and boost.relief_gauge.si < target:
        target = boost.relief_gauge.si
        notes.append(f"boost is held by the relief valve at {boost.relief_gauge.text}")
    return Turbocharger(
        target,
        absolute=boost.control == "closed-loop-absolute",
        threshold=_si(boost.threshold_speed),
        efficiency=how.compressor.efficiency if how.compressor else None,
        back_pressure_ratio=_turbine_ratio(how, configuration, target, start),
    )


def _turbine_ratio(
    how: Table, configuration: Configuration, target: float, start: Start
) -> float | None:
    """The stated ratio of absolute pressures as gauge pressure, beyond the pipe's, over boost."""
    stated = how.turbine.back_pressure_ratio if how.turbine else None
    if stated is None or target <= 0:
        return None
    ambient, exhaust = start.day.pressure, configuration.exhaust
    pipe = exhaust.back_pressure.si if exhaust and exhaust.back_pressure else 0.0
    return max((stated * (ambient + target) - ambient - pipe) / target, 0.2)


def _as_measured(how: Induction | None, start: Start) -> Induction | None:
    """The boost that was logged in place of the boost that is said to be there."""
    if how is None or start.boost is None:
        return how
    if isinstance(how, Turbocharger):
        return replace(how, boost=start.boost)
    stated_at = start.observed_pressure or start.day.pressure
    return replace(how, boost=start.boost, delivery=1.0, stated_at=stated_at)


def _pulley_changed(
    before: PositiveDisplacement,
    after: PositiveDisplacement,
    one: Configuration,
    other: Configuration,
    start: Start,
    notes: list[str],
) -> PositiveDisplacement:
    """A changed drive beside an unchanged boost target: the target is left over from before."""
    if after.drive_ratio is None or before.drive_ratio is None or before.boost is None:
        return after
    same = after.drive_ratio == before.drive_ratio
    if same or not same_value(
        _boost(one.induction).target_gauge, _boost(other.induction).target_gauge
    ):
        return after
    curve = before.boost if isinstance(before.boost, tuple) else (before.boost,)
    cooling = other.induction.charge_cooler if other.induction else None
    moved = tuple(
        charge.boost_after_drive_change(
            float(x),  # type: ignore[arg-type]
            before.drive_ratio,
            after.drive_ratio,
            inlet_pressure=before.stated_at,
            inlet_temperature=start.day.temperature,
            efficiency=after.efficiency if isinstance(after.efficiency, float) else 0.60,
            effectiveness=(cooling.effectiveness or 0.68) if cooling else 0.0,
        )
        for x in curve
    )
    notes.append(
        f"boost after the change of drive ratio {before.drive_ratio:.3g} to "
        f"{after.drive_ratio:.3g} by mass balance"
    )
    boost = moved if isinstance(before.boost, tuple) else moved[0]
    return replace(after, boost=boost, delivery=before.delivery, stated_at=before.stated_at)


def _boost(how: Table | None) -> BoostControl:
    return (how and how.boost) or BoostControl.blank()


def _needed_target(how: Table) -> float:
    target = _si(_boost(how).target_gauge)
    if target is None:
        raise InvalidInput("the boost is missing", hint='set induction.boost.target_gauge="7 psi"')
    return target


def _si(quantity: Quantity | None) -> float | None:
    return quantity.si if quantity is not None else None
