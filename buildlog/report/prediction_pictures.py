"""Figures of predictions: the band beside the measured curve, peaks over the car's life."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from buildlog.analysis.learned import PastStage
from buildlog.analysis.prediction import Predicted
from buildlog.analysis.sheet import Group, Sheet
from buildlog.report.figures import Floats, Line, Panel, Picture
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


def peaks_over_life(past: Sequence[PastStage], show: Display) -> Picture:
    """Measured peak of each stage beside its predicted band, stage by stage."""
    unit = show.unit("power")
    peaks = np.array([stage.start_peak for stage in past]) / unit.factor
    results = [stage.result for stage in past]
    low, high, found = (
        _steps(peaks * np.array([getattr(r, name) for r in results]))
        for name in ("p10", "p90", "measured")
    )
    x = np.concatenate([[i - 0.2, i + 0.2, np.nan] for i in range(1, len(past) + 1)])
    lines = (
        Line("predicted P10-P90", x[:-1], ((low + high) / 2)[:-1], ((high - low) / 2)[:-1]),
        Line("measured", x[:-1], found[:-1]),
    )
    inside = sum(r.inside for r in results)
    names = "; ".join(f"{i}: {s.before} to {s.after}" for i, s in enumerate(past, 1))
    title = "peak wheel power of each stage, predicted from the curve before it, and measured"
    return Picture(
        f"{inside} of {len(past)} measured stages lay inside P10 to P90",
        names,
        "stage, in the order of the car's life",
        (Panel(title, f"power [{unit.text}]", lines, from_zero=True),),
        "raw bands, before learning; the dyno's scatter counts in saying inside",
    )


def _steps(values: Floats) -> Floats:
    """Each value twice, then a gap: stages are not joined by lines that nobody measured."""
    return np.concatenate([[value, value, np.nan] for value in values])
