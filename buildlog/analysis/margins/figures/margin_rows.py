"""One margin of a car: a physical margin with the words for what both of its sides rest on."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from buildlog.analysis.margins.figures.demand_figure import SESSION, Basis, DemandFigure, Source
from buildlog.analysis.margins.figures.margin_car import MarginCar, StatedLimit, burns
from buildlog.findings import Finding
from buildlog.physics.numerics.band import Band
from buildlog.physics.parts.margin import PRACTICE, Kind, Margin, Rule, State, choose, tightness

__all__ = [
    "PRACTICE", "Band", "Kind", "Row", "Rule", "State", "row", "tightest_first", "worth_asking",
]  # fmt: skip


def kind_of(module: str) -> Kind:
    """What a margin is, by the TOML file beside its module."""
    table = tomllib.loads(Path(module).with_suffix(".toml").read_text(encoding="utf-8"))
    del table["example"]
    return Kind(**table | {"rule": Rule(table.get("rule", Rule.RATIO))})


Side = Callable[[MarginCar], DemandFigure]
"""What is asked of a car, or what it allows."""

_WEAKEST: tuple[Basis, ...] = (
    "measured", "declared", "computed", "predicted", "typical", "missing",
)  # fmt: skip


@dataclass(frozen=True)
class Row:
    """A margin by its name. `what` says which piece, where a car has several of a kind.

    alternative: a computed capacity that differs from the stated one. ask: the data that would
    answer, without those of a second way. case: "working" or "failed" where nitrous or charge
    injection counts and that case is the worse.
    """

    margin: Margin
    demand: DemandFigure
    capacity: DemandFigure
    alternative: DemandFigure | None = None
    ask: tuple[str, ...] = ()
    what: str | None = None
    note: str | None = None
    problem: str | None = None
    case: str | None = None

    @property
    def kind(self) -> Kind:
        """Rule, caution band, formula and source."""
        return self.margin.kind

    @property
    def name(self) -> str:
        """The kind's name, with the piece where there are several."""
        return f"{self.kind.name}: {self.what}" if self.what else self.kind.name

    @property
    def state(self) -> State:
        """Clear, close, over or unknown."""
        return self.margin.state

    @property
    def basis(self) -> Basis:
        """The weaker basis of the two sides, in one word."""
        if self.state is State.UNKNOWN:
            return "missing"
        return max(self.demand.basis, self.capacity.basis, key=_WEAKEST.index)

    @property
    def sources(self) -> tuple[Source, ...]:
        """What both sides rest on."""
        return tuple(dict.fromkeys((*self.demand.sources, *self.capacity.sources)))

    @property
    def finding(self) -> Finding | None:
        """What is wrong with the data, where they make no sense."""
        if self.problem is None:
            return None
        paths = self.demand.paths + self.capacity.paths
        text = f"{self.name}: {self.problem.rstrip('.')}"
        return Finding("limit-nonsense", "error", text, paths, "car.toml", "correct the value")


def row(
    kind: Kind,
    demand: DemandFigure,
    capacity: DemandFigure,
    computed: DemandFigure | None = None,
    *,
    what: str | None = None,
    note: str | None = None,
) -> Row:
    """Put a demand against a capacity. A stated capacity wins over the computed one; where it
    is not stated the computed one serves. Missing data make it unknown, whatever else is known.
    """
    used, other = choose(capacity.band, computed.band if computed else None)
    serving = capacity if capacity.band is not None or computed is None else computed
    serving = serving if serving.band is not None else capacity
    missing, ask = demand.missing, demand.missing
    if used is None:
        ask += capacity.missing
        missing += capacity.missing + (computed.missing if computed else ())
    sides = (demand, capacity, *((computed,) if computed else ()))
    problem = next((f.problem for f in sides if f.problem), None)
    try:
        margin = Margin(kind, demand.band, used, missing, other)
    except ValueError as error:
        problem = str(error)
        missing = ask = demand.paths + serving.paths or ("a possible value",)
        margin = Margin(kind, None, None, missing)
    beside = replace(computed, band=other) if computed and other else None
    return Row(margin, demand, serving, beside, tuple(dict.fromkeys(ask)), what, note, problem)


def one_row(
    kind: Kind,
    demand: Side,
    capacity: Side | StatedLimit,
    where: Callable[[MarginCar], bool] = burns,
) -> Callable[[MarginCar], Iterator[Row]]:
    """The rows of a margin that has one, on the cars `where` it means anything."""
    allowed: Side = (
        partial(MarginCar.limit, where=capacity) if isinstance(capacity, StatedLimit) else capacity
    )

    def rows(car: MarginCar) -> Iterator[Row]:
        if where(car):
            yield row(kind, demand(car), allowed(car))

    return rows


def tightest_first(rows: list[Row]) -> list[Row]:
    """What gives first stands first; unknown ones last, then what is for information."""
    return sorted(rows, key=lambda one: (*tightness(one.margin), one.what or ""))


def worth_asking(rows: list[Row]) -> list[str]:
    """Missing data: a dyno session before all, then fields of their own before the general
    `limit` tables, those first that answer the most margins."""
    count: dict[str, int] = {}
    for one in rows:
        for name in one.ask:
            count[name] = count.get(name, 0) + 1
    general = {name: name.endswith(".limit.value") for name in count}
    return sorted(count, key=lambda name: (name != SESSION, general[name], -count[name]))
