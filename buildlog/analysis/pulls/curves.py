"""A pull as a curve: its axis, engine speed logged or recovered, power in one standard."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from buildlog import units
from buildlog.analysis.pulls.pull_data import KMH, RPM, AxisName, Floats, PullData
from buildlog.analysis.pulls.speed_recovery import SpeedSource, engine_speed, road_speed
from buildlog.physics.engines import crank
from buildlog.physics.gases import correction, fuels
from buildlog.physics.gases.correction import Factor
from buildlog.physics.numerics import regression
from buildlog.physics.numerics.middle import median
from buildlog.physics.numerics.regression import Peak
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import FieldPath, field_paths, value_at
from buildlog.records.session import Air, Session

_AIR = field_paths("air.temperature", "air.pressure", "air.humidity", model=Session)
# Full width of the local regression on each axis: narrow enough to keep a dip of 300 rpm.
WIDTH: dict[AxisName, float] = {
    "engine_speed": regression.ENGINE_WIDTH / RPM,
    "road_speed": regression.ROAD_WIDTH / KMH,
}
ROWS_IN_WIDTH = 7  # a file with coarse rows is smoothed wider: half of these must lie on each side


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
        return max(WIDTH[axis], ROWS_IN_WIDTH * median(steps) if steps.size else 0.0)

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
    power, observed, factor = conversion.convert(data, session)
    return Curve(data, axis, power, observed, factor, speed)


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
    displacement: float | None = None
    fuel_density: float = 1.0  # [kg/m^3] where fuel flow is logged by volume

    def convert(
        self, data: PullData, session: Session
    ) -> tuple[Floats, Floats | None, Factor | None]:
        """Power in the standard reached, observed power, and the factor between them."""
        air, power = air_of(session, data.pull.air), data.power
        if self.applied == "unknown":
            return power, None, None
        if air is None:
            return power, power if self.applied == "none" else None, None
        boost = _boost_ratio(data, air[0])
        if self.applied == self.reached != "none":  # its own correction, undone and done again
            factor = self._factor(self.applied, air, data, boost)
            return power, np.asarray(correction.undo(power, factor)), factor
        observed = power
        if self.applied != "none":
            undone = self._factor(self.applied, air, data, boost)
            observed = np.asarray(correction.undo(power, undone))
        if self.reached == "none":
            return observed, observed, correction.UNCORRECTED
        factor = self._factor(self.reached, air, data, boost)
        return np.asarray(correction.apply(observed, factor)), observed, factor

    def _factor(
        self, standard: str, air: tuple[float, float, float], data: PullData, boost: float
    ) -> Factor:
        return correction.factor(
            standard,
            air[0],
            air[1],
            relative_humidity=air[2],
            ignition=self.ignition,
            aspiration=self.aspiration,
            engine_factor=self._engine_factor(standard, data, boost),
        )

    def _engine_factor(self, standard: str, data: PullData, boost: float) -> float | None:
        """f_m of a compression-ignition engine, at the largest power of the pull."""
        if standard != "ISO 1585" or self.ignition != "compression":
            return None
        if self.displacement is None or not {"fuel_flow", "engine_speed"} <= set(data.channels):
            raise ValueError(FUEL_FLOW_MISSING)
        top = int(np.nanargmax(data.power))
        flow = float(data.channels["fuel_flow"][top]) * self.fuel_density
        omega = float(data.channels["engine_speed"][top])
        return correction.compression_engine_factor(flow, self.displacement, omega, boost)


FUEL_FLOW_MISSING = (
    "the compression-ignition factor needs fuel flow and engine speed in the file, and bore, "
    "stroke and cylinders in car.toml"
)


def _boost_ratio(data: PullData, ambient: float) -> float:
    """Absolute pressure ratio of the charge at the largest power; 1 where it is not logged."""
    top = int(np.nanargmax(data.power))
    if "manifold_pressure" in data.channels:
        return max(float(data.channels["manifold_pressure"][top]) / ambient, 1.0)
    if "boost" in data.channels:
        return max(1 + float(data.channels["boost"][top]) / ambient, 1.0)
    return 1.0


def air_of(session: Session, own: Air | None) -> tuple[float, float, float] | None:
    """Station pressure [Pa], temperature [K], relative humidity; the pull's own air wins."""
    pull, day = own or Air.blank(), session.air or Air.blank()
    pressure = pull.pressure or day.pressure
    temperature = pull.temperature or day.temperature
    humidity = pull.humidity or day.humidity
    if pressure is None or temperature is None or humidity is None:
        return None
    return pressure.si, temperature.si, humidity.si


def missing_air(session: Session) -> list[FieldPath]:
    """The fields of the session's air that are not given."""
    return [path for path in _AIR if value_at(session, path) is None]


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
    logged = {column.channel for column in session.column}
    gone = missing_air(session)
    if applied == "unknown":
        reached = "unknown"
        why = "it is not known whether a correction is already inside the numbers"
    elif gone and not all(pull.air for pull in session.pull):
        reached = applied
        why = f"{', '.join(gone)} missing" if target != applied else None
    elif (
        ignition == "compression"
        and "ISO 1585" in (target, applied)
        and not (logged >= {"fuel_flow", "engine_speed"} and displacement(configuration))
    ):
        reached, why = applied, FUEL_FLOW_MISSING
    return Conversion(
        applied, target, reached, why, ignition, aspiration,
        displacement(configuration), _fuel_density(session),
    )  # fmt: skip


def displacement(configuration: Configuration) -> float | None:
    """Swept volume [m^3], declared or from bore, stroke and cylinders."""
    table = configuration.engine
    if table is None:
        return None
    if table.displacement is not None:
        return table.displacement.si
    if table.bore is None or table.stroke is None or table.cylinders is None:
        return None
    return crank.displacement(table.bore.si, table.stroke.si, table.cylinders)


def _fuel_density(session: Session) -> float:
    """Density of diesel where fuel flow is logged by volume, 1 where by mass."""
    column = next((c for c in session.column if c.channel == "fuel_flow"), None)
    if column is None or not column.unit:
        return 1.0
    by_volume = units.find(column.unit, ("volume_flow",)) is not None
    return fuels.FUELS["diesel"].density if by_volume else 1.0
