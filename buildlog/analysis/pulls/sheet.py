"""What a session's sheet holds: its pulls as curves, grouped, with scatter, peaks and findings."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from buildlog.analysis.pulls.curves import Conversion, Curve, air_of
from buildlog.analysis.pulls.pull_data import AxisName, Floats
from buildlog.findings import Finding
from buildlog.physics.numerics import repeatability
from buildlog.physics.numerics.constants import ATM
from buildlog.physics.numerics.levelling import Levelled
from buildlog.physics.numerics.repeatability import Scatter
from buildlog.records.session import Session

DEFAULT_STANDARD = "SAE J1349"


@dataclass(frozen=True)
class Top:
    """The highest point of a mean curve: value in SI, place in rpm or km/h."""

    value: float
    at: float
    at_edge: bool


@dataclass(frozen=True)
class PullGroup:
    """Pulls of one configuration and one calibration.

    `power` (n, g) [W] on the sheet's grid, NaN where a pull has not been; `levelled` their mean,
    `torque` (g,) [N*m] of it, None where it cannot be known. `best`: the pull with the highest
    peak, and that.
    """

    key: str
    kept: bool
    curves: tuple[Curve, ...]
    power: Floats
    levelled: Levelled
    torque: Floats | None
    peak_power: Top
    peak_torque: Top | None
    best: tuple[str, Top]

    @property
    def pulls(self) -> int:
        """How many pulls stand behind the mean."""
        return len(self.curves)

    @property
    def mean(self) -> Floats:
        """Mean power (g,) [W], NaN where no pull has been."""
        return self.levelled.mean

    def pulls_at(self, sheet: Sheet, place: float) -> int:
        """How many of them have been at a place of the sheet's axis [rpm or km/h]."""
        return int(self.levelled.count[int(np.argmin(np.abs(sheet.grid - place)))])

    def widening_at(self, sheet: Sheet, place: float) -> float:
        """What fewer pulls at a place make of the half-width of their mean [-], from 1."""
        return float(self.levelled.widening()[int(np.argmin(np.abs(sheet.grid - place)))])


@dataclass(frozen=True)
class Sheet:
    """One session worked out. `grid` is in rpm or km/h, as `axis` says; `turning` is what an axis
    in rpm is called: an electric car has no engine speed."""

    name: str
    session: Session
    conversion: Conversion
    axis: AxisName
    grid: Floats
    groups: tuple[PullGroup, ...]
    unused: tuple[Curve, ...]
    scatter: Scatter
    torque_reason: str | None
    findings: tuple[Finding, ...] = field(default=())
    pooled_with: tuple[str, ...] = field(default=())
    turning: str = "engine speed"

    @property
    def standard(self) -> str:
        """The standard that the numbers are in; "none" is observed power."""
        return self.conversion.reached

    @property
    def curves(self) -> tuple[Curve, ...]:
        """All pulls that count, group by group."""
        return tuple(curve for group in self.groups for curve in group.curves)

    @property
    def kept(self) -> PullGroup | None:
        """The group whose configuration stays in the car: marked, or the only or last one."""
        marked = [group for group in self.groups if group.kept]
        chosen = marked or list(self.groups)
        return chosen[-1] if chosen else None

    def group(self, calibration: str | None) -> PullGroup | None:
        """The group pulled under a calibration, quick trials apart; else the one that is kept."""
        named = [
            group
            for group in self.groups
            if group.curves[0].data.pull.calibration == calibration
            and not group.curves[0].data.pull.change
        ]
        return named[-1] if named else self.kept

    @property
    def at(self) -> str:
        """Where the power was measured: "wheels", "hubs" or "crank"."""
        if self.curves and self.curves[0].data.at == "crank":
            return "crank"
        driven = self.session.dyno.driven if self.session.dyno else None
        return "hubs" if driven == "hubs" else "wheels"

    @property
    def observed_is_better(self) -> bool:
        """Whether the place's own height, and nothing else, puts its air outside the standard."""
        return any(finding.code == "altitude" for finding in self.findings)

    @property
    def u_power(self) -> float:
        """Relative standard uncertainty common to all its power: of a road log's estimate."""
        return max((curve.data.u_power for curve in self.curves), default=0.0)

    @property
    def u_speed(self) -> float:
        """Relative standard uncertainty of an engine speed that was recovered."""
        states = [c.speed.u for c in self.curves if c.speed.state == "recovered"]
        return max(states, default=0.0)

    def _own_half_width(self, group: PullGroup) -> float:
        """Relative 95 % half-width that the pulls' scatter leaves where all have been; of one pull
        from a roller's trace not less than the noise of the roller's speed makes of it."""
        own = repeatability.mean_half_width(self.scatter, group.pulls)
        alone = group.curves[0].data.noise if group.pulls == 1 else 0.0
        return max(own, repeatability.Z95 * alone)

    def mean_half_width(self, group: PullGroup) -> Floats:
        """Pointwise 95 % half-width [W] of a group's mean curve."""
        own = self._own_half_width(group)
        common = repeatability.Z95 * self.u_power
        return np.hypot(own * group.levelled.widening(), common) * group.mean

    def torque_half_width(self, group: PullGroup) -> Floats | None:
        """The same of its torque [N*m], with the engine speed's uncertainty where recovered."""
        if group.torque is None:
            return None
        share = self.mean_half_width(group) / group.mean
        return np.hypot(share, repeatability.Z95 * self.u_speed) * group.torque

    def peak_half_width(self, group: PullGroup) -> float:
        """95 % half-width [W] of a group's peak power."""
        own = self._own_half_width(group)
        own *= group.widening_at(self, group.peak_power.at)
        return math.hypot(own, repeatability.Z95 * self.u_power) * group.peak_power.value

    def factors(self) -> tuple[float, ...]:
        """The correction factors of its pulls, one where all are alike."""
        return tuple(sorted({round(c.factor.value, 5) for c in self.curves if c.factor}))


def ambient(sheet: Sheet, curve: Curve) -> float:
    """Pressure of the open air at a pull [Pa]: as measured, else the standard one."""
    air = air_of(sheet.session, curve.data.pull.air)
    own = sheet.session.air.pressure if sheet.session.air else None
    return air[0] if air else own.si if own else ATM
