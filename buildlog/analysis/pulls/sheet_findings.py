"""What a person should know about a session's sheet."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from buildlog.analysis.car.gearing import gearing, locked
from buildlog.analysis.pulls.curves import WIDTH, missing_air
from buildlog.analysis.pulls.pull_data import AXIS_UNIT
from buildlog.analysis.pulls.sheet import PullGroup, Sheet
from buildlog.analysis.pulls.speed_recovery import road_speed
from buildlog.findings import Finding
from buildlog.physics.gases import air, correction
from buildlog.physics.numerics import repeatability
from buildlog.physics.traces import enginespeed
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import field, of_session
from buildlog.records.paths import carried

_STANDARD, _ALTITUDE = of_session("standard_applied"), of_session("altitude")
_PRESSURE, _DAY_CONTROL = of_session("air.pressure"), of_session("boost_control")
_CONTROL, _RATIOS = field("induction.boost.control"), field("gearbox.ratios")
_GEAR = of_session("gear")


def of(sheet: Sheet, configuration: Configuration) -> Iterator[Finding]:
    """All findings of a sheet."""
    yield from _newer(sheet)
    yield from _standard(sheet, configuration)
    yield from _barometer(sheet)
    yield from _pressure_charged(sheet, configuration)
    yield from _power_source(sheet)
    yield from _speed(sheet)
    yield from _gear(sheet, configuration)
    yield from _coarse(sheet)
    yield from _pulls(sheet)


def _newer(sheet: Sheet) -> Iterator[Finding]:
    if paths := list(carried(sheet.session)):
        few = ", ".join(paths[:3]) + (", ..." if len(paths) > 3 else "")
        text = f"session.toml holds what a newer buildlog wrote, and this sheet leaves out: {few}"
        yield Finding("newer", "caution", text, tuple(paths), hint="update buildlog")


def _standard(sheet: Sheet, configuration: Configuration) -> Iterator[Finding]:
    needless = configuration.car.power_source == "electric" and sheet.conversion.applied == "none"
    if sheet.conversion.why and not needless:
        yield Finding(
            "standard-not-reached",
            "caution" if sheet.standard == "unknown" else "note",
            f"power cannot be corrected to {sheet.conversion.wanted}: {sheet.conversion.why}",
            (
                _STANDARD,
                *(f"session.{name}" for name in missing_air(sheet.session)),
            ),
        )
    limits = {text for curve in sheet.curves if curve.factor for text in curve.factor.limits}
    if limits and _height_explains(sheet):
        factors = " to ".join(f"{value:.3f}" for value in sheet.factors()[:: len(sheet.factors())])
        yield Finding(
            "altitude",
            "note",
            f"{sheet.session.altitude} above the sea is outside {sheet.standard}'s limits "
            f"(factor {factors}); at one place observed power compares better",
            (_ALTITUDE,),
        )
        return
    for text in sorted(limits):
        yield Finding("outside-standard", "caution", f"outside the standard's limits: {text}")


def _height_explains(sheet: Sheet) -> bool:
    """Whether average air at the place's height is outside the limits too, and the weather's
    part of it (the temperature) inside."""
    session = sheet.session
    if session.altitude is None or session.air is None:
        return False
    pressure, temperature = session.air.pressure, session.air.temperature
    if pressure is None or temperature is None or sheet.standard not in correction.STANDARDS:
        return False
    if not air.sea_level_reading_suspected(pressure.si, session.altitude.si).possible:
        return False
    usual = air.standard_atmosphere_pressure(session.altitude.si)
    mild = correction.factor(sheet.standard, usual, 298.15, relative_humidity=0.0)
    inside = correction.STANDARDS[sheet.standard].spark_limits
    warm = inside is not None and inside.temperature[0] <= temperature.si <= inside.temperature[1]
    return bool(mild.limits) and warm


def _barometer(sheet: Sheet) -> Iterator[Finding]:
    session = sheet.session
    pressure = session.air.pressure if session.air else None
    if pressure is None or session.altitude is None:
        return
    check = air.sea_level_reading_suspected(pressure.si, session.altitude.si)
    if check.suspected or not check.possible:
        why = "looks reduced to sea level" if check.suspected else "is none that weather makes"
        yield Finding(
            "barometer",
            "caution",
            f"air pressure {pressure.text} {why} at {session.altitude.text}: "
            f"{check.low / 100:.0f} to {check.high / 100:.0f} hPa is possible there",
            (_PRESSURE, _ALTITUDE),
            hint="write the station's own pressure, not a weather report's",
        )


def _pressure_charged(sheet: Sheet, configuration: Configuration) -> Iterator[Finding]:
    induction = configuration.induction
    kind = induction.kind if induction else None
    if kind in {None, "naturally-aspirated"} or sheet.standard in {"none", "unknown"}:
        return
    control = sheet.session.boost_control or (
        induction.boost.control if induction and induction.boost else None
    )
    said = {
        None: "it is not recorded what holds its boost",
        "closed-loop-absolute": "its boost is held to an absolute pressure, which the weather "
        "does not move: observed power is the better figure",
    }.get(control, f"its boost is held by {control}")
    yield Finding(
        "pressure-charged",
        "caution" if control in {None, "closed-loop-absolute"} else "note",
        f"pressure-charged engine: observed and corrected power are both shown; {said}",
        (_DAY_CONTROL, _CONTROL),
    )


def _power_source(sheet: Sheet) -> Iterator[Finding]:
    """What is to be known of power that was worked out, and of what was cut from the files."""
    for text in dict.fromkeys(note for curve in sheet.curves for note in curve.data.notes):
        road = any(curve.data.u_power for curve in sheet.curves)
        yield Finding("power-estimated" if road else "power-derived", "caution", text)
    for curve in sheet.curves:
        share = curve.data.smoothing
        if share is not None and "engine_speed" in curve.axis:
            width = share * float(np.nanmedian(curve.axis["engine_speed"]))
            yield Finding(
                "smoothing",
                "note",
                f"pull {curve.name}: power from the course of speed, smoothed over {width:.0f} rpm",
            )


def _speed(sheet: Sheet) -> Iterator[Finding]:
    states = {curve.speed.state: curve.speed for curve in sheet.curves}
    if "recovered" in states:
        speed = states["recovered"]
        yield Finding(
            "engine-speed-recovered",
            "note",
            f"{sheet.turning} {speed.words}, ± {100 * 1.96 * speed.u:.1f} %",
        )
    if "missing" in states:
        yield Finding("torque-unknown", "caution", f"torque is unknown: {states['missing'].words}")
    for curve in sheet.curves:
        road = road_speed(sheet.session, curve.data)
        if curve.speed.state != "logged" or road is None:
            continue
        try:
            drift = enginespeed.ratio_drift(curve.data.channels["engine_speed"], road)
        except ValueError:
            continue
        if drift.slip:
            yield Finding(
                "slip",
                "caution",
                f"pull {curve.name}: {sheet.turning} and road speed part by "
                f"{100 * drift.spread:.1f} % over the pull: something slips "
                "(clutch, converter or tire)",
            )


_FITS, _OFF = 0.04, 0.07  # of a ratio of speeds: tyre, its growth and slip (common practice)


def _gear(sheet: Sheet, configuration: Configuration) -> Iterator[Finding]:
    """Logged engine speed over road speed that is not the stated gear's."""
    for curve in sheet.curves if locked(sheet.session, configuration) else ():
        gear = curve.data.pull.gear or sheet.session.gear
        stated = gearing(configuration, gear).turns_per_metre
        road = road_speed(sheet.session, curve.data)
        if curve.speed.state != "logged" or road is None or stated is None:
            continue
        omega = curve.data.channels["engine_speed"]
        moving = road > 0
        found = float(np.median(omega[moving] / road[moving])) / (2 * np.pi) if moving.any() else 0
        if abs(found / stated - 1) <= _OFF:
            continue
        yield Finding(
            "gear-ratio",
            "caution",
            f"pull {curve.name}: the engine turned {found:.2f} times for a meter of road; gear "
            f"{gear} makes it {stated:.2f}{_other_gear(configuration, found)}",
            (_GEAR, _RATIOS),
            hint="look at the gear, the ratios, the tires, and the unit of road speed",
        )


def _other_gear(configuration: Configuration, found: float) -> str:
    """ ", and gear 3 makes it 2.31" where another gear fits."""
    count = len(configuration.gearbox.ratios or ()) if configuration.gearbox else 0
    for gear in range(1, count + 1):
        turns = gearing(configuration, gear).turns_per_metre
        if turns and abs(found / turns - 1) <= _FITS:
            return f", and gear {gear} {turns:.2f}"
    return ""


def _coarse(sheet: Sheet) -> Iterator[Finding]:
    widths = [c.width(sheet.axis) for c in sheet.curves]
    if widths and max(widths) > 2 * WIDTH[sheet.axis]:
        unit = AXIS_UNIT[sheet.axis]
        yield Finding(
            "coarse-rows",
            "note",
            f"the rows of the file lie so far apart that curves are smoothed over "
            f"{max(widths):.0f} {unit}: a narrower dip cannot be seen",
            hint="export the pull at the full rate",
        )


def _pulls(sheet: Sheet) -> Iterator[Finding]:
    for group in sheet.groups:
        for first, second in repeatability.copied_pulls(group.power):
            yield Finding(
                "copied-pull",
                "caution",
                f"pulls {group.curves[first].name} and {group.curves[second].name} are one "
                "recording read twice: they say nothing about scatter",
            )
        fall = _fall(group)
        if fall:
            yield Finding(
                "heat-soak",
                "note",
                f"power falls from pull to pull, {100 * fall:.1f} % from first to last: "
                "heat soak is one usual reason",
            )
    for found in repeatability.outlying_pulls([group.power for group in sheet.groups]):
        curve = sheet.groups[found.group].curves[found.pull]
        yield Finding(
            "outlying-pull",
            "caution",
            f"pull {curve.name} lies {100 * found.distance:.1f} % from the others of its group, "
            f"further than their scatter explains ({100 * found.limit:.1f} %); it is kept",
            hint="set use = false with a reason if something was wrong with it",
        )


def _fall(group: PullGroup) -> float | None:
    """Relative fall of power from first to last pull; None where scatter alone may explain it.

    It has to be a trend (a test at 5 %) and larger than twice the pulls' own scatter, which
    is what is left between them once the trend is taken out.
    """
    trend = repeatability.trend_in_a_row(group.power) if group.pulls > 2 else None
    if trend is None or not trend.falling:
        return None
    order = np.arange(group.pulls) - (group.pulls - 1) / 2
    own = repeatability.pooled_scatter([group.power / (1 + trend.slope * order)[:, None]])
    return -trend.change if own and -trend.change > 2 * own.s else None
