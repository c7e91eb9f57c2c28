"""From two configurations to the two engine states that the prediction compares.

What a configuration states is used as stated; what it does not state takes a prior, the
same draw on both sides, so that it cancels where nothing changed. A field that appears
without any change of its part was only written down later: it held before, too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

from buildlog.analysis.prediction.prediction_anchor import Day, Start
from buildlog.analysis.prediction.prediction_exhaust import intake_resistance, resistance
from buildlog.analysis.prediction.prediction_fuel import Declared, burnt
from buildlog.analysis.prediction.prediction_induction import cooler, induction
from buildlog.errors import InvalidInput
from buildlog.physics.engines import crank as engine_physics
from buildlog.physics.engines.state import Anchor, BreathingEffect, EngineState
from buildlog.physics.numerics.sampling import Uncertain, Uniform
from buildlog.records.car.configuration import Configuration
from buildlog.records.car.engine import Engine
from buildlog.records.checked_paths import has_table, table
from buildlog.records.field_traits import moves
from buildlog.records.fields.traits import PREDICTION, UNMODELLED
from buildlog.records.paths import assembly, carried, fields, leaves
from buildlog.units import Quantity

_SPRAYED = (table("nitrous"), table("charge_injection"))
_SAME_SIZE = 0.01  # a maker's round figure and bore times stroke are one displacement within this


@dataclass(frozen=True)
class Inputs:
    """What `physics.predict` needs; `notes` says what was taken without a prior."""

    anchor: Anchor
    before: EngineState
    after: EngineState
    notes: tuple[str, ...]


def inputs(
    one: Configuration,
    other: Configuration,
    start: Start,
    day: Day,
    priors: Mapping[str, Uncertain],
) -> Inputs:
    """The states of both configurations. InvalidInput with a sentence where no model covers them.

    `start` was measured with `one`; `day` is the air asked for with `other`.
    """
    for configuration in (one, other):
        refuse_power_source(configuration)
        _refuse_newer(configuration)
    notes: list[str] = []
    sizes = _displacements(one.engine, other.engine, notes)
    back_pressure, exhaust = resistance(one, other, start.peak, priors)
    fuels = burnt(one.fuel, other.fuel, start.tank, notes)
    ratios = _ratios(one, other, notes)
    lambdas = _lambdas(one, other, start)
    how = induction(one, other, start, notes)
    before, after = (
        EngineState(
            size,
            ratio,
            lambda_full_load=aim,
            spark_retard=_retard(side),
            energy_per_air=fuel.energy_per_air,
            alcohol=fuel.alcohol,
            evaporative_cooling=fuel.cooling,
            induction=blown,
            cooler=cooler(side),
            effects=declared_effects(side),
            unmodelled=_unmodelled(side, start),
            ambient_pressure=air.pressure,
            ambient_temperature=air.temperature,
            vapour_pressure=air.vapour_pressure,
        )
        for side, size, ratio, aim, fuel, blown, air in zip(
            (one, other), sizes, ratios, lambdas, fuels, how, (start.day, day), strict=True
        )
    )
    freer = intake_resistance(one, other, priors)
    after = replace(after, exhaust_resistance=exhaust, intake_resistance=freer)
    _refuse_undeclared(before, after)
    anchor = replace(start.anchor, back_pressure=back_pressure)
    if None not in (before.spark_retard, after.spark_retard):  # the spark is said: no more to guess
        anchor = replace(anchor, compression_spark=0.0)
    return Inputs(anchor, before, after, tuple(notes))


def _refuse_newer(configuration: Configuration) -> None:
    """What a newer buildlog wrote may move the power, but where no field of its table does."""
    paths = [path for path in carried(configuration) if assembly(path) not in _still_tables()]
    if paths:
        few = ", ".join(paths[:3]) + (", ..." if len(paths) > 3 else "")
        raise InvalidInput(
            f"nothing is predicted: a newer buildlog wrote {few}", hint="update buildlog"
        )


@cache
def _still_tables() -> frozenset[str]:
    """The tables of car.toml that have no field which moves the power."""
    paths = [path for path in fields(Configuration) if "." in path]
    moving = {assembly(path) for path in paths if moves(path) & (PREDICTION | UNMODELLED)}
    return frozenset(map(assembly, paths)) - moving


def refuse_power_source(configuration: Configuration) -> None:
    """InvalidInput for a car that no formula covers: not spark ignition, or a rotary engine."""
    source = configuration.car.power_source
    diesel = configuration.fuel is not None and configuration.fuel.kind == "diesel"
    if source == "spark-ignition" or (source is None and not diesel and not configuration.motor):
        rotary = configuration.engine is not None and configuration.engine.layout == "rotary"
        if not rotary:
            return
        raise InvalidInput("no model for a rotary engine: only four-stroke piston engines")
    raise InvalidInput(
        f"no model for this power source ({source or 'not stated; the fuel is diesel'})",
        why="what it gives is measured, not predicted",
    )


def _refuse_undeclared(before: EngineState, after: EngineState) -> None:
    for state in (before, after):
        for name in state.unmodelled:
            if state.effect_named(name) is None:
                table = name.replace(" ", "_")
                raise InvalidInput(
                    f"no model covers {name}, and no effect of it is declared",
                    hint=f"set {table}.effect.breathing_low, .breathing_high and .source"
                    if name != "twin charging"
                    else "no effect can stand for it: measure it",
                )


def _unmodelled(configuration: Configuration, start: Start) -> tuple[str, ...]:
    """Systems without a formula that were not switched off during the pulls."""
    names = [
        name.replace("_", " ")
        for name in _SPRAYED
        if has_table(configuration, name) and start.used.get(name) != "off"
    ]
    how = configuration.induction
    if how and how.kind in ("positive-displacement", "centrifugal") and how.turbine is not None:
        names.append("twin charging")
    return tuple(names)


def _displacements(
    one: Engine | None, other: Engine | None, notes: list[str]
) -> tuple[float, float]:
    before, after = _displacement(one), _displacement(other)
    if before is None and after is None:
        raise InvalidInput(
            "the displacement is missing",
            hint="set engine.bore, engine.stroke and engine.cylinders, or engine.displacement",
        )
    if before is None or after is None:
        notes.append("displacement is stated on one side only and taken for both")
    first = before if before is not None else after
    second = after if after is not None else before
    assert first is not None
    assert second is not None
    one_size = abs(second / first - 1) < _SAME_SIZE and _by_bore(one) != _by_bore(other)
    return (first, first) if one_size else (first, second)


def _by_bore(engine: Engine | None) -> bool:
    return engine is not None and None not in (engine.bore, engine.stroke, engine.cylinders)


def _displacement(engine: Engine | None) -> float | None:
    if engine is None:
        return None
    if engine.bore and engine.stroke and engine.cylinders:
        return engine_physics.displacement(engine.bore.si, engine.stroke.si, engine.cylinders)
    return engine.displacement.si if engine.displacement else None


def _ratios(
    one: Configuration, other: Configuration, notes: list[str]
) -> tuple[float | None, float | None]:
    before = one.engine.compression_ratio if one.engine else None
    after = other.engine.compression_ratio if other.engine else None
    if (before is None) != (after is None):
        notes.append("compression ratio is stated on one side only and taken for both")
        return before or after, before or after
    return before, after


def _lambdas(
    one: Configuration, other: Configuration, start: Start
) -> tuple[float | None, float | None]:
    """Full-load lambda: the stated aim, else what the pulls showed, else None for a prior."""
    stated = [c.calibration.lambda_full_load if c.calibration else None for c in (one, other)]
    before = stated[0] if stated[0] is not None else start.lambda_
    after = stated[1]
    if after is None and _blown(one) == _blown(other):
        after = before
    return before, after


def _retard(configuration: Configuration) -> float | None:
    calibration = configuration.calibration
    retard = calibration.spark_retard if calibration else None
    return retard.si if retard is not None else None


def declared_effects(configuration: Configuration) -> tuple[BreathingEffect, ...]:
    """Every declared effect on breathing, by the path of its assembly."""
    bounds: dict[str, dict[str, float]] = {}
    for path, value in leaves(configuration).items():
        name, _, end = path.rpartition(".effect.")
        if end in ("breathing_low", "breathing_high") and isinstance(value, Quantity):
            bounds.setdefault(name, {})[end] = value.si
    found = [_effect(name, both) for name, both in bounds.items()]
    return tuple(sorted(found, key=lambda effect: effect.name))


def _effect(path: str, bounds: Mapping[str, float]) -> BreathingEffect:
    low = bounds.get("breathing_low", bounds.get("breathing_high", 0.0))
    high = bounds.get("breathing_high", low)
    name = path.replace("_", " ") if path in _SPRAYED else path
    if low > high:
        raise InvalidInput(
            f"{path}.effect: the least change of breathing is above the most",
            hint="change breathing_low and breathing_high",
        )
    factor: float | Uncertain = 1 + low
    if high > low:
        words = f"{100 * low:+g} to {100 * high:+g} % breathing"
        spread = Uniform(1 + low, 1 + high)
        factor = Declared(f"{name} (declared effect)", spread, name, words)
    return BreathingEffect(name, factor)


def _kind(configuration: Configuration) -> str | None:
    return configuration.induction.kind if configuration.induction else None


def _blown(configuration: Configuration) -> bool:
    return _kind(configuration) not in (None, "naturally-aspirated")
