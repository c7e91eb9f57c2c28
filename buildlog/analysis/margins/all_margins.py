"""Every margin of a car: each limit with what is asked of it, tightest first; with nitrous or
charge injection, each in its worse case, with them working and with them failed.

Working, nitrous brings oxygen and with it power. Failed, it flows without its fuel, or the
injected methanol stays away, and the mixture is leaner. No cooling is credited to either."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from buildlog.analysis.car.changes import newer_fields
from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent, derive, exact
from buildlog.analysis.margins.figures.fuel_demand import air_flow, fuel_flow, tank
from buildlog.analysis.margins.figures.margin_car import MarginCar, Subject, once_a_car
from buildlog.analysis.margins.figures.margin_rows import Row, tightest_first
from buildlog.analysis.margins.margin_table import margin_files
from buildlog.findings import Finding
from buildlog.physics.gases.fuels import FUELS
from buildlog.physics.parts.margin import Margin, State
from buildlog.records.checked_paths import field, field_paths, table, value_at
from buildlog.records.paths import assembly, carried, leaves
from buildlog.units import Quantity

# What a part may bear or show; not what an owner wants, an engine puts out or a maker measured at.
_LIMIT = re.compile(
    r"(_limit|_limit_gauge|\.relief_gauge|\.limit\.value|\.rated_(heat|torque|power|power_per_rib)"
    r"|\.range_\w+|_strength|\.least_\w+|\.load_index|\.speed_symbol)$"
)
_NO_LIMIT = (
    f"{table('intent')}.",
    *field_paths("calibration.rev_limit", "calibration.speed_limit"),  # what the car is held to
    *field_paths("engine.rated_power", "engine.rated_torque"),
    *field_paths("motor.rated_power", "motor.rated_torque"),
)
_LACKS: dict[str, str] = {
    field("motor.speed_limit"): "no formula follows the motor's speed",
    **dict.fromkeys(
        field_paths("induction.boost.relief_gauge", "calibration.boost_limit_gauge"),
        "the car states nothing that makes boost",
    ),
    **dict.fromkeys(
        field_paths("tyres.load_index", "tyres.speed_symbol"),
        "the tires of the axles state their own",
    ),
}
_POWER_SOURCE = field("car.power_source")
_ADDED = (table("nitrous"), table("charge_injection"))  # each margin is asked with and without


def margins(subject: Subject) -> list[Row]:
    """Every margin that this car has, tightest first; unknown ones stand after those that answer.

    With nitrous or charge injection, each in its worse case.
    """
    car = MarginCar(subject)
    found = [one for file in margin_files() for one in worse(file.rows, car)]
    newer = list(carried(subject.configuration))
    return tightest_first([_set_aside(one, newer) for one in found] if newer else found)


def _set_aside(one: Row, newer: Sequence[str]) -> Row:
    """A margin of a table into which a newer buildlog wrote is not known here."""
    sides = [side for side in (one.demand, one.capacity, one.alternative) if side]
    paths = [path for side in sides for path in (*side.paths, *side.missing)]
    touched = {*map(assembly, paths), *_ADDED}
    names = tuple(f"a newer buildlog, for {path}" for path in newer if assembly(path) in touched)
    if not names:
        return one
    return replace(one, margin=Margin(one.kind, None, None, names), alternative=None, ask=names)


def states(found: list[Row]) -> dict[str, str]:
    """The state of each margin by its name, as the gates ask for it."""
    return {one.name: one.state.value for one in found if not one.kind.information}


def findings(found: list[Row], subject: Subject) -> list[Finding]:
    """Data that make no sense, and what no model covers."""
    out = [one.finding for one in found if one.finding is not None]
    if not MarginCar(subject).spark_ignition:
        source = subject.configuration.car.power_source or "not spark ignition"
        left_out = (
            "what its pack and motor give is measured, not predicted"
            if source == "electric"
            else "its fuel system and its charge are left out"
        )
        text = f"no model for this power source ({source}): {left_out}"
        out.append(Finding("no-model", "note", text, (_POWER_SOURCE,)))
    newer = newer_fields(subject.configuration)
    return [*out, *([newer] if newer else []), *_not_compared(found, subject)]


def _not_compared(found: list[Row], subject: Subject) -> Iterator[Finding]:
    """Limits and ratings that are stated, and nothing is put against them: each is said."""
    sides = [side for one in found for side in (one.demand, one.capacity, one.alternative) if side]
    used = {path for side in sides for path in side.paths}
    for path, value in leaves(subject.configuration).items():
        if _LIMIT.search(path) and not path.startswith(_NO_LIMIT) and path not in used:
            lacks = _LACKS.get(path, "no formula gives its load")
            shown = value.text if isinstance(value, Quantity) else value
            text = f"{path} ({shown}) is stated, and nothing is compared with it: {lacks}"
            yield Finding("limit-not-compared", "note", text, (path,))


# Oxygen by mass: 16.00/44.01 of nitrous oxide, 0.2314 of dry air (molar masses, computed).
AIR_IN_NITROUS = (15.999 / 44.013) / 0.2314
_METHANOL = FUELS["methanol"]
_FUEL_KIND = field("fuel.kind")
_NITROUS_FLOW = field("nitrous.flow")
_INJECTED_FLOW = field("charge_injection.flow")


def worse(rows: Callable[[MarginCar], Iterator[Row]], car: MarginCar) -> list[Row]:
    """The rows of a margin; with nitrous or charge injection, of each the worse case."""
    found = _cases(car)
    if not found:
        return list(rows(car))
    by_case = {name: {one.name: one for one in rows(case)} for name, case in found.items()}
    names = dict.fromkeys(name for case in by_case.values() for name in case)
    return [_worse_of({c: r[name] for c, r in by_case.items() if name in r}) for name in names]


def _worse_of(cases: dict[str, Row]) -> Row:
    """The tightest case; one that cannot be known is not beaten by one that is clear."""
    unknown = next((row for row in cases.values() if row.state is State.UNKNOWN), None)
    first = tightest_first(list(cases.values()))[0]
    if unknown is not None and first.state is not State.OVER:
        return unknown
    if len({row.margin.left for row in cases.values()}) == 1:
        return first
    return replace(first, case=next(name for name, row in cases.items() if row is first))


@once_a_car
def _cases(car: MarginCar) -> dict[str, MarginCar]:
    """The car with everything working and with everything failed; empty without either."""
    nitrous, injection = car.configuration.nitrous, car.configuration.charge_injection
    if not car.spark_ignition or (nitrous is None and injection is None):
        return {}
    working, lean = car.subject, exact(1.0)
    if nitrous is not None:
        gain = _nitrous_gain(car)
        on = car.subject.run is not None and car.subject.run.nitrous_on
        working = replace(working, gain=exact(1.0) if on else gain)
        if nitrous.kind == "wet":  # its own nozzle brings the fuel
            working = replace(working, injected_gain=exact(1.0))
        lean = derive(lambda a, b: a * b, lean, gain)
    if injection is not None and injection.kind != "water":
        lean = derive(lambda a, b: a * b, lean, _without_methanol(car))
    return {
        "working": MarginCar(working),
        "failed": MarginCar(replace(car.subject, lean=lean)),
    }


def _nitrous_gain(car: MarginCar) -> DemandFigure:
    """Oxygen with nitrous over oxygen without; power and fuel grow alike."""
    return derive(
        lambda flow, air: 1 + AIR_IN_NITROUS * flow / air, car.given(_NITROUS_FLOW), air_flow(car)
    )


def _without_methanol(car: MarginCar) -> DemandFigure:
    """Lambda without the injected fuel over lambda with it; a mixture counts as all methanol,
    which is the worse end."""
    liquid, known = tank(car)
    if liquid is None:
        return known if known.missing else absent(_FUEL_KIND)
    value = value_at(car.configuration, _INJECTED_FLOW)
    volume = isinstance(value, Quantity) and value.dimension == "volume_flow"
    ratio = liquid.stoichiometric_ratio

    def leaner(flow: float, fuel: float) -> float:
        mass = flow * _METHANOL.density if volume else flow
        from_methanol = mass * _METHANOL.stoichiometric_ratio
        if from_methanol >= fuel * ratio:
            raise ValueError(f"{_INJECTED_FLOW} is more fuel than the engine burns.")
        return fuel * ratio / (fuel * ratio - from_methanol)

    return derive(leaner, car.given(_INJECTED_FLOW), fuel_flow(car))
