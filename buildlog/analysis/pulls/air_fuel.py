"""Mixture of a session in lambda, by load region, against the declared target and usual ranges.

An air-fuel ratio in a file is lambda times the number set in the instrument; the fuel in
the tank does not change what the instrument multiplied by. Nothing here calls a mixture
good or bad: it says where it lies and against what.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from buildlog.analysis.pulls.curves import Curve
from buildlog.analysis.pulls.pull_data import RPM, Floats
from buildlog.analysis.pulls.sheet import PullGroup, Sheet, ambient
from buildlog.findings import Finding
from buildlog.physics.gases import airfuel, fuels
from buildlog.physics.numerics.middle import median
from buildlog.physics.numerics.regression import local_quadratic
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import field, of_session, session_field
from buildlog.records.session import Column
from buildlog.records.stated import read_stated
from buildlog.units import Quantity

_LAMBDA, _WRITTEN_FOR = field("calibration.lambda_full_load"), field("calibration.written_for")
_KIND, _ETHANOL = field("fuel.kind"), field("fuel.ethanol_content")
_TANK_KIND, _TANK_ETHANOL = of_session("fuel.kind"), of_session("fuel.ethanol_content")
_DISPLAY = session_field("column[].display_stoichiometric").replace("[]", ".air_fuel_ratio")
TOLERANCE = 0.03  # lambda, about a declared target: common practice, no source
ETHANOL_APART = 0.05  # by volume, beyond which a calibration's fuel is another: common practice
RUNS = (0.6, 1.3)  # lambda at full load beyond which no spark-ignition engine runs: common practice
PLAUSIBLE = (0.7, 1.1)  # full-load lambda that another scale of the instrument has to give
NO_MIXTURE = "no mixture that an engine runs at"
PULL_FILE = "the pull's file"
SPARK = {None, "spark-ignition", "hybrid"}


@dataclass(frozen=True)
class RegionReading:
    """Lambda of one group in one load region.

    `median` over its pulls; `worst` the leanest that was held, at `worst_at` (rpm, else
    km/h, else None) in pull `worst_in`. `target` declared, `usual` range of the trade.
    `state` in words against the target where there is one, else against the usual range. `source`
    is the file that it was read from, where several hold the mixture.
    """

    group: str
    region: str
    median: float
    worst: float | None
    worst_at: float | None
    worst_in: str | None
    worst_boost: float | None
    richest: float | None
    target: float | None
    usual: tuple[float, float] | None
    state: str
    source: str = ""

    @property
    def named(self) -> str:
        """The region, with the source where there are several, and the group."""
        apart = f" by {self.source}" if self.source else ""
        return f"{self.region}{apart}{f', {self.group}' if self.group else ''}"


@dataclass(frozen=True)
class Mixture:
    """All readings of a session; `stoichiometric` is that of the fuel in the tank."""

    readings: tuple[RegionReading, ...]
    stoichiometric: float | None
    findings: tuple[Finding, ...]


def mixture(sheet: Sheet, configuration: Configuration) -> Mixture:
    """Judge the air-fuel trace of every group; empty where none is logged."""
    if configuration.car.power_source not in SPARK:
        source = configuration.car.power_source
        logged = any(lambda_channel(sheet, c) is not None for c in sheet.curves)
        text = f"air-fuel is not judged: no model for this power source ({source})"
        return Mixture((), None, (Finding("no-model", "note", text),) if logged else ())
    findings = [*_fuel_findings(sheet, configuration), *_display(sheet)]
    readings: list[RegionReading] = []
    for group in sheet.groups:
        readings += _group(sheet, group, configuration)
    findings = [*_no_mixture(readings), *findings, *_leaner(readings)]
    return Mixture(tuple(readings), _stoichiometric(sheet, configuration), tuple(findings))


def lambda_channel(sheet: Sheet, curve: Curve) -> Floats | None:
    """Lambda (all recorded rows), the sensor's delay taken out; None where not logged.

    Where several files hold it, that of the pull's own, else of its first log.
    """
    found = next(iter(lambda_sources(curve)), None)
    return None if found is None else found[1]


def lambda_sources(curve: Curve) -> list[tuple[str, Floats]]:
    """Lambda (all recorded rows) by where it was read: the pull's own file, then every log."""
    data, found = curve.data, []
    for name in ("lambda", "air_fuel_ratio"):
        if name in data.recorded and data.from_log(name) is None:
            values = _as_lambda(name, data.recorded[name], data.columns.get(name))
            found.append((PULL_FILE, _in_time(curve, values, data.columns.get(name))))
            break
    for log in data.logs:
        held = [name for name in ("lambda", "air_fuel_ratio") if name in log.channels]
        for name in held[:1]:
            found.append((log.source, _as_lambda(name, log.channels[name], log.columns.get(name))))
    return found


def _as_lambda(name: str, values: Floats, column: Column | None) -> Floats:
    if name == "lambda":
        return values
    shown = column.display_stoichiometric if column else None
    return airfuel.lambda_from_ratio(values, shown or airfuel.DISPLAY_STOICHIOMETRIC)


def _in_time(curve: Curve, values: Floats, column: Column | None) -> Floats:
    """The values where the sensor's delay is taken out."""
    delay = column.delay.si if column and column.delay else 0.0
    time = curve.data.recorded.get("time")
    if delay and time is not None and not np.any(np.diff(time) < 0):
        moved: Floats = np.interp(time + delay, time, values, left=np.nan, right=np.nan)
        # What the sensor showed after the pull is not read into it: the throttle is closed there.
        last = int(curve.data.index.max())
        moved[: last + 1][(time + delay)[: last + 1] > time[last]] = np.nan
        return moved
    return values


def mean_lambda(sheet: Sheet, group: PullGroup) -> Floats | None:
    """Mean lambda of a group's sweeps on the sheet's grid; None where a pull logs none."""
    rows = []
    for curve in group.curves:
        lam = lambda_channel(sheet, curve)
        if lam is None or not np.isfinite(lam[curve.data.index]).any():
            return None
        x, width = curve.axis[sheet.axis], curve.width(sheet.axis)
        rows.append(local_quadratic(x, lam[curve.data.index], sheet.grid, width).values)
    mean: Floats = np.mean(rows, axis=0)
    return mean


def regions(sheet: Sheet, curve: Curve, charged: bool) -> np.ndarray[tuple[int], np.dtype[np.str_]]:
    """The load region of every recorded row. On the sweep load is full by definition."""
    recorded, index = curve.data.recorded, curve.data.index
    rows = next(iter(recorded.values())).size
    outside = ambient(sheet, curve)
    manifold = recorded.get("manifold_pressure")
    if manifold is None and "boost" in recorded:
        manifold = recorded["boost"] + outside
    names = np.full(rows, "", dtype="<U24")
    before = np.arange(rows) < index.min()
    throttle = recorded.get("throttle")
    if manifold is not None:
        told = airfuel.load_regions(
            manifold_pressure=manifold, time=recorded.get("time"), ambient=outside
        )
        full = np.where(manifold > airfuel.BOOST_SHARE * outside, "boosted", "full load unboosted")
        known = np.isfinite(manifold)
        if known[index].any():  # of the rest of the pull it is not known whether it is boosted
            full = np.where(known, full, "")
        elif charged:
            full = np.full_like(full, "full load")
    else:
        told = names if throttle is None else airfuel.load_regions(throttle=throttle)
        full = np.full_like(names, "full load" if charged else "full load unboosted")
    names[before] = told[before]
    names[index] = full[index]
    return names


def _charged(configuration: Configuration) -> bool:
    kind = configuration.induction.kind if configuration.induction else None
    return kind not in {None, "naturally-aspirated"}


def _group(sheet: Sheet, group: PullGroup, configuration: Configuration) -> Iterator[RegionReading]:
    """The readings of a group: of each source apart, where there are several."""
    sources = {name: None for curve in group.curves for name, _ in lambda_sources(curve)}
    for source in sources:
        for reading in _of_source(sheet, group, configuration, source):
            yield replace(reading, source=source if len(sources) > 1 else "")


def _of_source(
    sheet: Sheet, group: PullGroup, configuration: Configuration, source: str
) -> Iterator[RegionReading]:
    found: dict[str, list[tuple[Curve, airfuel.RegionMixture, Floats | None]]] = {}
    for curve in group.curves:
        lam = dict(lambda_sources(curve)).get(source)
        if lam is None or not np.isfinite(lam).any():
            continue
        for mix, axis in _regions_of(sheet, curve, lam, _charged(configuration)):
            found.setdefault(mix.region, []).append((curve, mix, axis))
    for region in (*airfuel.REGIONS, "full load"):
        if region in found:
            yield _reading(group, region, found[region], configuration)


def _regions_of(
    sheet: Sheet, curve: Curve, lam: Floats, charged: bool
) -> Iterator[tuple[airfuel.RegionMixture, Floats | None]]:
    """Each region of one pull; a full load of unknown boost is measured as any other."""
    names = regions(sheet, curve, charged)
    time = rising = curve.data.recorded.get("time")
    if time is not None and np.any(np.diff(time) < 0):
        rising = None
    axis = _axis(curve, names.size)
    held = None if axis is None else axis * RPM
    if time is None and held is None:
        return
    told = np.where(names == "full load", "boosted", names)
    unknown = bool((names == "full load").any())
    for mix in airfuel.by_region(lam, told, time=rising, axis=held):
        region = "full load" if unknown and mix.region == "boosted" else mix.region
        yield replace(mix, region=region), axis  # type: ignore[arg-type]  # one more of ours


def _axis(curve: Curve, rows: int) -> Floats | None:
    """Engine speed [rpm] at every recorded row; NaN where the sweep does not know it."""
    recorded = curve.data.recorded.get("engine_speed")
    if recorded is not None:
        return recorded / RPM
    if "engine_speed" not in curve.axis:
        return None
    out = np.full(rows, np.nan)
    out[curve.data.index] = curve.axis["engine_speed"]
    return out


def _reading(
    group: PullGroup,
    region: str,
    found: list[tuple[Curve, airfuel.RegionMixture, Floats | None]],
    configuration: Configuration,
) -> RegionReading:
    middle = median([mix.median for _, mix, _ in found])
    held = [(c, m.leanest, axis) for c, m, axis in found if m.leanest is not None]
    rich = [m.richest.value for _, m, _ in found if m.richest is not None]
    worst = max(held, key=lambda item: item[1].value, default=None)
    target = _target(group, region, configuration)
    usual = airfuel.USUAL_RANGES.get(region)  # type: ignore[call-overload]
    at = None
    if worst is not None and worst[2] is not None:
        span = worst[2][worst[1].first : worst[1].last + 1]
        at = float(np.nanmean(span)) if np.isfinite(span).any() else None
    leanest = worst[1].value if worst else middle
    richest = min(rich, default=middle)
    return RegionReading(
        group.key,
        region,
        middle,
        worst[1].value if worst else None,
        at,
        worst[0].name if worst else None,
        _boost_at(worst) if worst and region == "boosted" else None,
        richest if rich else None,
        target,
        usual,
        NO_MIXTURE if _impossible(region, middle) else _state(middle, leanest, target, usual),
    )


def _boost_at(worst: tuple[Curve, airfuel.Sustained, Floats | None]) -> float | None:
    """Mean boost [Pa] over the rows in which the worst was held; None where not logged."""
    curve, held, _ = worst
    rows = slice(held.first, held.last + 1)
    if "boost" in curve.data.recorded:
        return float(np.nanmean(curve.data.recorded["boost"][rows]))
    return None


def _target(group: PullGroup, region: str, configuration: Configuration) -> float | None:
    """The target declared by the calibration that these pulls were made with."""
    table = configuration.calibration
    if table is None:
        return None
    used = group.curves[0].data.pull.calibration
    if used is not None and table.id is not None and used != table.id:
        return None
    if region == "cruise":
        return table.lambda_cruise
    if region == "full load unboosted" and _charged(configuration):
        return None  # while boost still builds, the mixture for full boost is not yet wanted
    return table.lambda_full_load if region in FULL_LOAD else None


_SCALES = {
    "E85": fuels.blend(0.85).stoichiometric_ratio,
    "ethanol": fuels.FUELS["ethanol"].stoichiometric_ratio,
    "methanol": fuels.FUELS["methanol"].stoichiometric_ratio,
}
FULL_LOAD = ("full load", "full load unboosted", "boosted")


def _state(
    median: float, leanest: float, target: float | None, usual: tuple[float, float] | None
) -> str:
    """Where the mixture lies: against the target by its median, leaner by what was held."""
    if target is not None:
        if leanest > target + TOLERANCE + 1e-9:
            return "leaner than the target"
        if median < target - TOLERANCE - 1e-9:
            return "richer than the target"
        return "on the target"
    if usual is None:
        return "no target declared"
    if leanest > usual[1] + 1e-9:
        return "leaner than usual"
    return airfuel.judge(median, usual).verdict


def _impossible(region: str, median: float) -> bool:
    return region in FULL_LOAD and not RUNS[0] <= median <= RUNS[1]


def _no_mixture(readings: list[RegionReading]) -> Iterator[Finding]:
    """What no engine runs at is said to be that, with the scale that would make sense of it."""
    for one in readings:
        if not _impossible(one.region, one.median):
            continue
        shown = one.median * airfuel.DISPLAY_STOICHIOMETRIC
        said = [
            f"of an instrument scaled for {name} ({ratio:.1f}) it would be {shown / ratio:.2f}"
            for name, ratio in _SCALES.items()
            if PLAUSIBLE[0] <= shown / ratio <= PLAUSIBLE[1]
        ]
        said += ["a sensor in free air shows as much"] if one.median > RUNS[1] else []
        text = f"{one.named}: lambda {one.median:.2f} is {NO_MIXTURE}; {'; '.join(said)}"
        hint = "write the instrument's display_stoichiometric in its [[column]]"
        yield Finding("no-mixture", "caution", text.rstrip("; "), (_DISPLAY,), hint=hint)


def _told(one: RegionReading) -> str:
    """The leanest mixture; a third decimal where two would show it equal to what it is beyond."""
    assert one.worst is not None
    bound = one.usual[1] if one.usual else None
    return f"{one.worst:.3f}" if bound == round(one.worst, 2) else f"{one.worst:.2f}"


def _leaner(readings: list[RegionReading]) -> Iterator[Finding]:
    """Findings on what was held leaner than the target or than is usual under full load."""
    for one in readings:
        if one.worst is None or one.region not in FULL_LOAD or one.state == NO_MIXTURE:
            continue
        said = []
        off_target = one.target is not None and one.worst > one.target + TOLERANCE + 1e-9
        if one.target is not None and off_target:
            said.append(f"{one.worst - one.target:.2f} leaner than the declared {one.target:.2f}")
        usual = one.usual
        if usual is not None and one.worst > usual[1] + 1e-9:
            said.append(
                f"leaner than usual ({usual[0]:.2f} to {usual[1]:.2f}, gasoline, common practice)"
            )
        if not said:
            continue
        at = "" if one.worst_at is None else f" near {round(one.worst_at, -1):,.0f} rpm"
        boost = "" if one.worst_boost is None else f", at {one.worst_boost / 1e3:.0f} kPa of boost"
        yield Finding(
            "leaner-than-target" if off_target else "leaner-than-usual",
            "caution",
            f"{one.named}: lambda {_told(one)} was held{at}{boost}, {', and '.join(said)}",
            (_LAMBDA,),
        )


def _display(sheet: Sheet) -> Iterator[Finding]:
    columns = {
        column.name: column
        for curve in sheet.curves
        for table in (curve.data.columns, *(log.columns for log in curve.data.logs))
        for column in table.values()
        if column.channel == "air_fuel_ratio"
    }
    for column in columns.values():
        if column.display_stoichiometric is None:
            yield Finding(
                "display-assumed",
                "note",
                f'"{column.name}" is taken as lambda times {airfuel.DISPLAY_STOICHIOMETRIC:g}, as '
                "most instruments are set (an assumption)",
                (_DISPLAY,),
                hint="write display_stoichiometric in its [[column]]",
            )


def ethanol(sheet: Sheet, configuration: Configuration) -> float | None:
    """Ethanol by volume in the tank that day: the session's word wins over car.toml's."""
    given = sheet.session.fuel
    if given is not None and given.ethanol_content is not None:
        return given.ethanol_content.si
    if given is not None and given.kind == "ethanol":
        return 1.0
    own = configuration.fuel
    return own.ethanol_content.si if own and own.ethanol_content else None


def _stoichiometric(sheet: Sheet, configuration: Configuration) -> float | None:
    """Stoichiometric ratio of the fuel in the tank; None where it is not known."""
    kind = (sheet.session.fuel.kind if sheet.session.fuel else None) or (
        configuration.fuel.kind if configuration.fuel else None
    )
    if kind == "methanol":
        return fuels.FUELS["methanol"].stoichiometric_ratio
    content = ethanol(sheet, configuration)
    if content is not None:
        return fuels.blend(content).stoichiometric_ratio
    return fuels.FUELS["gasoline"].stoichiometric_ratio if kind == "gasoline" else None


def _fuel_findings(sheet: Sheet, configuration: Configuration) -> Iterator[Finding]:
    """A calibration written for one fuel and a session on another."""
    day = ethanol(sheet, configuration)
    written = _written_ethanol(configuration)
    in_tank = sheet.session.fuel.kind if sheet.session.fuel else None
    table = configuration.calibration
    stated = (table.written_for or {}).get(_KIND) if table else None
    own = stated or (configuration.fuel.kind if configuration.fuel else None)
    if in_tank and own and in_tank != own:
        yield Finding(
            "fuel-differs",
            "caution",
            f"{in_tank} was in the tank, the calibration is written for {own}",
            (_TANK_KIND, _WRITTEN_FOR),
        )
    if day is None or written is None:
        return
    low, high = written
    if day < low - ETHANOL_APART or day > high + ETHANOL_APART:
        share = f"{100 * low:.0f}" + (f" to {100 * high:.0f}" if high > low else "")
        yield Finding(
            "ethanol-differs",
            "caution",
            f"{100 * day:.0f} % ethanol was in the tank, the calibration is written for {share} %",
            (_TANK_ETHANOL, _WRITTEN_FOR),
            hint="calibrate for the fuel that is in the tank",
        )


def _written_ethanol(configuration: Configuration) -> tuple[float, float] | None:
    """Least and most ethanol the calibration is written for, by volume."""
    table = configuration.calibration
    stated = (table.written_for or {}).get(_ETHANOL) if table else None
    if stated is not None:
        value = read_stated(_ETHANOL, stated)
        return (value.si, value.si) if isinstance(value, Quantity) else None
    own = configuration.fuel
    if own is None:
        return None
    if own.ethanol_range is not None:
        return own.ethanol_range[0].si, own.ethanol_range[1].si
    return (own.ethanol_content.si,) * 2 if own.ethanol_content else None
