"""What the prediction knows of an engine: stated values, uncertain ones, and gaps.

Every field takes a float (known), an `Uncertain` (a distribution with a name) or None (to be
filled by `fill` from the prior named beside it). SI throughout; boost is gauge, other
pressures are absolute.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cache
from typing import Annotated, Any, TypeVar, get_origin, get_type_hints

from buildlog.physics.numerics.constants import ATM
from buildlog.physics.numerics.sampling import Uncertain

Given = float | Uncertain | None
Curve = tuple[float, ...]

_Record = TypeVar("_Record")


@dataclass(frozen=True)
class PositiveDisplacement:
    """A blower geared to the crankshaft that moves a volume with every turn.

    boost [Pa gauge]: what it is said to give, or a measured curve on the grid (then set
    delivery to 1); None: matched from displacement_per_rev [m^3] and drive_ratio [-].
    stated_at [Pa]: air pressure at which the boost was stated; the pressure ratio is kept
    at others. relief [Pa gauge].
    """

    boost: Given | Curve = None
    displacement_per_rev: float | None = None
    drive_ratio: float | None = None
    relief: float | None = None
    stated_at: float = ATM
    delivery: Annotated[Given, "boost_delivery"] = None
    efficiency: Annotated[Given, "positive_displacement_efficiency"] = None
    mechanical_efficiency: Annotated[Given, "blower_drive_efficiency"] = None
    volumetric_efficiency: Annotated[Given, "blower_volumetric_efficiency"] = None


@dataclass(frozen=True)
class Centrifugal:
    """A geared-up centrifugal compressor: boost rises with speed squared to its stated point.

    boost [Pa gauge] at `stated_omega` [rad/s, engine], or a measured curve on the grid.
    """

    boost: Given | Curve
    stated_omega: float
    relief: float | None = None
    stated_at: float = ATM
    delivery: Annotated[Given, "boost_delivery"] = None
    efficiency: Annotated[Given, "centrifugal_efficiency"] = None
    mechanical_efficiency: Annotated[Given, "blower_drive_efficiency"] = None


@dataclass(frozen=True)
class Turbocharger:
    """A turbocharger whose boost is held at a target above a threshold speed.

    boost [Pa gauge], or a measured curve; absolute: the control holds ATM + boost whatever
    the air; threshold [rad/s, engine]; back_pressure_ratio [-]: gauge pressure before the
    turbine over boost.
    """

    boost: Given | Curve
    absolute: bool = False
    threshold: Annotated[Given, "turbocharger_threshold"] = None
    control: Annotated[Given, "boost_control"] = None
    efficiency: Annotated[Given, "turbocharger_efficiency"] = None
    back_pressure_ratio: Annotated[Given, "turbine_back_pressure_ratio"] = None


Induction = PositiveDisplacement | Centrifugal | Turbocharger


@dataclass(frozen=True)
class CoolerState:
    """effectiveness [-]; coolant_rise [K] of its air or water over the air of the day;
    pressure_drop [Pa] at the highest flow."""

    effectiveness: Annotated[Given, "cooler_effectiveness"] = None
    coolant_rise: Annotated[Given, "cooler_coolant_rise"] = None
    pressure_drop: Annotated[Given, "cooler_pressure_drop"] = None


@dataclass(frozen=True)
class BreathingEffect:
    """A declared change of breathing that physics cannot derive: ports, cams, headers.

    factor on the trapped charge [-]; a band without a middle is `Uniform`.
    """

    name: str
    factor: float | Uncertain


@dataclass(frozen=True)
class EngineState:
    """One configuration as the prediction sees it.

    displacement [m^3]; compression_ratio [-]; lambda_full_load [-]; spark_retard from best
    timing [rad] (a prior is taken as the value at 7 psi and grows with boost);
    energy_per_air [J/kg] of the fuel; alcohol [-]: its share of alcohols by volume;
    evaporative_cooling [K] beyond that of gasoline, only where declared;
    ambient_pressure [Pa], ambient_temperature [K], vapour_pressure [Pa]; exhaust_resistance
    and intake_resistance [-]: pressure loss at equal flow over that of the measured car;
    unmodelled: what no formula here covers ("nitrous", "charge injection", "twin charging"):
    refused unless an effect of that name declares what it does.
    """

    displacement: float
    compression_ratio: Annotated[Given, "compression_ratio"] = None
    lambda_full_load: Given = None
    spark_retard: Given = None
    energy_per_air: Given = 2.955e6
    alcohol: float = 0.0
    evaporative_cooling: Given = 0.0
    ambient_pressure: float = ATM
    ambient_temperature: float = 298.15
    vapour_pressure: float = 0.0
    induction: Induction | None = None
    cooler: CoolerState | None = None
    exhaust_resistance: Given = 1.0
    intake_resistance: Given = 1.0
    effects: tuple[BreathingEffect, ...] = ()
    unmodelled: tuple[str, ...] = ()

    def effect_named(self, name: str) -> BreathingEffect | None:
        """The declared effect of this name."""
        return next((e for e in self.effects if e.name == name), None)


@dataclass(frozen=True)
class Anchor:
    """The measured curve, and what car and model keep from one configuration to the other.

    omega [rad/s] and power [W] on one grid; at = "wheels", or "crank" for an estimate from
    the maker's figures. working: lowest and highest engine speed [rad/s] of the mean. level
    [-] multiplies the power: uncertain where the curve was not measured. compression_spark
    [rad]: how much later the spark for a point more of compression; 0 where the calibration of
    both sides states the spark. knock_retard [rad]: how late it was beside that.
    """

    omega: Curve
    power: Curve
    at: str = "wheels"
    working: tuple[float, float] | None = None
    level: Given = 1.0
    driveline_loss: Annotated[Given, "driveline_loss"] = None
    constant_share: Annotated[Given, "driveline_constant_share"] = None
    friction_factor: Annotated[Given, "friction_factor"] = None
    peak_pressure_per_imep: Annotated[Given, "peak_pressure_per_imep"] = None
    back_pressure: Annotated[Given, "exhaust_back_pressure"] = None
    intake_depression: Annotated[Given, "intake_depression"] = None
    volumetric_efficiency: Annotated[Given, "engine_volumetric_efficiency"] = None
    temperature_exponent: Annotated[Given, "charge_temperature_exponent"] = None
    cycle_gamma: Annotated[Given, "fuel_air_cycle_gamma"] = None
    retard_loss: Annotated[Given, "retard_loss"] = None
    displacement_choke: Annotated[Given, "displacement_choke"] = None
    manifold_change: Annotated[Given, "manifold_change"] = None
    fuel_change: Annotated[Given, "fuel_change"] = None
    compression_spark: Annotated[Given, "compression_spark"] = None
    knock_retard: Annotated[Given, "spark_retard_unboosted"] = None


def fill(record: _Record, priors: Mapping[str, Uncertain]) -> _Record:
    """Return the record with every gap filled from the priors, sub-records too.

    Inputs: an Anchor, EngineState or one of their parts; priors by name.
    Errors: KeyError for a prior that is missing from the mapping.
    """
    changes: dict[str, Any] = {}
    names = _prior_names(type(record))  # type: ignore[arg-type]
    for item in fields(record):  # type: ignore[arg-type]
        value = getattr(record, item.name)
        if value is None and item.name in names:
            changes[item.name] = priors[names[item.name]]
        elif is_dataclass(value) and not isinstance(value, (type, Uncertain)):
            changes[item.name] = fill(value, priors)
    if isinstance(record, EngineState):
        changes |= _calibration_gaps(record, priors)
    return replace(record, **changes)  # type: ignore[type-var]


@cache
def _prior_names(kind: type) -> dict[str, str]:
    """The prior that fills a gap, by field."""
    hints = get_type_hints(kind, include_extras=True).items()
    return {name: hint.__metadata__[0] for name, hint in hints if get_origin(hint) is Annotated}


def _calibration_gaps(state: EngineState, priors: Mapping[str, Uncertain]) -> dict[str, Any]:
    boosted = state.induction is not None
    gaps: dict[str, Any] = {}
    if state.lambda_full_load is None:
        gaps["lambda_full_load"] = priors["lambda_boosted" if boosted else "lambda_unboosted"]
    if state.spark_retard is None:
        gaps["spark_retard"] = priors["spark_retard_boosted"] if boosted else 0.0
    return gaps


def uncertain_inputs(*records: object) -> dict[str, Uncertain]:
    """Return the uncertain inputs of filled records by name, in the order of their fields."""
    return {u.name: u for record in records for u in _walk(record)}


def _walk(value: object) -> Iterator[Uncertain]:
    if isinstance(value, Uncertain):
        yield value
    elif isinstance(value, tuple):
        for item in value:
            yield from _walk(item)
    elif is_dataclass(value):
        for entry in fields(value):
            yield from _walk(getattr(value, entry.name))


@dataclass(frozen=True)
class ChangeGroup:
    """Fields and effects that change together, with the name and assembly to print."""

    name: str
    assembly: str
    fields: tuple[str, ...] = ()
    effects: tuple[str, ...] = ()

    def joined(self, other: ChangeGroup) -> ChangeGroup:
        """Both as one."""
        return ChangeGroup(
            f"{self.name} + {other.name}",
            self.assembly,
            self.fields + other.fields,
            self.effects + other.effects,
        )


_GROUPS = (
    ChangeGroup("boost", "induction", ("induction",)),
    ChangeGroup("charge cooling", "induction", ("cooler",)),
    ChangeGroup("intake restriction", "induction", ("intake_resistance",)),
    ChangeGroup("exhaust back pressure", "exhaust", ("exhaust_resistance",)),
    ChangeGroup("mixture", "calibration", ("lambda_full_load",)),
    ChangeGroup("spark timing", "calibration", ("spark_retard",)),
    ChangeGroup("compression ratio", "engine", ("compression_ratio",)),
    ChangeGroup("displacement", "engine", ("displacement",)),
    ChangeGroup("fuel", "fuel", ("energy_per_air", "alcohol")),
    ChangeGroup("evaporation of the fuel", "fuel", ("evaporative_cooling",)),
    ChangeGroup(
        "air of the day",
        "air",
        ("ambient_pressure", "ambient_temperature", "vapour_pressure"),
    ),
)


def changed_groups(a: EngineState, b: EngineState) -> list[ChangeGroup]:
    """Return the groups in which two filled states differ, each declared effect by itself."""
    physical = [g for g in _GROUPS if any(getattr(a, f) != getattr(b, f) for f in g.fields)]
    names = sorted({e.name for e in (*a.effects, *b.effects)})
    declared = [n for n in names if a.effect_named(n) != b.effect_named(n)]
    return physical + [ChangeGroup(n, n.partition(".")[0], effects=(n,)) for n in declared]


def partly(a: EngineState, b: EngineState, groups: Iterable[ChangeGroup]) -> EngineState:
    """Return state a with these groups taken from b."""
    groups = tuple(groups)
    names = {n for g in groups for n in g.effects}
    kept = tuple(e for e in a.effects if e.name not in names)
    taken = tuple(e for e in b.effects if e.name in names)
    effects = tuple(sorted(kept + taken, key=lambda e: e.name))
    return replace(a, effects=effects, **{f: getattr(b, f) for g in groups for f in g.fields})
