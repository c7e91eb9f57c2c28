"""Every margin of a car: each limit with what is asked of it, tightest first."""

from __future__ import annotations

from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Row, tightest_first
from buildlog.analysis.margins.figures.margin_subject import Subject
from buildlog.analysis.margins.margin_cases import worse
from buildlog.analysis.margins.margin_table import margin_files
from buildlog.findings import Finding
from buildlog.records.checked_paths import field

_POWER_SOURCE = field("car.power_source")


def margins(subject: Subject) -> list[Row]:
    """Every margin that this car has, tightest first; unknown ones stand after those that answer.

    With nitrous or charge injection, each in its worse case.
    """
    car = MarginCar(subject)
    return tightest_first([one for file in margin_files() for one in worse(file.rows, car)])


def states(found: list[Row]) -> dict[str, str]:
    """The state of each margin by its name, as the gates ask for it."""
    return {one.name: one.state.value for one in found if not one.kind.information}


def findings(found: list[Row], subject: Subject) -> list[Finding]:
    """Data that make no sense, and what no model covers."""
    out = [one.finding for one in found if one.finding is not None]
    if not MarginCar(subject).spark_ignition:
        source = subject.configuration.car.power_source or "not spark ignition"
        text = f"no model for this power source ({source}): fuel, mixture and knock are left out"
        out.append(Finding("no-model", "note", text, (_POWER_SOURCE,)))
    return out
