"""Engine speed of a pull: logged, or recovered with its uncertainty, or missing with the reason.

In this order: the file's own, another logger's, one known point, ratios and tyre.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from buildlog.analysis.car.gearing import gearing, locked
from buildlog.analysis.pulls.pull_data import Floats, PullData, columns_of
from buildlog.physics.traces import enginespeed
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import session_field
from buildlog.records.session import Session

_ROAD_SPEED = session_field("known_point.road_speed")
_ENGINE_SPEED = session_field("known_point.engine_speed")
LEAST_COVERED = 0.9  # of the sweep: with less of it a log's engine speed would cut the pull short
U_READING = 0.01  # relative, of a rev counter read by eye; common practice, no source


@dataclass(frozen=True)
class SpeedSource:
    """Where engine speed comes from: "logged", "recovered" or "missing", and how sure it is.

    `u` is relative, one standard deviation, common to the whole pull.
    """

    state: str
    words: str
    u: float = 0.0
    missing: tuple[str, ...] = ()


def road_speed(session: Session, data: PullData) -> Floats | None:
    """Speed of the tyre's surface [m/s], from road speed or the roller's."""
    channels = data.channels
    if "road_speed" in channels:
        return channels["road_speed"]
    if "roller_speed" not in channels:
        return None
    unit = columns_of(session, data.pull)["roller_speed"].unit or ""
    if unit not in {"rpm", "rad/s"}:
        return channels["roller_speed"]
    roller = session.dyno.roller_circumference if session.dyno else None
    return None if roller is None else channels["roller_speed"] / (2 * math.pi) * roller.si


def engine_speed(
    session: Session, data: PullData, configuration: Configuration
) -> tuple[SpeedSource, Floats | None]:
    """Engine speed [rad/s], logged or recovered; None says why."""
    speed, road = data.channels.get("engine_speed"), road_speed(session, data)
    known = 0 if speed is None else int(np.isfinite(speed).sum())
    log = data.from_log("engine_speed")
    whole = log is None or road is None or known >= LEAST_COVERED * data.index.size
    if speed is not None and known > 3 and whole:
        return _source(data), speed
    source, omega = _worked_out(session, data, configuration, road)
    if omega is None and log is not None and known:
        share = f"{100 * known / data.index.size:.0f} %"
        words = f"the log {log.source} has it for {share} of the pull; {source.words}"
        return replace(source, words=words), None
    return source, omega


def _worked_out(
    session: Session, data: PullData, configuration: Configuration, road: Floats | None
) -> tuple[SpeedSource, Floats | None]:
    """Engine speed from road speed, as far as the drive was locked."""
    if road is None:
        words = "no engine speed and no road speed"
        return SpeedSource("missing", words, 0.0, ("road speed",)), None
    if not locked(session, configuration):
        return SpeedSource("missing", _why_not_locked(session, configuration)), None
    if session.known_point is not None:
        return _from_point(session, data, road)
    return _from_ratios(session, data, road, configuration)


def _source(data: PullData) -> SpeedSource:
    log = data.from_log("engine_speed")
    if log is None:
        return SpeedSource("logged", "logged")
    words = f"recovered from the log {log.source}, laid over by {log.by}"
    if log.shift is None and log.tried:
        words += f"; by time it could not be: {log.tried[0]}"
    return SpeedSource("recovered", words, log.u_speed)


def _from_point(
    session: Session, data: PullData, road: Floats
) -> tuple[SpeedSource, Floats | None]:
    point = session.known_point
    assert point is not None
    if point.road_speed is None or point.engine_speed is None:
        gone = _ROAD_SPEED if point.road_speed is None else _ENGINE_SPEED
        return SpeedSource("missing", f"cannot be recovered: {gone} missing", 0.0, (gone,)), None
    if data.pull.gear is not None and data.pull.gear != session.gear:
        words = "the known point was read in another gear"
        return SpeedSource("missing", words, 0.0, ("a known point in this gear",)), None
    reading = point.reading.si if point.reading else U_READING
    found = enginespeed.from_known_point(
        road, point.road_speed.si, point.engine_speed.si, u_reading=reading
    )
    words = (
        f"recovered from road speed and one known point ({point.engine_speed.text} at "
        f"{point.road_speed.text})"
    )
    return SpeedSource("recovered", words, found.u), found.omega


def _from_ratios(
    session: Session, data: PullData, road: Floats, configuration: Configuration
) -> tuple[SpeedSource, Floats | None]:
    gear = data.pull.gear or session.gear
    found = gearing(configuration, gear)
    if found.ratio is None or found.circumference is None:
        words = f"cannot be recovered: {', '.join(found.missing)} missing"
        return SpeedSource("missing", words, 0.0, found.missing), None
    recovered = enginespeed.from_ratios(
        road, found.ratio, 1.0, found.circumference, u_circumference=found.u
    )
    box = configuration.gearbox
    single = configuration.car.power_source == "electric" and not (box and box.ratios)
    by = "reduction" if single else f"gear {gear}"
    words = f"recovered from road speed, {by} and tire ({found.basis})"
    return SpeedSource("recovered", words, recovered.u), recovered.omega


def _why_not_locked(session: Session, configuration: Configuration) -> str:
    box = configuration.gearbox
    if session.lockup is None and (box is None or box.kind is None):
        return "gearbox.kind is missing, so a converter may have slipped"
    return "converter not locked"
