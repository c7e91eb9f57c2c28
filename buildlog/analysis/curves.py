"""A pull as a curve: its axis, engine speed logged or recovered, power in one standard."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from buildlog.analysis.gearing import gearing
from buildlog.analysis.pull_data import AXIS_SI, KMH, RPM, AxisName, Floats, PullData
from buildlog.physics import correction, enginespeed, regression
from buildlog.physics.correction import Factor
from buildlog.physics.regression import Peak
from buildlog.records.configuration import Configuration
from buildlog.records.session import Air, Session

# Full width of the local regression on each axis: narrow enough to keep a dip of 300 rpm.
WIDTH: dict[AxisName, float] = {"engine_speed": 300.0, "road_speed": 6.0}
ROWS_IN_WIDTH = 7  # a file with coarse rows is smoothed wider: half of these must lie on each side


@dataclass(frozen=True)
class SpeedSource:
    """Where engine speed comes from: "logged", "recovered" or "missing", and how sure it is."""

    state: str
    words: str
    u: float = 0.0
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class Curve:
    """One pull, ready to be laid on a grid.

    `axis` holds both axes where they are known, in rpm and km/h. `power` is in the
    sheet's standard, `observed` as it was in that air (None where it cannot be known).
    """

    data: PullData
    axis: Mapping[AxisName, Floats]
    power: Floats
    observed: Floats | None
    factor: Factor | None
    speed: SpeedSource

    @property
    def name(self) -> str:
        """The pull's name in its session."""
        return self.data.name

    def width(self, axis: AxisName) -> float:
        """Full width of the local regression, in rpm or km/h."""
        steps = np.abs(np.diff(self.axis[axis]))
        return max(WIDTH[axis], ROWS_IN_WIDTH * float(np.median(steps)) if steps.size else 0.0)

    def on(self, axis: AxisName, grid: Floats) -> Floats:
        """Power [W] on a grid of the axis; NaN beyond the pull."""
        x, width = self.axis[axis], self.width(axis)
        return regression.local_quadratic(x, self.power, grid, width).values

    def channel_on(self, name: str, axis: AxisName, grid: Floats) -> Floats:
        """Another channel in SI on the grid; NaN beyond the pull."""
        x, values = self.axis[axis], self.data.channels[name]
        return regression.local_quadratic(x, values, grid, self.width(axis)).values

    def peak(self, axis: AxisName) -> Peak:
        """The highest point of the fitted power curve [W at rpm or km/h]."""
        return regression.peak(self.axis[axis], self.power, self.width(axis))


def curve(
    session: Session,
    data: PullData,
    configuration: Configuration,
    standard: str,
    conversion: Conversion,
) -> Curve:
    """Lay out one pull: engine speed logged or recovered, power converted to the standard."""
    speed, omega = engine_speed(session, data, configuration)
    axis: dict[AxisName, Floats] = {}
    if omega is not None:
        axis["engine_speed"] = omega / RPM
    road = road_speed(session, data)
    if road is not None:
        axis["road_speed"] = road / KMH
    power, observed, factor = conversion.convert(data.power, session, data.pull.air)
    return Curve(data, axis, power, observed, factor, speed)


def road_speed(session: Session, data: PullData) -> Floats | None:
    """Speed of the tyre's surface [m/s], from road speed or the roller's."""
    channels = data.channels
    if "road_speed" in channels:
        return channels["road_speed"]
    if "roller_speed" not in channels:
        return None
    roller = session.dyno.roller_circumference if session.dyno else None
    unit = next(
        (c.unit for c in (*data.pull.column, *session.column) if c.channel == "roller_speed"), ""
    )
    if unit in {"rpm", "rad/s"}:
        if roller is None:
            return None
        return channels["roller_speed"] / (2 * math.pi) * roller.si
    return channels["roller_speed"]


def engine_speed(
    session: Session, data: PullData, configuration: Configuration
) -> tuple[SpeedSource, Floats | None]:
    """Engine speed [rad/s], logged or recovered with a locked drive; None says why."""
    if "engine_speed" in data.channels:
        return SpeedSource("logged", "logged"), data.channels["engine_speed"]
    road = road_speed(session, data)
    if road is None:
        return SpeedSource(
            "missing", "no engine speed and no road speed", 0.0, ("road speed",)
        ), None
    if not locked(session, configuration):
        return SpeedSource("missing", "converter not locked"), None
    gear = data.pull.gear or session.gear
    found = gearing(configuration, gear)
    if found.ratio is None or found.circumference is None:
        words = f"cannot be recovered: {', '.join(found.missing)} missing"
        return SpeedSource("missing", words, 0.0, found.missing), None
    recovered = enginespeed.from_ratios(
        road, found.ratio, 1.0, found.circumference, u_circumference=found.u
    )
    words = f"recovered from road speed, gear {gear} and tyre ({found.basis})"
    return SpeedSource("recovered", words, recovered.u), recovered.omega


def locked(session: Session, configuration: Configuration) -> bool:
    """Whether wheels and engine turned in one ratio: manual, dual-clutch, or said to be locked."""
    box = configuration.gearbox
    kind = box.kind if box else None
    return kind in {"manual", "dual-clutch"} or session.lockup == "locked"


@dataclass(frozen=True)
class Conversion:
    """How the numbers of a session's files are brought to one standard.

    `applied` is what is inside the files, `wanted` what is asked for, `reached` what the
    numbers are in after conversion and `why` says why that is not what was asked for.
    """

    applied: str
    wanted: str
    reached: str
    why: str | None
    ignition: correction.Ignition = "spark"
    aspiration: correction.Aspiration = "natural"

    def convert(
        self, power: Floats, session: Session, own_air: Air | None
    ) -> tuple[Floats, Floats | None, Factor | None]:
        """Power in the standard reached, observed power, and the factor between them."""
        air = air_of(session, own_air)
        if self.applied == "unknown":
            return power, None, None
        if air is None:
            return power, power if self.applied == "none" else None, None
        observed = power if self.applied == "none" else self._undone(power, air)
        if self.reached == "none":
            return observed, observed, correction.UNCORRECTED
        factor = self._factor(self.reached, air)
        return np.asarray(correction.apply(observed, factor)), observed, factor

    def _undone(self, power: Floats, air: tuple[float, float, float]) -> Floats:
        return np.asarray(correction.undo(power, self._factor(self.applied, air)))

    def _factor(self, standard: str, air: tuple[float, float, float]) -> Factor:
        return correction.factor(
            standard,
            air[0],
            air[1],
            relative_humidity=air[2],
            ignition=self.ignition,
            aspiration=self.aspiration,
        )


def air_of(session: Session, own: Air | None) -> tuple[float, float, float] | None:
    """Station pressure [Pa], temperature [K], relative humidity; the pull's own air wins."""
    values = []
    for name in ("pressure", "temperature", "humidity"):
        given = getattr(own, name, None) or getattr(session.air, name, None)
        if given is None:
            return None
        values.append(given.si)
    return values[0], values[1], values[2]


def missing_air(session: Session) -> list[str]:
    """The fields of the session's air that are not given."""
    return [
        f"air.{name}"
        for name in ("temperature", "pressure", "humidity")
        if getattr(session.air, name, None) is None
    ]


def conversion(session: Session, configuration: Configuration, wanted: str) -> Conversion:
    """Decide what the session's numbers can be brought to.

    ValueError (from the physics) for a standard that is not known.
    """
    applied = correction.standard_named(session.standard_applied or "unknown")
    target = correction.standard_named(wanted)
    source = configuration.car.power_source
    if source == "electric":
        why = None if target == "none" else "an electric motor needs no correction for the air"
        return Conversion(applied, target, "none", why)
    ignition: correction.Ignition = "compression" if source == "compression-ignition" else "spark"
    kind = configuration.induction.kind if configuration.induction else None
    aspiration: correction.Aspiration = {
        "turbocharger": "turbocharged",
        "positive-displacement": "supercharged",
        "centrifugal": "supercharged",
    }.get(kind or "", "natural")  # type: ignore[assignment]
    reached, why = target, None
    gone = missing_air(session)
    if applied == "unknown":
        reached = "unknown"
        why = "it is not known whether a correction is already inside the numbers"
    elif gone and not all(pull.air for pull in session.pull):
        reached = applied
        why = f"{', '.join(gone)} missing" if target != applied else None
    elif ignition == "compression" and target == "ISO 1585":
        reached, why = "none", "the compression-ignition factor needs fuel flow, which is missing"
    return Conversion(applied, target, reached, why, ignition, aspiration)


def si_axis(axis: AxisName, values: Floats) -> Floats:
    """An axis in rpm or km/h as rad/s or m/s."""
    return values * AXIS_SI[axis]
