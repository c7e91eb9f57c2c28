"""The car whose margins are asked: what its files say, and each figure worked out once."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from functools import cache, wraps
from typing import Any, TypeVar, cast

from buildlog.analysis.car.priors import Prior
from buildlog.analysis.margins.figures.demand_figure import (
    Basis,
    DemandFigure,
    Source,
    absent,
    as_limit,
)
from buildlog.analysis.margins.figures.margin_subject import Subject
from buildlog.analysis.margins.figures.stated_limit import LimitTable, StatedLimit
from buildlog.physics.numerics.band import Band
from buildlog.records.checked_paths import FieldPath, TablePath, field, value_at
from buildlog.units import Quantity

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
    brief = f"{prior.name.replace('_', ' ')} typical"
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
