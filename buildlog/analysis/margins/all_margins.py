"""Every margin of a car: each limit with what is asked of it, tightest first."""

from __future__ import annotations

from buildlog.analysis.margins.demands import Demands, Subject
from buildlog.analysis.margins.margin_cases import worse
from buildlog.analysis.margins.margin_rows import Row, tightest_first
from buildlog.analysis.margins.margins_driveline import driveline_rows, fastener_rows, tyre_rows
from buildlog.analysis.margins.margins_engine import engine_rows
from buildlog.analysis.margins.margins_fuel import charge_rows, fuel_rows
from buildlog.findings import Finding
from buildlog.physics.parts import margin_kinds
from buildlog.physics.parts.margin import Kind

PARTS = (fuel_rows, charge_rows, engine_rows, driveline_rows, tyre_rows, fastener_rows)


def rows(subject: Subject) -> list[Row]:
    """Every margin that this car has, in the order of the work; with nitrous or charge
    injection, each in its worse case."""
    return worse(subject, _rows)


def _rows(subject: Subject) -> list[Row]:
    car = Demands(subject)
    return [one for part in PARTS for one in part(car)]


def margins(subject: Subject) -> list[Row]:
    """Every margin, tightest first; unknown ones stand after those that answer."""
    return tightest_first(rows(subject))


def states(found: list[Row]) -> dict[str, str]:
    """The state of each margin by its name, as the gates ask for it."""
    return {one.name: one.state.value for one in found if not one.kind.information}


def findings(found: list[Row], subject: Subject) -> list[Finding]:
    """Data that make no sense, and what no model covers."""
    out = [one.finding for one in found if one.finding is not None]
    car = Demands(subject)
    if not car.spark_ignition:
        source = subject.configuration.car.power_source or "not spark ignition"
        text = f"no model for this power source ({source}): fuel, mixture and knock are left out"
        out.append(Finding("no-model", "note", text, ("car.power_source",)))
    return out


def kinds() -> dict[str, Kind]:
    """Every kind of margin that there is, by name."""
    return dict(margin_kinds.KINDS)
