"""The car whose margins are asked: what its files say and what it puts out, the limits that are
stated for it, and each figure worked out once."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache, wraps
from math import hypot
from typing import Any, TypeVar, cast

from buildlog.analysis.car.priors import Prior
from buildlog.analysis.margins.figures.demand_figure import (
    Z90,
    Basis,
    DemandFigure,
    Source,
    absent,
    as_limit,
)
from buildlog.physics.numerics.band import Band
from buildlog.physics.parts.traction_pack import Draw, greatest
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import FieldPath, TablePath, field, table, value_at
from buildlog.records.fasteners import Joint
from buildlog.units import Quantity


@dataclass(frozen=True)
class PackDraws:
    """What a traction battery was logged to give: the draws that tell, the share of a power that
    the instruments may be off (one standard deviation), and the words for where it is from."""

    draws: tuple[Draw, ...]
    sd: float
    source: Source
    basis: Basis = "measured"

    def greatest(self, **charge: float | None) -> DemandFigure | None:
        """The greatest of them [W] `above` a charge, or `at_most` at it."""
        found = greatest(self.draws, **charge)
        if found is None:
            return None
        return DemandFigure(Band.around(found, Z90 * self.sd), self.basis, (self.source,))

    def times(self, share: float) -> PackDraws:
        """The same pack giving more or less, by a sum."""
        draws = tuple((charge, power * share) for charge, power in self.draws)
        return replace(self, draws=draws, basis="computed")


@dataclass(frozen=True)
class Run:
    """What the engine puts out at full load, as far as anybody knows.

    power [W] at `omega` [rad/s] and torque [N*m], at the wheels or hubs unless `at_crank`; torque,
    the greatest of the curve, is None where only the power peak is known, and `torque_source`
    says where it is from if not from what power is. Only if they were logged: boost, the highest
    [Pa gauge], mixture, lambda at the power peak, leanest, the leanest lambda that was held,
    turbine_inlet, the hottest gas before the turbine [K], and pack, what a traction battery gave.
    basis: measured, predicted, or declared (the maker's rating).
    """

    power: Band
    omega: float | None
    basis: Basis
    source: Source
    torque: Band | None = None
    at_crank: bool = False
    boost: DemandFigure | None = None
    mixture: DemandFigure | None = None
    leanest: DemandFigure | None = None
    note: str | None = None
    nitrous_on: bool = False
    torque_source: Source | None = None
    turbine_inlet: DemandFigure | None = None
    pack: PackDraws | None = None


def measured_run(
    power: float,
    omega: float | None,
    pulls: int,
    source: Source,
    accuracy: float | None = None,
    torque: float | None = None,
    u_speed: float = 0.0,
    **facts: Any,
) -> Run:
    """A run from a measured peak [W] and the greatest torque of the same curve [N*m].

    The band holds the scatter of the mean of its pulls, 1 % for one pull (common practice), and
    the dyno's stated accuracy, which here does not cancel, as an even spread; that of torque
    `u_speed`, too: the relative uncertainty of an engine speed that was recovered.
    """
    u = hypot(0.01 / max(1, pulls) ** 0.5, (accuracy or 0.0) / 3**0.5)
    turning = None if torque is None else Band.around(torque, Z90 * hypot(u, u_speed))
    return Run(Band.around(power, Z90 * u), omega, "measured", source, turning, **facts)


@dataclass(frozen=True)
class KnownGood:
    """The last configuration before this one that ran under full load on the same fuel."""

    name: str
    configuration: Configuration
    run: Run | None


@dataclass(frozen=True)
class Subject:
    """Everything a margin may ask for. joints: tightening records by name, newest of each.

    gain: what power is multiplied by while nitrous flows, injected_gain: the same for the fuel
    through the injectors, lean: what lambda is multiplied by when its fuel stays away.
    """

    configuration: Configuration
    run: Run | None
    priors: Mapping[str, Prior]
    on: dt.date | None = None
    joints: Mapping[str, Joint] = dataclasses.field(default_factory=dict)
    known_good: KnownGood | None = None
    no_run: str | None = None
    gain: DemandFigure | None = None
    injected_gain: DemandFigure | None = None
    lean: DemandFigure | None = None


def with_power(subject: Subject, power: float, boost: Band | None = None) -> Subject:
    """The subject at another power [W], at the wheels or crank as its run is; all else as it is.

    Torque grows with power. `boost` [Pa gauge] is the boost that goes with it.
    """
    run = subject.run
    if run is None:
        return subject
    share = power / run.power.p50
    raised = replace(run, power=run.power * share, torque=run.torque and run.torque * share)
    if share != 1:
        # No formula follows what more power makes of the gas, or which share of it a pack gives;
        # where the pack gives all, its power grows with that at the wheels.
        alone = not MarginCar(subject).combustion
        pack = run.pack.times(share) if alone and run.pack else None
        raised = replace(raised, turbine_inlet=None, pack=pack)
    if boost is not None:
        held = run.boost or DemandFigure(None, run.basis, (run.source,))
        raised = replace(raised, boost=replace(held, band=boost))
    return replace(subject, run=raised)


@dataclass(frozen=True)
class LimitTable:
    """The `limit` table of an assembly, where its value has this dimension."""

    value: FieldPath
    source: FieldPath
    dimension: str


@dataclass(frozen=True)
class StatedLimit:
    """A limit with a field of its own, else what the `limit` table of its assembly states."""

    path: FieldPath
    general: LimitTable | None = None


def limit_table(assembly: str, dimension: str) -> LimitTable:
    """The `limit` table of an assembly; LookupError if it has none.

    >>> limit_table("exhaust", "pressure").value
    'exhaust.limit.value'
    """
    limit = table(f"{assembly}.limit")
    return LimitTable(limit.field("value"), limit.field("source"), dimension)


def stated_limit(path: str, dimension: str | None = None) -> StatedLimit:
    """The limit at a path; with a dimension, else a general one of the same assembly.

    >>> stated_limit("clutch.rated_torque", "torque").general.value
    'clutch.limit.value'
    """
    own = field(path)
    return StatedLimit(own, limit_table(own.table, dimension) if dimension else None)


T = TypeVar("T")
_FORCED = ("positive-displacement", "centrifugal", "turbocharger")
_DRIVEN = ("positive-displacement", "centrifugal")
_MEASURED_FIELDS = (field("exhaust.back_pressure"), field("tyres.rolling_circumference"))


class MarginCar:
    """One subject and the figures that were worked out for it."""

    def __init__(self, subject: Subject) -> None:
        self.subject = subject
        self.configuration = subject.configuration
        self.known: dict[Callable[[MarginCar], Any], Any] = {}

    def given(self, *paths: FieldPath) -> DemandFigure:
        """The first of these fields that is stated; without any, the first is missing."""
        for path in paths:
            value = value_at(self.configuration, path)
            if value is None or isinstance(value, bool | str):
                continue
            number = value.si if isinstance(value, Quantity) else float(value)  # type: ignore[arg-type]
            basis: Basis = "measured" if path in _MEASURED_FIELDS else "declared"
            return DemandFigure(Band.exact(number), basis, (self._said(path),), paths=(path,))
        return absent(paths[0])

    def limit(self, where: StatedLimit) -> DemandFigure:
        """A limit or rating of its own, else what the assembly's `limit` table states."""
        found = self.given(where.path)
        if found.band is None and where.general is not None:
            found = self.general_limit(where.general, where.path)
        return as_limit(found)

    def general_limit(self, where: LimitTable, ask: FieldPath | None = None) -> DemandFigure:
        """The `limit` table of an assembly, where it states a figure of this dimension."""
        value = value_at(self.configuration, where.value)
        if not isinstance(value, Quantity) or value.dimension != where.dimension:
            return absent(ask or where.value)
        said = value_at(self.configuration, where.source)
        words = Source(where.value.table + (f": {said}" if said else ""))
        return as_limit(
            DemandFigure(Band.exact(value.si), "declared", (words,), (), (where.value,))
        )

    def prior(self, name: str) -> DemandFigure:
        """A typical efficiency or rate, never a limit, a rating, a size or a count."""
        return _typical(self.subject.priors[name])

    def given_or_prior(self, path: FieldPath, name: str) -> DemandFigure:
        """A stated efficiency or rate, else the typical one."""
        found = self.given(path)
        return found if found.band is not None else self.prior(name)

    def _said(self, path: FieldPath) -> Source:
        """Who states it: the nearest table above that names a source."""
        for source in _sources_above(path):
            said = value_at(self.configuration, source)
            if said:
                return Source(f"{source.table}: {said}")
        return Source(f"{path} as stated")

    @property
    def spark_ignition(self) -> bool:
        """Whether the fuel formulas hold; nothing else gets a gasoline figure."""
        source, tank = self.configuration.car.power_source, self.configuration.fuel
        if source is not None:
            return source == "spark-ignition"
        return self.configuration.motor is None and not (tank and tank.kind == "diesel")

    @property
    def carburettors(self) -> bool:
        """Whether carburettors meter its fuel."""
        fuel = self.configuration.fuel
        return fuel is not None and fuel.carburettors is not None

    @property
    def controlled(self) -> bool:
        """Whether a calibration says what the engine does: of carburettors and distributor only
        where one is stated."""
        return not self.carburettors or self.configuration.calibration is not None

    @property
    def combustion(self) -> bool:
        """Whether there is an engine that burns something."""
        return self.configuration.car.power_source != "electric"

    @property
    def compressor(self) -> str | None:
        """The kind of what compresses the charge; None where nothing does."""
        how = self.configuration.induction
        return how.kind if how is not None and how.kind in _FORCED else None

    @property
    def boosted(self) -> bool:
        """Whether something compresses the charge."""
        return self.compressor is not None

    @property
    def driven(self) -> bool:
        """Whether a belt or gears drive the compressor."""
        return self.compressor in _DRIVEN

    @property
    def cooled(self) -> bool:
        """Whether a charge cooler is fitted."""
        how = self.configuration.induction
        return how is not None and how.charge_cooler is not None


def burns(car: MarginCar) -> bool:
    """Cars with an engine that burns something."""
    return car.combustion


def burns_by_spark(car: MarginCar) -> bool:
    """Cars for which the fuel formulas hold."""
    return car.spark_ignition


def injects_by_spark(car: MarginCar) -> bool:
    """Cars for which the fuel formulas hold and that have injectors."""
    return car.spark_ignition and not car.carburettors


def burns_controlled(car: MarginCar) -> bool:
    """Engines that a calibration cuts off."""
    return car.combustion and car.controlled


def burns_charged(car: MarginCar) -> bool:
    """Engines whose charge is compressed."""
    return car.combustion and car.boosted


def burns_driven(car: MarginCar) -> bool:
    """Engines that drive a compressor."""
    return car.combustion and car.driven


def once_a_car(figure: Callable[[MarginCar], T]) -> Callable[[MarginCar], T]:
    """A figure of a car that is worked out when it is first asked for, and once."""

    @wraps(figure)
    def known(car: MarginCar) -> T:
        if figure not in car.known:
            car.known[figure] = figure(car)
        return cast(T, car.known[figure])

    return known


@cache
def _typical(prior: Prior) -> DemandFigure:
    ends = (prior.quantile(p) for p in (0.1, 0.5, 0.9))
    brief = f"{prior.called} typical"
    return DemandFigure(Band(*ends), "typical", (Source(f"{brief} ({prior.describe()})", brief),))


@cache
def _sources_above(path: FieldPath) -> tuple[FieldPath, ...]:
    """The `source` fields of the tables around a field, nearest first; some tables have none."""
    table: TablePath | None = path.table
    found: list[FieldPath] = []
    while table is not None:
        with suppress(LookupError):
            found.append(table.field("source"))
        table = table.above
    return tuple(found)
