"""Everything that is shown of one session: the sheet, sags, mixture, and what is doubtful."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from buildlog.analysis.pulls import log_agreement, pack
from buildlog.analysis.pulls.air_fuel import Mixture, mixture
from buildlog.analysis.pulls.curves import displacement
from buildlog.analysis.pulls.log_agreement import LogBeside, TwoSources, logs_beside, two_sources
from buildlog.analysis.pulls.pack import PackReading, pack_readings
from buildlog.analysis.pulls.pull_data import specs_of
from buildlog.analysis.pulls.sag_report import SagReport, sag_report
from buildlog.analysis.pulls.sheet import Sheet
from buildlog.errors import BuildlogError
from buildlog.findings import Finding, worst_first
from buildlog.physics.engines import crank
from buildlog.physics.numerics import repeatability
from buildlog.physics.numerics.repeatability import DifferenceSource
from buildlog.physics.parts import usual_ranges
from buildlog.rawfiles.sanity import look_at
from buildlog.rawfiles.table import RawTable
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import field, of_session

_BORE = field("engine.bore")
_COLUMN = of_session("column[]")
ANOTHER_DAY = repeatability.DIFFERENCE_DEFAULTS["another day"]
RULE_OF_THUMB = (0.88, 0.82)  # wheel over crank, manual rear-drive at the tyres: common practice


@dataclass(frozen=True)
class SheetReport:
    """A session worked out in full. `limit` is the repeatability limit of single pulls and
    `can_show` the least difference of as many pulls again, in one visit and on another day
    (relative, 95 %). `crank` [W] is the usual estimate (least, most) of crank
    power for a manual rear-drive car measured at the tyres; None for any other. `beside` are
    the sessions to compare next, of which it is one; None where it is the only one. `logs` are the
    files of other loggers, `doubled` what two files say of one quantity, `packs`
    what the pulls log of a traction battery."""

    sheet: Sheet
    sags: SagReport
    mixture: Mixture
    limit: float | None
    crank: tuple[float, float] | None
    findings: tuple[Finding, ...]
    can_show: tuple[float, float] = (0.0, 0.0)
    beside: tuple[str, str] | None = None
    logs: tuple[LogBeside, ...] = ()
    doubled: tuple[TwoSources, ...] = ()
    packs: tuple[PackReading, ...] = ()


def sheet_report(
    sheet: Sheet, configuration: Configuration, days: DifferenceSource = ANOTHER_DAY
) -> SheetReport:
    """All that `dyno sheet` says of a session; `days`: how much its dyno differs over days."""
    sags = sag_report(sheet, configuration)
    mix = mixture(sheet, configuration)
    packs = pack_readings(sheet, configuration)
    findings = [
        *sheet.findings,
        *pack.findings(packs),
        *of_this_car(_files(sheet), configuration),
        *_rows_left_out(sheet),
        *sags.findings,
        *log_agreement.findings(sheet),
        *mix.findings,
        *_bmep(sheet, configuration),
        *_single(sheet),
    ]
    limit = repeatability.repeatability_limit(sheet.scatter) if sheet.groups else None
    return SheetReport(
        sheet, sags, mix, limit, crank_estimate(sheet, configuration),
        tuple(worst_first(dict.fromkeys(findings))), _can_show(sheet, days),
        logs=logs_beside(sheet), doubled=two_sources(sheet), packs=packs,
    )  # fmt: skip


def of_this_car(found: Iterable[Finding], car: Configuration) -> Iterator[Finding]:
    """What is odd of a file, without what is usual of a car: 1 to 3 bar of boost from the first row
    on is what a compression-ignition engine makes (common practice)."""
    diesel = car.car.power_source == "compression-ignition"
    yield from (one for one in found if not (diesel and one.code == "pressure-reference"))


def _can_show(sheet: Sheet, days: DifferenceSource) -> tuple[float, float]:
    """Least differences that as many pulls again would show."""
    if sheet.kept is None:
        return 0.0, 0.0
    n = sheet.kept.pulls
    same = repeatability.half_width_95(sheet.scatter, n, n)
    return same, repeatability.half_width_95(sheet.scatter, n, n, days.u_normal)


def crank_estimate(sheet: Sheet, configuration: Configuration) -> tuple[float, float] | None:
    """The usual estimate of crank power from wheel power, where the rule of thumb applies."""
    kind = configuration.gearbox.kind if configuration.gearbox else None
    driven = configuration.chassis.driven_wheels if configuration.chassis else None
    if sheet.kept is None or sheet.at != "wheels" or (kind, driven) != ("manual", "rear"):
        return None
    peak = sheet.kept.peak_power.value
    return peak / RULE_OF_THUMB[0], peak / RULE_OF_THUMB[1]


def _files(sheet: Sheet) -> Iterator[Finding]:
    """Numbers of the raw files that do not fit the units they are said to be in."""
    for curve in sheet.curves:
        recorded = curve.data.recorded
        specs = [s for s in specs_of(sheet.session, curve.data.pull) if s.channel in recorded]
        table = RawTable(dict(recorded), {})
        try:
            yield from look_at(table, specs, curve.name)
        except (BuildlogError, ValueError):
            continue  # what cannot be looked at was refused or named when it was read


def _rows_left_out(sheet: Sheet) -> Iterator[Finding]:
    """What was cut from each file, as it says it."""
    for curve in sheet.curves:
        if curve.data.cuts:
            text = " ".join(curve.data.cuts).rstrip(".")
            yield Finding("rows-left-out", "note", f"pull {curve.name}: {text}")


def _bmep(sheet: Sheet, configuration: Configuration) -> Iterator[Finding]:
    """A mean effective pressure at the wheels already beyond any engine of its kind."""
    swept, kind = displacement(configuration), _kind(configuration)
    for group in sheet.groups:
        if group.torque is None or swept is None or kind is None:
            return
        highest = float(np.nanmax(group.torque))
        pressure = crank.bmep(highest, swept)
        over = usual_ranges.beyond_kind(pressure, kind)
        if over is not None:
            yield Finding(
                "bmep",
                "caution",
                f"{group.key or 'the pulls'}: the torque means a brake mean effective pressure of "
                f"{pressure / 1e5:.0f} bar, {100 * over:.0f} % beyond any {kind} road engine",
                (_COLUMN, _BORE),
                hint="look at the power column's unit, the gear, and the engine's size",
            )


def _kind(configuration: Configuration) -> usual_ranges.Kind | None:
    charged = configuration.induction.kind if configuration.induction else None
    free = charged in {None, "naturally-aspirated"}
    source = configuration.car.power_source or "spark-ignition"
    if source not in ("spark-ignition", "compression-ignition"):
        return None
    charge = "naturally aspirated" if free else "pressure-charged"
    return f"{charge} {source.replace('-', ' ')}"  # type: ignore[return-value]


def _single(sheet: Sheet) -> Iterator[Finding]:
    """What few pulls can and cannot show."""
    singles = [g for g in sheet.groups if g.pulls == 1]
    if singles and sheet.scatter.basis == "typical":
        yield Finding(
            "single-pull",
            "note",
            "one pull says nothing of its own scatter: 1 % is taken (common practice)",
            hint="three pulls in a row show what this dyno repeats",
        )
