"""What a session's loggers add to its pulls, and where two sources of one quantity part."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from buildlog.analysis.pulls.air_fuel import PULL_FILE, lambda_sources
from buildlog.analysis.pulls.curves import Curve
from buildlog.analysis.pulls.laid_logs import MIXTURE, LaidLog, row_noise
from buildlog.analysis.pulls.pull_data import Floats
from buildlog.analysis.pulls.sheet import Sheet
from buildlog.findings import Finding
from buildlog.physics.gases.airfuel import DISPLAY_STOICHIOMETRIC
from buildlog.physics.numerics import regression
from buildlog.physics.numerics.middle import median
from buildlog.records.checked_paths import of_session

Mask = np.ndarray[tuple[int], np.dtype[np.bool_]]
_LOG = of_session("log[]")
# Of the level, one standard deviation by which two good sensors differ; road speeds by their tyres,
# too. Common practice, no source.
SENSORS, ROAD_SPEEDS = 0.0025, 0.02
NOISES = 2.0  # noises of a single reading that a difference has to exceed
PARTS = 6  # of the sweep, over each of which a difference is smoothed
LEAST_ROWS = 8  # of both: fewer show no course
LEAST_COVERED = 0.9  # of the sweep: less is told
# Of these two files do not say the same: the crank's and the wheels', a count, the axis itself.
NOT_COMPARED = frozenset(
    {
        "time", "power", "power_front", "power_rear", "power_loss", "torque", "tractive_force",
        "gear", "run_number", "distance", "acceleration",
    }
)  # fmt: skip


@dataclass(frozen=True)
class LogBeside:
    """One log beside one pull: `covered` is the share of the sweep's rows that it reaches."""

    pull: str
    log: LaidLog
    covered: float


@dataclass(frozen=True)
class TwoSources:
    """One quantity from two sources over one pull, in SI.

    `first` and `second` name them, `level` is the median of the first, `difference` the median of
    second less first, `largest` the largest of its smooth course, at `at` (rpm or km/h, as the
    sheet's axis is); `limit` is what their noise, the doubt of the shift and the sensors explain.
    """

    pull: str
    channel: str
    first: str
    second: str
    level: float
    difference: float
    largest: float
    at: float
    limit: float

    @property
    def part(self) -> bool:
        """Whether they differ by more than their noise explains."""
        return abs(self.largest) > self.limit


def logs_beside(sheet: Sheet) -> tuple[LogBeside, ...]:
    """Every log of a session that was laid over a pull."""
    return tuple(
        LogBeside(curve.name, log, curve.data.covered(log))
        for curve in (*sheet.curves, *sheet.unused)
        for log in curve.data.logs
    )


def two_sources(sheet: Sheet) -> tuple[TwoSources, ...]:
    """Every quantity that two files hold of one pull that counts, compared on the sweep."""
    return tuple(found for curve in sheet.curves for found in _of_pull(sheet, curve))


def findings(sheet: Sheet) -> Iterator[Finding]:
    """Logs that could not be laid over their pull, that leave a part of it out, and sources that
    part."""
    for curve in (*sheet.curves, *sheet.unused):
        yield from curve.data.log_findings
    for one in logs_beside(sheet):
        if one.covered < LEAST_COVERED:
            yield Finding(
                "log-covers-part",
                "caution",
                f"{one.log.file} covers {100 * one.covered:.0f} % of pull {one.pull}; of the rest "
                "it says nothing",
                (_LOG,),
                hint="look at the shift, or at whether it belongs to this pull",
            )

    for two in worst_of_each([one for one in two_sources(sheet) if one.part]):
        at = f" near {round(two.at, -1):,.0f} rpm" if sheet.axis == "engine_speed" else ""
        yield Finding(
            "sources-part",
            "caution",
            f"{two.channel.replace('_', ' ')} by {two.second} and by {two.first} differ by "
            f"{abs(two.largest) / two.limit:.1f} times what their noise explains, most in pull "
            f"{two.pull}{at}; both are kept",
            (_LOG,),
            hint="look at both sensors, their scales and delays, before either is believed",
        )


def worst_of_each(found: Sequence[TwoSources]) -> list[TwoSources]:
    """Of one quantity from the same two sources over several pulls, the pull where they differ
    most."""
    worst: dict[tuple[str, str, str], TwoSources] = {}
    for one in found:
        key = (one.channel, one.first, one.second)
        held = worst.get(key)
        if held is None or abs(one.largest) / one.limit > abs(held.largest) / held.limit:
            worst[key] = one
    return list(worst.values())


def _of_pull(sheet: Sheet, curve: Curve) -> Iterator[TwoSources]:
    for channel in _doubled(curve):
        sources = _sources(curve, channel)
        first, ours = sources[0]
        for second, theirs in sources[1:]:
            found = _compared(sheet, curve, channel, (first, ours), (second, theirs))
            if found is not None:
                yield found


def _doubled(curve: Curve) -> list[str]:
    """The channels that two files hold; of the mixture its lambda, whatever an instrument shows."""
    data = curve.data
    held = [set(data.recorded) - {n for n in data.recorded if data.from_log(n)}]
    held += [set(log.channels) for log in data.logs]
    known = [{"lambda" if name in MIXTURE else name for name in names} for names in held]
    every = sorted(set().union(*known) - NOT_COMPARED)
    return [name for name in every if sum(name in names for names in known) > 1]


def _sources(curve: Curve, channel: str) -> list[tuple[str, Floats]]:
    """The channel by where it was read, on the sweep's rows."""
    data = curve.data
    if channel == "lambda":
        return [(name, values[data.index]) for name, values in lambda_sources(curve)]
    own = channel in data.recorded and data.from_log(channel) is None
    found = [(PULL_FILE, data.recorded[channel][data.index])] if own else []
    return found + [
        (log.source, log.channels[channel][data.index])
        for log in data.logs
        if channel in log.channels
    ]


def _compared(
    sheet: Sheet, curve: Curve, channel: str, one: tuple[str, Floats], other: tuple[str, Floats]
) -> TwoSources | None:
    place, ours, theirs = curve.axis[sheet.axis], one[1], other[1]
    both = np.isfinite(ours) & np.isfinite(theirs) & np.isfinite(place)
    if both.sum() < LEAST_ROWS or float(np.ptp(place[both])) == 0:
        return None
    place, ours, theirs = place[both], ours[both], theirs[both]
    span = float(np.ptp(place))
    width = max(curve.width(sheet.axis), span / PARTS)
    inside = np.linspace(place.min() + width / 4, place.max() - width / 4, 4 * PARTS)
    apart = theirs - ours
    course = regression.local_quadratic(place, apart, inside, width).values
    if not np.isfinite(course).any():
        return None
    limit = _explained(curve, both, ours, channel, (one[0], other[0]))
    # The first of those that are alike: of two that are one, the last digits decide nothing.
    sizes = np.round(np.abs(course) / limit, 6) if limit > 0 else np.abs(course)
    top = int(np.nanargmax(sizes))
    return TwoSources(
        curve.name, channel, one[0], other[0], median(ours), median(apart),
        float(course[top]), float(inside[top]), limit,
    )  # fmt: skip


def _explained(
    curve: Curve, both: Mask, ours: Floats, channel: str, sources: tuple[str, str]
) -> float:
    """How far two sources may differ: their noise, the doubt of the shift, what sensors differ."""
    logs = [log for log in curve.data.logs if log.source in sources]
    noise = [_noise_of(log, channel) for log in logs]
    noise += [row_noise(ours)] if PULL_FILE in sources else []
    shift = math.hypot(*(log.u_shift or 0.0 for log in logs))
    rate, time = 0.0, curve.data.recorded.get("time")
    if time is not None and shift:
        step = np.diff(time[curve.data.index][both])
        slope = np.abs(np.diff(ours)[step > 0]) / step[step > 0]
        rate = median(slope) if slope.size else 0.0
    level = median(np.abs(ours))
    sensors = ROAD_SPEEDS if channel in {"road_speed", "roller_speed"} else SENSORS
    return NOISES * math.hypot(*noise, rate * shift, sensors * level)


def _noise_of(log: LaidLog, channel: str) -> float:
    """Noise of a single row of a log; of the mixture as lambda."""
    if channel == "lambda" and "lambda" not in log.noise:
        column = log.columns.get("air_fuel_ratio")
        shown = column.display_stoichiometric if column else None
        return log.noise.get("air_fuel_ratio", 0.0) / (shown or DISPLAY_STOICHIOMETRIC)
    return log.noise.get(channel, 0.0)
