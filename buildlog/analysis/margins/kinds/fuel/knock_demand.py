"""Knock: how much more octane a car asks for than the last one that ran; never an absolute."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import pi

from buildlog.analysis.margins.figures.charge_demand import charge_temperature, manifold
from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent, derive, exact
from buildlog.analysis.margins.figures.margin_car import KnownGood, MarginCar, Run, Subject
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.physics.gases import knock
from buildlog.physics.numerics.constants import PSI
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)

_COMPRESSION = field("engine.compression_ratio")
_RETARD = field("calibration.spark_retard")
_SAME_FUEL = "a session on the fuel"
# No field holds it and no log gives it: what ran is known to have run, not what it had left.
_OCTANE_NEED = "the octane that this engine needs"
_NO_CHANGE = 0.05  # octane numbers: nothing that moves knock has changed


def rows(car: MarginCar) -> Iterator[Row]:
    """How much more octane than the last configuration that ran; no reserve is credited.

    A configuration that was itself pulled is its own known-good: told, but no limit.
    """
    run, base = car.subject.run, car.subject.known_good
    if not car.spark_ignition:
        return
    if run is not None and run.basis == "measured":
        yield _itself()
    elif base is not None:
        yield _against(car, base)


def _itself() -> Row:
    limit = exact(0.0, "this configuration itself ran under full load", "measured")
    note = "nothing that asks for more octane than this was run"
    return row(replace(KIND, information=True), absent(_OCTANE_NEED), limit, note=note)


def _alike(one: Run | None, other: Run | None) -> Run | None:
    """A run whose boost was logged, as declared where the other's was not: what a log and a target
    differ by is no change of the car."""
    if one is None or one.boost is None or one.boost.basis != "measured":
        return one
    return one if other is not None and other.boost is not None else replace(one, boost=None)


def _against(car: MarginCar, base: KnownGood) -> Row:
    limit = exact(0.0, f"{base.name} ran under full load on this fuel", "measured")
    if not _same_fuel(base.configuration, car.configuration):
        asked = absent(f"{_SAME_FUEL} of {base.name}")
        return row(KIND, asked, limit, note="no known-good configuration on this fuel")
    run = car.subject.run
    now = MarginCar(replace(car.subject, run=_alike(run, base.run)))
    then = MarginCar(Subject(base.configuration, _alike(base.run, run), car.subject.priors))
    change = _octane_change(now, then)
    if change.band is not None and abs(change.band.p50) < _NO_CHANGE:
        note = f"asks for no more than {base.name}, which ran"
        return row(replace(KIND, information=True), change, limit, note=note)
    return row(KIND, change, limit, note=f"against {base.name}")


def _same_fuel(one: Configuration, other: Configuration) -> bool:
    """Whether two configurations burn the same fuel, as far as is stated."""
    a, b = one.fuel, other.fuel
    if a is None or b is None:
        return a is b
    return (a.kind, a.ron, a.mon, a.aki) == (b.kind, b.ron, b.mon, b.aki) and (
        a.ethanol_content and a.ethanol_content.si
    ) == (b.ethanol_content and b.ethanol_content.si)


def _octane_change(car: MarginCar, base: MarginCar) -> DemandFigure:
    """Octane numbers that the change asks for; the spread is that of boost and slopes.

    Inlet air is the same on both sides, so temperatures are compared at their middle.
    """
    return derive(
        knock.octane_demand_change,
        _difference(car.given(_COMPRESSION), base.given(_COMPRESSION)),
        _difference(manifold(car), manifold(base)),
        _difference(_middle(charge_temperature(car)), _middle(charge_temperature(base))),
        _retard(car, base),
        car.prior("octane_per_compression_point"),
        derive(lambda per_psi: per_psi / PSI, car.prior("octane_per_psi")),
        car.prior("octane_per_kelvin"),
        derive(lambda per_degree: -per_degree, car.prior("octane_per_degree")),
    )


def _difference(now: DemandFigure, then: DemandFigure) -> DemandFigure:
    return derive(lambda now, then: now - then, now, then)


def _middle(figure: DemandFigure) -> DemandFigure:
    return derive(lambda value: value, figure if figure.band is None else exact(figure.band.p50))


def _retard(car: MarginCar, base: MarginCar) -> DemandFigure:
    """Later spark than in the base [degrees]; none where the calibration is the same one."""
    if _calibration(car) is not None and _calibration(car) == _calibration(base):
        return exact(0.0)
    return derive(
        lambda now, then: (now - then) * 180 / pi, car.given(_RETARD), base.given(_RETARD)
    )


def _calibration(car: MarginCar) -> str | None:
    calibration = car.configuration.calibration
    return calibration.id if calibration is not None else None
