"""Two versions compared, and what one of them would give: `buildlog diff`, `buildlog predict`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from buildlog.analysis.car.changes import Change
from buildlog.analysis.prediction.predicted import Lies, PredictionBand
from buildlog.analysis.pulls.pull_data import AXIS_UNIT, AxisName, Floats
from buildlog.desk.views.arrays import OnAxis, locked
from buildlog.desk.views.limit_views import MarginRow
from buildlog.desk.views.measured_views import MeasuredView
from buildlog.desk.views.view import Absent, Forms, View
from buildlog.findings import Finding, how_many

if TYPE_CHECKING:
    from buildlog.analysis.answers.comparison import Diff
    from buildlog.analysis.prediction.predicted import Predicted
    from buildlog.desk.views.car_version import CarVersion
    from buildlog.units import System


@dataclass(frozen=True)
class ShareOfChange:
    """What one change has in a prediction: its mean effect on peak power [W]."""

    change: str
    delta_w: float


@dataclass(frozen=True)
class MarginPair:
    """One limit before and after; a side is None where that version has no such limit."""

    name: str
    before: MarginRow | None
    after: MarginRow | None
    tighter: bool


class PredictedView(OnAxis):
    """What a version would make, from the measured curve of another, as bands.

    A band has `p10`, `p50`, `p90` and `mean` in the unit of its name. The curve is over engine
    speed: `axis_rpm` (g places).
    """

    def __init__(self, found: Predicted) -> None:
        none: dict[AxisName, str] = dict.fromkeys(AXIS_UNIT, "a prediction is over engine speed")
        super().__init__({"engine_speed": found.start.rpm}, none)
        self._found = found
        self.anchored_to = found.start.session
        """The session whose curve it starts from; None where it starts from a rating."""
        self.peak_delta_w = self._known(found.peak_power_delta)
        """Change of peak wheel power [W]."""
        self.peak_power_w = self._known(found.peak_power)
        """Peak wheel power [W]."""
        self.peak_ratio = self._known(found.ratio)
        """Peak wheel power over that of the curve it starts from [-]."""
        self.peak_torque_nm = self._known(found.peak_torque)
        """Peak torque at the wheels, referred to engine speed [N*m]."""
        self.notes = (*found.notes, *found.left_out)
        """What the prediction rests on or leaves out, in a sentence each."""

    def _known(self, band: PredictionBand) -> PredictionBand | Absent:
        """A band, or why there is none: what no formula covers is not zero."""
        why = self._found.unpredictable
        return Absent("prediction", why) if why else band

    @property
    def p10_w(self) -> Floats:
        """Wheel power that 10 of 100 draws stay below [W], (g,)."""
        return locked(self._found.curve.p10)

    @property
    def p50_w(self) -> Floats:
        """Wheel power, the middle of the draws [W], (g,)."""
        return locked(self._found.curve.p50)

    @property
    def p90_w(self) -> Floats:
        """Wheel power that 90 of 100 draws stay below [W], (g,)."""
        return locked(self._found.curve.p90)

    @property
    def attribution(self) -> tuple[ShareOfChange, ...]:
        """What each change gives; the sum is the mean change before anything was learned."""
        shares = self._found.raw.attribution.shares
        return tuple(ShareOfChange(share.name, share.delta) for share in shares)

    @property
    def lies(self) -> Lies | Absent:
        """Where the measured peak lies in the band: `.where` is "inside", "above" or "below"."""
        why = f"{self._found.after.name} was not measured in the same way"
        return self._found.lies or Absent("measured peak", why)

    def __repr__(self) -> str:
        band = self.peak_delta_w
        if isinstance(band, Absent):
            return f"<not predictable: {self._found.unpredictable}>"
        low, high = (f"{end / 1e3:+.1f}" for end in (band.p10, band.p90))
        return f"<predicted {low} to {high} kW (8 in 10) from {self._found.before.name}>"


class PredictionView(PredictedView, View):
    """A prediction that was asked for: `buildlog predict`."""

    def __init__(
        self, found: Predicted, sides: tuple[CarVersion, CarVersion], units: System
    ) -> None:
        super().__init__(found)
        self._units = units
        self.before, self.after = sides

    __repr__ = View.__repr__

    def _forms(self) -> Forms:
        from buildlog.report.as_json.prediction_json import prediction_json
        from buildlog.report.as_text.prediction_text import prediction_lines

        found, band = self._found, self.peak_delta_w
        sides = f"{found.before.name} to {found.after.name}"

        def short() -> str:
            low, high = (self._show.change(end, None, "power") for end in (band.p10, band.p90))
            return f"prediction {sides}: {low} to {high} (8 in 10)"

        return Forms(
            lambda: prediction_lines(found, self._show), lambda: prediction_json(found), short
        )


class DiffView(View):
    """What lies between two versions: `buildlog diff`."""

    def __init__(self, found: Diff, sides: tuple[CarVersion, CarVersion], units: System) -> None:
        self._found, self._units = found, units
        self.before, self.after = sides
        self.why_these = found.why_these
        """Why these two, where nobody named them."""
        self.changes: tuple[Change, ...] = found.changes
        """Every field that differs physically: `.path`, `.kind`, `.old`, `.new`, `.made`."""
        self.findings: tuple[Finding, ...] = found.findings
        """What to look at, worst first."""

    @property
    def measured(self) -> MeasuredView | Absent:
        """What was measured on both sides."""
        if self._found.measured is None:
            return Absent("measured difference", self._found.measured_reason or "not measured")
        return MeasuredView(self._found.measured)

    @property
    def predicted(self) -> PredictedView | Absent:
        """What was predicted from the earlier side's measured curve."""
        if self._found.predicted is None:
            nothing = "nothing that moves power changed"
            return Absent("prediction", self._found.predicted_reason or nothing)
        why = self._found.predicted.unpredictable
        return Absent("prediction", why) if why else PredictedView(self._found.predicted)

    @property
    def margins(self) -> tuple[MarginPair, ...] | Absent:
        """Every limit before and after, tightest first."""
        if self._found.margins is None:
            told = (f.text for f in self.findings if f.code == "no-margins")
            return Absent("margins", next(told, "they cannot be worked out"))
        return tuple(
            MarginPair(
                one.name,
                MarginRow(one.before) if one.before else None,
                MarginRow(one.after) if one.after else None,
                one.tighter,
            )
            for one in self._found.margins.changes
        )

    def _forms(self) -> Forms:
        from buildlog.report.as_json.diff_json import diff_json
        from buildlog.report.as_text.diff_text import answer, diff_lines

        found, sides = self._found, f"{self._found.before.name} to {self._found.after.name}"
        told = f"diff {sides}: {how_many(len(found.changes), 'change')}"
        return Forms(
            lambda: diff_lines(found, self._show),
            lambda: diff_json(found),
            lambda: f"{told}; {answer(found, self._show)}",
            lambda: self._tables.diff_html(found, self._show),
        )
