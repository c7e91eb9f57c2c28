"""Figures of predictions: the band beside the measured curve, peaks over the car's life."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from buildlog.analysis.learned import PastStage
from buildlog.analysis.prediction import Predicted
from buildlog.analysis.sheet import Group, Sheet
from buildlog.report.figures import Line, Panel, Picture
from buildlog.report.numbers import Display
from buildlog.report.prediction_text import answer

X_LABEL = "engine speed [rpm]"


def band_beside(result: Predicted, measured: tuple[Sheet, Group] | None, show: Display) -> Picture:
    """The predicted P10 to P90 band, the curve it starts from, and what was measured."""
    unit = show.unit("power")
    curve = result.curve
    middle = (curve.p10 + curve.p90) / 2
    before, after = result.before.name, result.after.name
    begun = np.asarray(result.start.anchor.power)
    lines = [
        Line(f"{before} (start)", result.start.rpm, begun / unit.factor),
        Line(
            f"{after}, predicted P10-P90",
            result.start.rpm,
            middle / unit.factor,
            (curve.p90 - curve.p10) / 2 / unit.factor,
        ),
    ]  # fmt: skip
    if measured is not None and measured[0].axis == "engine_speed":
        sheet, group = measured
        half = sheet.mean_half_width(group) / unit.factor
        lines.append(Line(f"{after}, measured", sheet.grid, group.mean / unit.factor, half))
    title = "power at the wheels; predicted: P10 to P90 at each speed, line in its middle"
    return Picture(
        answer(result, show),
        f"{result.start.words} ({result.start.standard}); {result.draws:,} draws",
        X_LABEL,
        (Panel(title, f"power [{unit.text}]", tuple(lines), from_zero=True),),
        "predicted figures are estimates, not approvals",
    )


def peaks_over_life(past: Sequence[PastStage]) -> Picture:
    """Measured change of each stage beside its predicted band, stage by stage."""
    x = np.arange(1.0, len(past) + 1)
    results = [stage.result for stage in past]
    low, high, middle, found = (
        np.array([100 * (getattr(r, name) - 1) for r in results])
        for name in ("p10", "p90", "p50", "measured")
    )
    lines = (
        Line("predicted P10-P90", x, (low + high) / 2, (high - low) / 2),
        Line("predicted, middle", x, middle, target=True),
        Line("measured", x, found),
    )
    inside = sum(r.inside for r in results)
    names = "; ".join(f"{i}: {s.before} to {s.after}" for i, s in enumerate(past, 1))
    return Picture(
        f"{inside} of {len(past)} measured stages lay inside P10 to P90",
        names,
        "stage, in the order of the car's life",
        (Panel("change of peak wheel power", "change [%]", lines, zero_line=True),),
        "raw bands, before learning; scatter of the dyno counts in saying inside",
    )
