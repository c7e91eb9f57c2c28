"""The figure of one prediction: its band beside the curve it starts from and the measured."""

from __future__ import annotations

import numpy as np

from buildlog.analysis.prediction.predicted import Predicted
from buildlog.analysis.pulls.sheet import PullGroup, Sheet
from buildlog.report.as_text.prediction_text import answer
from buildlog.report.numbers import Display
from buildlog.report.pictures.figures import FigureLine, Panel, Picture

X_LABEL = "engine speed [rpm]"


def band_beside(
    result: Predicted, measured: tuple[Sheet, PullGroup] | None, show: Display
) -> Picture:
    """The predicted P10 to P90 band, the curve it starts from, and what was measured."""
    unit = show.unit("power")
    curve = result.curve
    middle = (curve.p10 + curve.p90) / 2
    before, after = result.before.name, result.after.name
    begun = np.asarray(result.start.anchor.power)
    lines = [
        FigureLine(f"{before} (start)", result.start.rpm, begun / unit.factor),
        FigureLine(
            f"{after}, predicted P10-P90",
            result.start.rpm,
            middle / unit.factor,
            (curve.p90 - curve.p10) / 2 / unit.factor,
        ),
    ]  # fmt: skip
    if measured is not None and measured[0].axis == "engine_speed":
        sheet, group = measured
        half = sheet.mean_half_width(group) / unit.factor
        lines.append(FigureLine(f"{after}, measured", sheet.grid, group.mean / unit.factor, half))
    title = "power at the wheels; predicted: P10 to P90 at each speed, line in its middle"
    return Picture(
        answer(result, show),
        f"{result.start.words} ({result.start.standard}); {result.draws:,} draws",
        X_LABEL,
        (Panel(title, f"power [{unit.text}]", tuple(lines), from_zero=True),),
        "predicted figures are estimates, not approvals",
    )
