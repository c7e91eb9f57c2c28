"""The figure of past stages: the predicted band beside the measured peak, over the car's life."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from buildlog.analysis.prediction.learned import PastStage
from buildlog.report.numbers import Display, plain
from buildlog.report.pictures.figures import COLOURS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_APART = 0.17  # of the frame's width: names closer than this go one line higher
_LINE = 0.16  # of the frame's height: a name with its figures
_NOTES = (
    "bar: predicted P10 to P90 from the curve before, before learning, its middle as a line; "
    "point: measured, with its 95 % interval\n"
    "the dyno's scatter counts in saying inside; predicted figures are estimates, not approvals"
)


def stages_figure(past: Sequence[PastStage], against: str, show: Display) -> Figure:
    """Each stage where it was measured, odometer or date, with its name and both figures."""
    from matplotlib.figure import Figure

    inside = sum(stage.result.inside for stage in past)
    figure = Figure(figsize=(8.0, 5.0), layout="constrained")
    figure.get_layout_engine().set(rect=(0, 0.01, 1, 0.87))  # type: ignore[union-attr,call-arg]
    axes = figure.subplots()
    spots, label = _spots(past, against, show)
    _frame(axes, spots, label, past, show)
    for spot, stage in zip(spots, past, strict=True):
        _draw(axes, spot, stage, max(spots) - min(spots) or 1.0, show)
    _name(axes, spots, past, show)
    words = f"{inside} of {len(past)} measured stages lay inside P10 to P90"
    figure.text(0.02, 0.98, words, va="top", fontsize=10.5, weight="bold")
    cars = ", ".join(dict.fromkeys(stage.car for stage in past))
    figure.text(0.02, 0.925, f"{cars}: peak wheel power of each stage", va="top", fontsize=8.5)
    figure.supxlabel(_NOTES, fontsize=7.5, x=0.02, ha="left")
    return figure


def _spots(past: Sequence[PastStage], against: str, show: Display) -> tuple[list[float], str]:
    """Where each stage stands on the axis, and what the axis is."""
    if against == "odometer":
        unit = show.unit("length")
        return [unit.from_si(s.odometer or 0.0) for s in past], f"odometer [{unit.text}]"
    first = min(stage.date for stage in past)
    return [float((s.date - first).days) for s in past], f"days since {first}"


def _frame(
    axes: Axes, spots: Sequence[float], label: str, past: Sequence[PastStage], show: Display
) -> None:
    reach = max(spots) - min(spots) or 1.0
    highest = max(max(s.result.p90, s.result.measured) * s.start_peak for s in past)
    lines = 1 + max(_levels(spots))
    axes.set_xlim(min(spots) - 0.15 * reach, max(spots) + 0.15 * reach)
    axes.set_ylim(0, highest / show.unit("power").factor / (1 - _LINE * lines))
    axes.set_xlabel(label)
    axes.set_ylabel(f"power [{show.unit('power').text}]")
    axes.xaxis.set_major_formatter("{x:,.15g}")
    axes.grid(visible=True, color="#dddddd", linewidth=0.6)
    axes.spines[["top", "right"]].set_visible(False)


def _draw(axes: Axes, spot: float, stage: PastStage, reach: float, show: Display) -> None:
    result, half = stage.result, 0.014 * reach
    p10, p50, p90, found = _values(stage, show)
    axes.fill_between([spot - half, spot + half], p10, p90, color="#bbbbbb", linewidth=0)
    axes.plot([spot - half, spot + half], [p50, p50], color="#000000", linewidth=1.4)
    axes.errorbar(
        spot, found, yerr=1.96 * result.measured_sd * found, marker="o", markersize=5,
        color=COLOURS[1], linewidth=1.3, capsize=3,
    )  # fmt: skip


def _values(stage: PastStage, show: Display) -> tuple[float, float, float, float]:
    """P10, P50, P90 and measured peak in the unit shown."""
    result, scale = stage.result, stage.start_peak / show.unit("power").factor
    return result.p10 * scale, result.p50 * scale, result.p90 * scale, result.measured * scale


def _name(axes: Axes, spots: Sequence[float], past: Sequence[PastStage], show: Display) -> None:
    """The stage's name and both figures above its bar; a line higher where two would touch."""
    height = axes.get_ylim()[1]
    for spot, level, stage in zip(spots, _levels(spots), past, strict=True):
        p10, _, p90, found = _values(stage, show)
        above = found * (1 + 1.96 * stage.result.measured_sd)
        top = max(p90, above) + (0.01 + _LINE * level) * height
        where = "" if stage.result.inside else " (outside)"
        text = f"{stage.after}\npredicted {plain(p10)}-{plain(p90)}\nmeasured {plain(found)}{where}"
        axes.text(spot, top, text, fontsize=8, ha="center", va="bottom")


def _levels(spots: Sequence[float]) -> list[int]:
    """How many lines higher each name goes, so that neighbours do not touch."""
    reach = max(spots) - min(spots) or 1.0
    levels: list[int] = []
    for i, spot in enumerate(spots):
        near = i > 0 and spot - spots[i - 1] < _APART * 1.3 * reach
        levels.append((levels[-1] + 1) % 3 if near else 0)
    return levels
