"""A session's sheet as text: the answer, the conditions, the pulls, mixture, sags, scatter."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from buildlog.analysis.pulls.air_fuel import RegionReading
from buildlog.analysis.pulls.log_agreement import LogBeside, TwoSources, worst_of_each
from buildlog.analysis.pulls.pack import PackReading
from buildlog.analysis.pulls.sag_report import Beside, FoundSag
from buildlog.analysis.pulls.sheet import PullGroup, Sheet
from buildlog.analysis.pulls.sheet_report import SheetReport
from buildlog.channels import CHANNELS
from buildlog.findings import Finding
from buildlog.records.session import Air, Stated
from buildlog.report.lines import finding_lines, table, wrap
from buildlog.report.numbers import (
    Display,
    axis_number,
    axis_scale,
    axis_unit,
    axis_value,
    count,
    declared,
    digits_for,
    freedom,
    plain,
    signed,
)
from buildlog.units import parse, unit

STANDARDS = {"none": "observed, no correction", "unknown": "correction unknown"}
MOST_FINDINGS = 6  # on one screen; all of them with --full


def sheet_lines(report: SheetReport, show: Display, full: bool = False) -> list[str]:
    """The whole screen."""
    sheet = report.sheet
    lines = [*wrap(headline(sheet, show), 2, 0), *condition_lines(sheet), ""]
    lines += pull_lines(sheet, show, full)
    lines += [_stated(one) for one in sheet.session.stated]
    lines += _crank(report, show)
    lines += pack_lines(report.packs, show)
    lines += log_lines(report, show, full)
    lines += mixture_lines(report, show, full)
    lines += sag_lines(report, show)
    lines += wrap(scatter_sentence(report), 2) if sheet.groups else []
    following = f"dyno compare {' '.join(report.beside)}" if report.beside else "diff"
    return [*lines, *_findings(report.findings, full), f"next: buildlog {following}"]


def headline(sheet: Sheet, show: Display) -> str:
    """The peak with its interval, where, by which standard, from how many pulls."""
    group = sheet.kept
    if group is None:
        count = len(sheet.session.stated)
        return f"{sheet.name}: {count} stated value{'s' * (count != 1)}, declared, no scatter known"
    top, half = group.peak_power, sheet.peak_half_width(group)
    unit_of = show.unit("power")
    digits = digits_for(half / unit_of.factor)
    value = plain(unit_of.from_si(top.value), digits)
    spread = plain(half / unit_of.factor, digits)
    kind = "estimated" if sheet.u_power else "measured"
    there = group.pulls_at(sheet, top.at)
    fewer = f", {there} of them there" if there < group.pulls else ""
    pulls = f"mean of {group.pulls} pulls{fewer}" if group.pulls > 1 else "one pull"
    edge = ", still rising at the end of the pull" if top.at_edge else ""
    value = f"at least {value}" if top.at_edge else value
    named = f" {group.key}" if len(sheet.groups) > 1 and group.key else ""
    return (
        f"{sheet.name}{named}: {value} ± {spread} {unit_of.text} at "
        f"{axis_value(top.at, sheet.axis)} at the {sheet.at}, {kind} "
        f"({STANDARDS.get(sheet.standard, sheet.standard)}, {pulls}, 95 %{edge})"
    )


def peak_words(sheet: Sheet, show: Display) -> str:
    """ "207.3 ± 2.3 hp": the peak of the pulls that stand for the session; of one without pulls
    the value that is stated."""
    group = sheet.kept
    if group is None:
        stated = [one for one in sheet.session.stated if one.quantity == "power"]
        return f"{declared(stated[0].value)} stated" if stated else "nothing of power"
    least = "at least " if group.peak_power.at_edge else ""
    half = sheet.peak_half_width(group)
    return f"{least}{_pm(group.peak_power.value, half, show, 'power')} {show.unit('power').text}"


def condition_lines(sheet: Sheet) -> list[str]:
    """Place, machine, gear and odometer; the air and what it makes of the power."""
    lines = wrap("; ".join([sheet.session.date.isoformat(), *place_words(sheet)]), 2)
    return [*lines, *wrap(air_words(sheet), 2), *wrap(speed_words(sheet), 2)]


def place_words(sheet: Sheet) -> list[str]:
    """Where a session was, on which machine, in which gear, at which odometer."""
    session, dyno = sheet.session, sheet.session.dyno
    machine = "dyno not named"
    if dyno is not None:
        named = [dyno.id or "not named", dyno.kind or "", dyno.driven or ""]
        machine = "dyno " + ", ".join(word for word in named if word)
    parts = [
        session.place or "place not recorded",
        declared(session.altitude) if session.altitude else "",
        machine,
        f"gear {session.gear}" if session.gear else "gear not recorded",
        declared(session.odometer) if session.odometer else "odometer not recorded",
    ]
    return [part for part in parts if part]


def _as_the_barometer(pressure: float, air: Air | None) -> str:
    """A computed pressure in the unit that the air's was written in."""
    wrote = air.pressure.unit if air and air.pressure else unit("kPa", "pressure")
    decimals = 1 if wrote.text in {"hPa", "mbar", "mmHg"} else 2
    return declared(parse(f"{wrote.from_si(pressure):.{decimals}f} {wrote.text}", ("pressure",)))


def air_words(sheet: Sheet) -> str:
    """The air, its dry pressure, the factor, and whether the standard accepts it."""
    air = sheet.session.air
    given = [
        f"{declared(value)}{word}"
        for value, word in (
            (air.temperature if air else None, ""),
            (air.pressure if air else None, ""),
            (air.humidity if air else None, " humidity"),
        )
        if value is not None
    ]
    if not given:
        return "air not recorded"
    text = f"air {', '.join(given)}"
    dry = sorted({round(c.factor.dry_pressure, 0) for c in sheet.curves
                  if c.factor and c.factor.dry_pressure is not None})  # fmt: skip
    if dry:
        text += f": {_as_the_barometer(dry[0], air)} dry"
    factors = sheet.factors()
    if sheet.standard not in {"none", "unknown"} and factors:
        several = f" to {factors[-1]:.4f}" if len(factors) > 1 else ""
        inside = all(c.factor.inside_limits for c in sheet.curves if c.factor)
        where = "inside its limits" if inside else "outside its limits"
        text += f", factor {factors[0]:.4f}{several} ({sheet.standard}, {where})"
    if sheet.conversion.applied not in {"none", "unknown", sheet.standard}:
        text += f"; {sheet.conversion.applied} inside the file undone"
    elif sheet.conversion.applied == sheet.standard != "none":
        text += "; as corrected in the file"
    return text


def speed_words(sheet: Sheet) -> str:
    """Where engine speed comes from, or why torque is unknown."""
    found = {c.speed.words: c.speed for c in sheet.curves}
    if not found:
        return "no pulls"
    return f"{sheet.turning} " + "; ".join(
        words + (f", ± {100 * 1.96 * s.u:.1f} %" if s.state == "recovered" else "")
        for words, s in found.items()
    )


def pull_lines(sheet: Sheet, show: Display, full: bool = False) -> list[str]:
    """Every pull's peaks, each group's mean with its interval, observed beside corrected."""
    if not sheet.groups:
        return []
    place = axis_unit(sheet.axis)
    power, torque = show.unit("power").text, show.unit("torque").text
    has_torque = any(group.torque is not None for group in sheet.groups)
    head = ["pull", "group", f"power {power}", f"@ {place}"]
    head += [f"torque {torque}", f"@ {place}"] if has_torque else []
    rows = [head]
    for group in sheet.groups:
        rows += _group_rows(sheet, group, show, has_torque)
    rows += [
        [curve.name, "not used", "", "", curve.data.pull.reason or ""] for curve in sheet.unused
    ]
    if not any(group.key for group in sheet.groups) and not sheet.unused:
        rows = [[row[0], *row[2:]] for row in rows]
        return table(rows, right=(1, 2, 3, 4))
    return table(rows, right=(2, 3, 4, 5))


def _group_rows(sheet: Sheet, group: PullGroup, show: Display, torque: bool) -> Iterator[list[str]]:
    if group.pulls > 1:
        for curve in group.curves:
            peak = curve.peak(sheet.axis)
            least = "at least " if peak.at_edge else ""
            best = ", best" if curve.name == group.best[0] else ""
            row = [f"{curve.name}{best}", group.key, f"{least}{show.number(peak.value, 'power')}"]
            yield [*row, axis_number(peak.location, sheet.axis)]
    kept = " (in the car)" if len(sheet.groups) > 1 and group is sheet.kept else ""
    name = f"mean of {group.pulls}{kept}" if group.pulls > 1 else f"{group.curves[0].name}{kept}"
    half = sheet.peak_half_width(group)
    row = [name, group.key, _pm(group.peak_power.value, half, show, "power")]
    row.append(axis_number(group.peak_power.at, sheet.axis))
    if torque:
        row += _torque_cells(sheet, group, show)
    yield row
    yield from _observed(sheet, group, show)


def _torque_cells(sheet: Sheet, group: PullGroup, show: Display) -> list[str]:
    wide = sheet.torque_half_width(group)
    if group.peak_torque is None or wide is None or group.torque is None:
        return ["unknown", ""]
    share = float(np.interp(group.peak_torque.at, sheet.grid, wide / group.torque))
    value = group.peak_torque.value
    return [
        _pm(value, share * value, show, "torque"),
        axis_number(group.peak_torque.at, sheet.axis),
    ]


def _observed(sheet: Sheet, group: PullGroup, show: Display) -> Iterator[list[str]]:
    """Observed power beside corrected, for an engine that holds its own boost."""
    if not any(finding.code == "pressure-charged" for finding in sheet.findings):
        return
    factor = [c.factor.value for c in group.curves if c.factor]
    if factor and sheet.standard not in {"none", "unknown"}:
        observed = group.peak_power.value / float(np.mean(factor))
        row = ["  observed", group.key, show.number(observed, "power")]
        yield [*row, axis_number(group.peak_power.at, sheet.axis)]


def _pm(value: float, half: float, show: Display, dimension: str) -> str:
    factor = show.unit(dimension).factor
    digits = digits_for(half / factor)
    return f"{plain(value / factor, digits)} ± {plain(half / factor, digits)}"


def _stated(one: Stated) -> str:
    at = {"wheel": "at the wheels", "crank": "at the crank"}.get(one.measured_at or "", "")
    parts = [
        f"  stated {one.quantity} {declared(one.value)}"
        + (f" at {declared(one.at)}" if one.at else ""),
        at or "wheels or crank not said",
        one.standard or "standard not said",
        one.source or "",
        "declared: a point, no scatter",
    ]
    return ", ".join(part for part in parts if part)


def _crank(report: SheetReport, show: Display) -> list[str]:
    if report.crank is None:
        return []
    low, high = (show.number(value, "power", 0) for value in report.crank)
    text = f"at the crank: some {low} to {high} {show.unit('power').text} (typical: wheel power "
    return wrap(text + "over 0.88 to 0.82, common practice, an estimate)", 4, 2)


def pack_lines(packs: Sequence[PackReading], show: Display) -> list[str]:
    """The traction battery of each pull: its power against what is stated, charge and heat."""
    lines = [""] if packs else []
    for one in packs:
        parts = []
        if one.power is not None:
            parts.append(f"{show.value(one.power, 'power')} at most")
        if one.limit is not None and one.left is not None:
            parts.append(f"{100 * one.left:.0f} % left of {show.value(one.limit, 'power')} stated")
        if one.lowest_voltage is not None:
            parts.append(f"down to {one.lowest_voltage:.0f} V")
        if one.charge is not None:
            parts.append(f"charge {100 * one.charge[0]:.0f} to {100 * one.charge[1]:.0f} %")
        parts += [f"{name.partition('_')[0]} up to {show.value(value, 'temperature')}"
                  for name, value in one.temperatures.items()]  # fmt: skip
        lines += wrap(f"pack in {one.pull}: {', '.join(parts)}", 4, 2)
    return lines


def log_lines(report: SheetReport, show: Display, full: bool) -> list[str]:
    """What other loggers add: how each was laid over its pull; quantities that two files hold."""
    if not report.logs:
        return []
    lines = ["", *logger_lines(report.logs)]
    shown = [one for one in report.doubled if full or one.part]
    return lines + two_source_lines(shown, report.sheet.axis, show)


def two_source_lines(doubled: Sequence[TwoSources], axis: str, show: Display) -> list[str]:
    """Quantities that two files hold: how far they differ, and how far their noise explains it."""
    lines = [""] if doubled else []
    for one in worst_of_each(doubled):
        beyond = "more than" if one.part else "inside"
        text = (
            f"{one.channel.replace('_', ' ')} by {one.second} against {one.first}: "
            f"{_change(one.channel, one.largest, show)} at {axis_value(one.at, axis)} in "
            f"{one.pull}, {beyond} the ± {_change(one.channel, one.limit, show).lstrip('+')} that "
            "their noise explains"
        )
        lines += wrap(text, 4, 2)
    return lines


def logger_lines(logs: Sequence[LogBeside]) -> list[str]:
    """Each log: its pull, what it was aligned by, the shift with its doubt, what it covers; then
    what each logger adds."""
    rows = [["other logger", "pull", "aligned by", "shift, s", "covers", "rows a second"]]
    rows += [
        [one.log.source, one.pull, one.log.by, one.log.shifted, f"{100 * one.covered:.0f} %",
         "-" if one.log.rate is None else plain(one.log.rate, 1)]
        for one in logs
    ]  # fmt: skip
    lines = table(rows, right=(3, 4, 5))
    added: dict[str, dict[str, None]] = {}
    for one in logs:
        added.setdefault(one.log.source, {}).update(dict.fromkeys(one.log.channels))
    for source, names in added.items():
        told = ", ".join(name.replace("_", " ") for name in names) or "nothing"
        lines += wrap(f"{source}: {told}", 4, 2)
    return lines


def mixture_lines(report: SheetReport, show: Display, full: bool) -> list[str]:
    """Lambda by load region against target and usual range."""
    readings = report.mixture.readings
    if not readings:
        return []
    rows = [["lambda", "group", "median", "leanest", "@ rpm", "target", "usual", ""]]
    rows += [_reading(one) for one in readings]
    several = len({one.group for one in readings}) > 1
    left_out = 6 if several else 1  # the group says nothing, or the line would be too long
    rows = [row[:left_out] + row[left_out + 1 :] for row in rows]
    lines = ["", *table(rows, right=(2, 3, 4, 5) if several else (1, 2, 3, 4, 5))]
    if full and report.mixture.stoichiometric:
        ratio = report.mixture.stoichiometric
        words = ", ".join(f"{one.region} {ratio * one.median:.1f}" for one in readings)
        text = f"as a ratio of the fuel in the tank (stoichiometric {ratio:.2f}): {words}"
        lines += wrap(text, 4, 2)
    return lines


# What is short enough for a column.
REGION_WORDS = {"full load unboosted": "full, no boost", "full load": "full load"}


def _reading(one: RegionReading) -> list[str]:
    region = REGION_WORDS.get(one.region, one.region)
    return [
        f"{region}, {one.source}" if one.source else region,
        one.group,
        f"{one.median:.2f}",
        "-" if one.worst is None else f"{one.worst:.2f}",
        "" if one.worst_at is None else plain(round(one.worst_at, -1)),
        "-" if one.target is None else f"{one.target:.2f}",
        "-" if one.usual is None else f"{one.usual[0]:.2f}-{one.usual[1]:.2f}",
        one.state.replace(" the ", " "),
    ]


def sag_lines(report: SheetReport, show: Display) -> list[str]:
    """Each sag with what coincides with it; or what would have been seen."""
    found, sheet = report.sags.sags, report.sheet
    if not sheet.groups:
        return []
    if not found:
        return ["", *wrap(no_sag(report), 2)] if report.sags.sought else [""]
    lines = [""]
    for sag in found:
        lines += wrap(sag_sentence(sag, sheet, show), 4, 2)
    return lines


def no_sag(report: SheetReport) -> str:
    """That none was found, and from which depth and where one would show in nine cases of ten."""
    least = report.sags.smallest
    if least is None:
        return "no sag found; a curve of this shape may hide even a deep one"
    text = f"no sag deeper than {100 * least.depth:.1f} %"
    if least.whole:
        return text
    low, high = (axis_value(at, report.sheet.axis) for at in (least.low, least.high))
    return f"{text} between {low} and {high}; elsewhere this curve may hide one"


def sag_sentence(sag: FoundSag, sheet: Sheet, show: Display) -> str:
    """One sag: where, how deep, in which pulls, what coincides, which settings are near."""
    wide = f"{plain(sag.width * axis_scale(sheet.axis))} {axis_unit(sheet.axis)}"
    total = next((group.pulls for group in sheet.groups if group.key == sag.group), sag.of)
    covering = f" that {'covers' if sag.of == 1 else 'cover'} it" if sag.of < total else ""
    which = f"in {len(sag.pulls)} of {count(sag.of, 'pull')}{covering}"
    if len(sag.pulls) == 1 and not sag.shared:
        which = f"in one pull only ({sag.pulls[0]})"
    named = f", {sag.group}" if sag.group and len(sheet.groups) > 1 else ""
    text = (
        f"sag at {axis_value(sag.at, sheet.axis)}, {wide} wide{named}: "
        f"{show.value(sag.depth_w, 'power')} ({100 * sag.depth:.1f} ± "
        f"{100 * sag.half_width:.1f} %) {which}"
    )
    beside = ", ".join(change_words(one, show) for one in sag.beside)
    text += f"; coincides with {beside}" if beside else "; no other logged channel moves there"
    for setting in sag.settings:
        name = "the relief valve" if setting.name == "relief" else setting.name
        text += (
            f"; boost reaches {show.value(setting.boost, 'pressure')} beside it, {name} "
            f"is set at {show.value(setting.value, 'pressure')}"
        )
        text += ", and power climbs on after it" if setting.climbs_on else ""
    return text


def change_words(one: Beside, show: Display) -> str:
    """ "boost -0.7 psi": a channel's local change."""
    return f"{one.channel.replace('_', ' ')} {_change(one.channel, one.change, show)}"


def _change(channel: str, change: float, show: Display) -> str:
    """A difference of a channel, signed, in the reader's unit where it has one."""
    dimension = CHANNELS[channel][0]
    if dimension in {"pressure", "temperature", "power", "torque", "speed"}:
        shown = show.unit(dimension)
    elif dimension in {"angle", "angular_speed"}:
        shown = unit(*{"angle": ("deg", "angle"), "angular_speed": ("rpm", dimension)}[dimension])
    else:
        return signed(change, 3 if dimension == "ratio" else 2)
    return f"{signed(change / shown.factor, 1)} {shown.text}"


def scatter_sentence(report: SheetReport) -> str:
    """What these pulls can and cannot show."""
    sheet = report.sheet
    scatter, group = sheet.scatter, sheet.kept
    if group is None:
        return ""
    n = group.pulls
    if scatter.basis == "typical":
        own = "scatter of one pull 1 % (typical, common practice)"
    else:
        pooled = f", pooled with {', '.join(sheet.pooled_with)}" if sheet.pooled_with else ""
        own = f"scatter of one pull {100 * scatter.s:.2f} % ({freedom(scatter.dof)}"
        own += f"{pooled})"
    limit, shown, day = (100 * (value or 0.0) for value in (report.limit, *report.can_show))
    return (
        f"{own}: a difference under {limit:.1f} % between two single pulls means nothing; {n} "
        f"against {count(n, 'pull')} can show {shown:.1f} % on one day, {day:.1f} % on another"
    )


def _findings(findings: tuple[Finding, ...], full: bool) -> list[str]:
    if not findings:
        return [""]
    shown = [f for f in findings if full or f.code not in QUIET]
    most = len(shown) if full else MOST_FINDINGS
    left = len(findings) - min(most, len(shown))
    lines = ["", "to look at", *finding_lines(shown[:most])] if shown else [""]
    return [*lines, *([f"  {left} more with --full"] if left else [])]


# Said above already, or of use only to somebody who doubts a file.
QUIET = frozenset({"engine-speed-recovered", "rows-left-out", "smoothing"})
