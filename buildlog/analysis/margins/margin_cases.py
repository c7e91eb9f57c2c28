"""Nitrous and charge injection: every margin with them working and with them failed.

Working, nitrous brings oxygen and with it power. Failed, it flows without its fuel, or the
injected methanol stays away, and the mixture is leaner. No cooling is credited to either.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from buildlog.analysis.margins.demands import DemandFigure, Demands, Subject, absent, derive, exact
from buildlog.analysis.margins.margin_rows import Row, tightest_first
from buildlog.physics.gases.fuels import FUELS
from buildlog.physics.parts.margin import State
from buildlog.records.paths import get
from buildlog.units import Quantity

# Oxygen by mass: 16.00/44.01 of nitrous oxide, 0.2314 of dry air (molar masses, computed).
AIR_IN_NITROUS = (15.999 / 44.013) / 0.2314
_METHANOL = FUELS["methanol"]


def worse(subject: Subject, rows: Callable[[Subject], list[Row]]) -> list[Row]:
    """The rows of a car; with nitrous or charge injection, of each margin the worse case."""
    found = _cases(subject)
    if not found:
        return rows(subject)
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


def _cases(subject: Subject) -> dict[str, Subject]:
    car = Demands(subject)
    nitrous, injection = subject.configuration.nitrous, subject.configuration.charge_injection
    if not car.spark_ignition or (nitrous is None and injection is None):
        return {}
    working, failed, lean = subject, subject, exact(1.0)
    if nitrous is not None:
        gain = _nitrous_gain(car)
        on = subject.run is not None and subject.run.nitrous_on
        working = replace(working, gain=exact(1.0) if on else gain)
        if nitrous.kind == "wet":  # its own nozzle brings the fuel
            working = replace(working, injected_gain=exact(1.0))
        lean = derive(lambda a, b: a * b, lean, gain)
    if injection is not None and injection.kind != "water":
        lean = derive(lambda a, b: a * b, lean, _without_methanol(car))
    return {"working": working, "failed": replace(failed, lean=lean)}


def _nitrous_gain(car: Demands) -> DemandFigure:
    """Oxygen with nitrous over oxygen without; power and fuel grow alike."""
    return derive(
        lambda flow, air: 1 + AIR_IN_NITROUS * flow / air, car.given("nitrous.flow"), car.air_flow
    )


def _without_methanol(car: Demands) -> DemandFigure:
    """Lambda without the injected fuel over lambda with it; a mixture counts as all methanol,
    which is the worse end."""
    liquid, known = car.tank
    if liquid is None:
        return known if known.missing else absent("fuel.kind")
    value = get(car.configuration, "charge_injection.flow")
    volume = isinstance(value, Quantity) and value.dimension == "volume_flow"
    ratio = liquid.stoichiometric_ratio

    def leaner(flow: float, fuel: float) -> float:
        mass = flow * _METHANOL.density if volume else flow
        from_methanol = mass * _METHANOL.stoichiometric_ratio
        if from_methanol >= fuel * ratio:
            raise ValueError("charge_injection.flow is more fuel than the engine burns.")
        return fuel * ratio / (fuel * ratio - from_methanol)

    return derive(leaner, car.given("charge_injection.flow"), car.fuel_flow)
