"""The shop's figures: what each kind of change gave, and predicted against measured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from buildlog.report.pictures.figures import COLOURS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from buildlog.analysis.answers.shop_tables import Gains

Facts = Mapping[str, Any]
_MARKS = ("o", "s", "^", "D", "v", "P", "X")
_LONGEST = 34  # characters of a kind's name beside its row


def draw_shop(table: Sequence[Gains], stages: Sequence[Facts]) -> Figure:
    """Gains by kind of change above; below, each stage's prediction against what was measured."""
    from matplotlib.figure import Figure

    predicted = [stage for stage in stages if stage["predicted"]]
    rows = 1 + bool(predicted)
    heights = [1.2 + 0.4 * len(table), 4.6][:rows]
    figure = Figure(figsize=(8.0, 1.0 + sum(heights)), layout="constrained")
    frames = figure.subplots(rows, 1, squeeze=False, gridspec_kw={"height_ratios": heights})
    figure.suptitle(_headline(table, predicted), fontsize=10.5, weight="bold", x=0.02, ha="left")
    _gains(frames[0, 0], table, stages)
    if predicted:
        _against(frames[1, 0], table, predicted)
    return figure


def _headline(table: Sequence[Gains], predicted: Sequence[Facts]) -> str:
    count = sum(one.count for one in table)
    text = f"{count} stages measured before and after"
    if not predicted:
        return f"{text}; none could be predicted"
    inside = sum(one["predicted"][0] <= one["ratio"] <= one["predicted"][2] for one in predicted)
    met = sum(map(_meet, predicted))
    return (
        f"{text}; of {len(predicted)} predictions (P10 to P90)"
        f"\n{inside} hold the measured peak, {met} meet its 95 % interval"
    )


def _meet(one: Facts) -> bool:
    half = one["half_w"] / one["from_w"]
    low, _, high = one["predicted"]
    return bool(low <= one["ratio"] + half and one["ratio"] - half <= high)


def _gains(frame: Axes, table: Sequence[Gains], stages: Sequence[Facts]) -> None:
    for row, one in enumerate(table):
        shares = [100 * (s["ratio"] - 1) for s in stages if s["kind"] == one.kind]
        frame.plot(
            shares, [row] * len(shares), linestyle="none", marker=_mark(row), markersize=5,
            color=_colour(row), markerfacecolor="none",
        )  # fmt: skip
        frame.plot([100 * one.middle] * 2, [row - 0.3, row + 0.3], color=_colour(row), linewidth=2)
    frame.set_yticks(range(len(table)), [_label(one) for one in table], fontsize=8.5)
    frame.set_ylim(len(table) - 0.4, -0.6)
    frame.axvline(0, color="#666666", linewidth=0.8)
    frame.set_xlabel("measured change of peak power [%]; bar: median")
    frame.set_title("what each kind of change gave", loc="left", fontsize=9.5)
    _plain(frame)


def _label(one: Gains) -> str:
    name = one.kind if len(one.kind) <= _LONGEST else f"{one.kind[: _LONGEST - 3]}..."
    return f"{name} ({one.count})"


def _against(frame: Axes, table: Sequence[Gains], stages: Sequence[Facts]) -> None:
    kinds = [one.kind for one in table]
    for stage in stages:
        row = kinds.index(stage["kind"])
        low, middle, high = (100 * (value - 1) for value in stage["predicted"])
        half = 100 * stage["half_w"] / stage["from_w"]
        frame.errorbar(
            [middle], [100 * (stage["ratio"] - 1)], xerr=[[middle - low], [high - middle]],
            yerr=[half], color=_colour(row), marker=_mark(row), markersize=5, linewidth=0.9,
            markerfacecolor="none",
        )  # fmt: skip
    ends = [*frame.get_xlim(), *frame.get_ylim()]
    frame.plot([min(ends), max(ends)], [min(ends), max(ends)], color="#666666", linewidth=0.8)
    frame.set_xlabel("predicted change of peak power [%]: middle, P10 to P90")
    frame.set_ylabel("measured [%], 95 % half-width")
    frame.set_title(
        "predicted against measured; the line is where they agree", loc="left", fontsize=9.5
    )
    _plain(frame)


def _plain(frame: Axes) -> None:
    frame.grid(visible=True, color="#dddddd", linewidth=0.6)
    frame.spines[["top", "right"]].set_visible(False)


def _colour(row: int) -> str:
    return COLOURS[row % len(COLOURS)]


def _mark(row: int) -> str:
    return _MARKS[row % len(_MARKS)]
