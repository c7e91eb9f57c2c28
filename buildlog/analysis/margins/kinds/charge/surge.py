"""Surge: the least air that passes a compressor at full boost, against its maker's surge line."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.charge_demand import inlet, pressure_ratio
from buildlog.analysis.margins.figures.demand_figure import (
    SESSION,
    DemandFigure,
    absent,
    derive,
    exact,
)
from buildlog.analysis.margins.figures.fuel_demand import air_flow
from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.physics.gases import charge
from buildlog.physics.numerics.constants import ATM
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)
_RATIOS = field("induction.compressor.surge_pressure_ratios")
_FLOWS = field("induction.compressor.surge_flows")
_COUNT = field("induction.compressor.count")
_THRESHOLD = field("induction.boost.threshold_speed")


def rows(car: MarginCar) -> Iterator[Row]:
    """One, where a surge line or a map is stated; what is displaced by rotors does not surge."""
    how = car.configuration.induction
    made = how.compressor if how is not None else None
    stated = made is not None and (made.surge_flows or made.surge_pressure_ratios or made.map)
    if stated and car.spark_ignition and car.compressor in ("turbocharger", "centrifugal"):
        line, note = _line(car)
        yield row(KIND, line, _flow(car), note=note)


def _line(car: MarginCar) -> tuple[DemandFigure, str | None]:
    """Flow on the surge line at the pressure ratio [kg/s]; unknown beyond its points, said why."""
    made = car.configuration.induction and car.configuration.induction.compressor
    ratios, flows = (made.surge_pressure_ratios, made.surge_flows) if made else (None, None)
    if not ratios or not flows:
        return absent(*(path for path, at in ((_FLOWS, flows), (_RATIOS, ratios)) if not at)), None
    asked = pressure_ratio(car)
    if asked.band is not None and not ratios[0] <= asked.band.p10 <= asked.band.p90 <= ratios[-1]:
        reach = f"{asked.band.p10:.2f} to {asked.band.p90:.2f}"
        note = f"the surge line is stated for pressure ratios of {ratios[0]:g} to {ratios[-1]:g}, "
        return absent(_RATIOS), f"{note}and {reach} are held"
    words = f"{_FLOWS.table}: surge line of {len(flows)} points"
    known = exact(1.0, words, path=_FLOWS), exact(1.0, path=_RATIOS)
    return derive(
        lambda ratio, *_: charge.surge_flow(ratio, ratios, [one.si for one in flows]),
        asked, *known,
    ), None  # fmt: skip


def _flow(car: MarginCar) -> DemandFigure:
    """Corrected flow of one compressor where full boost is first held [kg/s]."""
    count = car.given(_COUNT)
    return derive(
        lambda air, share, inlet, count: charge.corrected_flow(air * share / count, inlet, ATM),
        air_flow(car), _share(car), inlet(car), count if count.band is not None else exact(1.0),
    )  # fmt: skip


def _share(car: MarginCar) -> DemandFigure:
    """Engine speed there over that of the power peak, where a belt-driven one has its boost."""
    if car.driven:
        return exact(1.0)
    run = car.subject.run
    if run is None or run.omega is None:
        return absent(SESSION)
    at_peak = run.omega
    threshold = car.given_or_prior(_THRESHOLD, "turbocharger_threshold")
    return derive(lambda omega: min(omega / at_peak, 1.0), threshold)
