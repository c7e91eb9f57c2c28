"""A session's sheet as the JSON that other programs rely on: SI, rpm and km/h by the axis."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from buildlog.analysis.pulls.air_fuel import RegionReading
from buildlog.analysis.pulls.curves import Curve
from buildlog.analysis.pulls.log_agreement import LogBeside, TwoSources
from buildlog.analysis.pulls.pack import PackReading
from buildlog.analysis.pulls.pull_data import AXIS_UNIT, Floats
from buildlog.analysis.pulls.sag_report import FoundSag
from buildlog.analysis.pulls.sheet import PullGroup, Sheet
from buildlog.analysis.pulls.sheet_report import SheetReport
from buildlog.records.session import Stated
from buildlog.report.as_json.json_parts import finding_json
from buildlog.report.numbers import finite


def sheet_json(report: SheetReport) -> dict[str, Any]:
    """The body of `dyno sheet --json`."""
    sheet = report.sheet
    factors = [c.factor for c in sheet.curves if c.factor]
    dry = [f.dry_pressure for f in factors if f.dry_pressure is not None]
    return {
        "session": sheet.name,
        "date": sheet.session.date.isoformat(),
        "standard": sheet.standard,
        "standard_wanted": sheet.conversion.wanted,
        "standard_in_file": sheet.conversion.applied,
        "factor": factors[0].value if factors else None,
        "factors": list(sheet.factors()),
        "within_limits": all(f.inside_limits for f in factors) if factors else None,
        "dry_pressure_pa": dry[0] if dry else None,
        "at": sheet.at if sheet.groups else None,
        "basis": basis(sheet),
        "axis": sheet.axis,
        "axis_unit": AXIS_UNIT[sheet.axis],
        "pulls": [_pull(curve, sheet) for curve in (*sheet.curves, *sheet.unused)],
        "groups": [_group(sheet, group) for group in sheet.groups],
        "mean": _mean(sheet, sheet.kept) if sheet.kept else None,
        "scatter": {
            "relative": sheet.scatter.s,
            "dof": finite(sheet.scatter.dof),
            "basis": sheet.scatter.basis,
            "pooled_with": list(sheet.pooled_with),
            "repeatability_limit": report.limit,
        },
        "engine_speed_source": _speed(sheet),
        "torque_reason": sheet.torque_reason if sheet.groups else None,
        "crank_estimate_w": list(report.crank) if report.crank else None,
        "sags": [_sag(sag) for sag in report.sags.sags],
        "air_fuel": [_reading(one) for one in report.mixture.readings],
        "packs": [_pack(one) for one in report.packs],
        "logs": [log_json(one) for one in report.logs],
        "one_quantity_twice": [two_json(one) for one in report.doubled],
        "stoichiometric_ratio": report.mixture.stoichiometric,
        "stated": [_stated(one) for one in sheet.session.stated],
        "findings": [finding_json(finding) for finding in report.findings],
    }


def basis(sheet: Sheet) -> str:
    """ "measured", "estimated" from a road log, or "declared"."""
    if not sheet.groups:
        return "declared"
    return "estimated" if sheet.u_power else "measured"


def _pull(curve: Curve, sheet: Sheet) -> dict[str, Any]:
    known = sheet.axis in curve.axis
    peak = curve.peak(sheet.axis) if known else None
    return {
        "file": curve.data.pull.file,
        "name": curve.name,
        "group": curve.data.group,
        "peak_power_w": peak.value if peak else None,
        "at": peak.location if peak else None,
        "u_at": finite(peak.u_location) if peak else None,
        "at_edge": peak.at_edge if peak else None,
        "used": curve.data.pull.use,
        "power_source": curve.data.power_source,
        "engine_speed_source": curve.speed.words,
        "rows": curve.data.rows,
        "rows_used": int(curve.data.power.size),
        "left_out": list(curve.data.cuts),
    }


def _group(sheet: Sheet, group: PullGroup) -> dict[str, Any]:
    return {
        "key": group.key,
        "kept": group is sheet.kept,
        "pulls": group.pulls,
        "peak_power": asdict(group.peak_power),
        "peak_power_half_width_95": sheet.peak_half_width(group),
        "peak_torque": asdict(group.peak_torque) if group.peak_torque else None,
        "best_pull": {"name": group.best[0], "peak_power": asdict(group.best[1])},
    }


def _mean(sheet: Sheet, group: PullGroup) -> dict[str, Any]:
    observed = [c.observed is not None and c.factor is not None for c in group.curves]
    factor = sum(c.factor.value for c in group.curves if c.factor) / group.pulls
    return {
        "axis": sheet.axis,
        "grid": numbers(sheet.grid),
        "power_w": numbers(group.mean),
        "torque_nm": None if group.torque is None else numbers(group.torque),
        "half_width_95": numbers(sheet.mean_half_width(group)),
        "pulls": group.levelled.count.tolist(),
        "observed_power_w": numbers(group.mean / factor) if all(observed) and factor else None,
        "group": group.key,
    }


def _speed(sheet: Sheet) -> dict[str, Any] | None:
    if not sheet.curves:
        return None
    speed = max((c.speed for c in sheet.curves), key=lambda s: s.u)
    return {"state": speed.state, "text": speed.words, "u": speed.u, "missing": list(speed.missing)}


def _sag(sag: FoundSag) -> dict[str, Any]:
    return {
        "group": sag.group,
        "at": sag.at,
        "width": sag.width,
        "depth_w": sag.depth_w,
        "depth": sag.depth,
        "depth_half_width_95": sag.half_width,
        "pulls": list(sag.pulls),
        "in_more_than_half": sag.shared,
        "coincides_with": [
            {"channel": b.channel, "change_si": b.change, "level_si": b.level, "at": b.at}
            for b in sag.beside
        ],
        "settings": [
            {"name": s.name, "gauge_pa": s.value, "boost_gauge_pa": s.boost,
             "power_climbs_on": s.climbs_on}
            for s in sag.settings
        ],
    }  # fmt: skip


def _reading(one: RegionReading) -> dict[str, Any]:
    return {
        "region": one.region,
        "group": one.group,
        "median": one.median,
        "worst": one.worst,
        "worst_at": one.worst_at,
        "worst_in": one.worst_in,
        "richest": one.richest,
        "target": one.target,
        "usual": list(one.usual) if one.usual else None,
        "state": one.state,
        "source": one.source or None,
    }


def _pack(one: PackReading) -> dict[str, Any]:
    return {
        "pull": one.pull,
        "power_w": one.power,
        "lowest_voltage_v": one.lowest_voltage,
        "state_of_charge": list(one.charge) if one.charge else None,
        "highest_k": one.temperatures,
        "stated_w": one.limit,
        "stated_by": one.limit_by,
        "left": one.left,
        "share_at_allowed_power": one.at_limit,
    }


def log_json(one: LogBeside) -> dict[str, Any]:
    """One log beside one pull."""
    return {
        "file": one.log.file,
        "source": one.log.source,
        "pull": one.pull,
        "channels": list(one.log.channels),
        "rows_per_second": one.log.rate,
        "aligned_by": one.log.by,
        "shift_s": one.log.shift,
        "u_shift_s": one.log.u_shift,
        "match": one.log.match,
        "covered": one.covered,
        "tried": list(one.log.tried),
    }


def two_json(one: TwoSources) -> dict[str, Any]:
    """One quantity that two files hold."""
    return {
        "pull": one.pull,
        "channel": one.channel,
        "first": one.first,
        "second": one.second,
        "level_si": one.level,
        "median_difference_si": one.difference,
        "largest_difference_si": one.largest,
        "at": one.at,
        "explained_si": one.limit,
        "beyond_noise": one.part,
    }


def _stated(one: Stated) -> dict[str, Any]:
    return {
        "quantity": one.quantity,
        "value_si": one.value.si,
        "text": one.value.text,
        "at": one.at.text if one.at else None,
        "standard": one.standard,
        "measured_at": one.measured_at,
        "source": one.source,
        "basis": "declared",
    }


def numbers(values: Floats) -> list[float | None]:
    """An array for JSON: a place without a value is null."""
    return [finite(float(value)) for value in values]
