"""The figure of margins: what is asked of each limit, as bars with their bands."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from buildlog.analysis.margins.figures.margin_rows import Row, Rule, State
from buildlog.report.as_text.margins_text import left_words, value, verdict
from buildlog.report.numbers import Display

if TYPE_CHECKING:
    from matplotlib.figure import Figure

HATCHES = {State.OVER: "xxx", State.CLOSE: "///", State.CLEAR: ""}
FURTHEST = 1.6  # of the limit: beyond it a bar is cut and its figure written out


def margin_figure(found: Sequence[Row], title: str, show: Display) -> Figure:
    """A bar for each limit with a true zero: demand as a share of capacity, P10 to P90 as a line,
    the limit at 100 %. States by hatching and word, so that grey print reads the same. Margins
    counted as distances stand below in words."""
    from matplotlib.figure import Figure

    bars = [one for one in found if _is_bar(one)]
    rest = [one for one in found if not _is_bar(one) and not one.kind.information]
    words = [_words(one, show) for one in rest]
    height = 1.6 + 0.3 * max(len(bars), 1) + 0.16 * len(words)
    figure = Figure(figsize=(8.0, height), layout="constrained")
    figure.get_layout_engine().set(  # type: ignore[union-attr,call-arg]
        rect=(0, 0.17 * len(words) / height, 1, 1 - (0.6 + 0.17 * len(words)) / height)
    )
    first = next((one for one in found if one.state is not State.UNKNOWN), None)
    said = verdict(first, show) if first else "no limit can be answered"
    figure.text(0.02, 1 - 0.1 / height, said, va="top", fontsize=10.5, weight="bold")
    figure.text(0.02, 1 - 0.36 / height, title, va="top", fontsize=8.5)
    _draw(figure, bars, show)
    figure.text(0.02, 0.05 / height, "\n".join(words), va="bottom", fontsize=7.5)
    return figure


def _is_bar(one: Row) -> bool:
    answers = one.state is not State.UNKNOWN and not one.kind.information
    return answers and one.kind.rule is Rule.RATIO


def _words(one: Row, show: Display) -> str:
    if one.state is State.UNKNOWN:
        return f"{one.name}: unknown, missing {', '.join(one.ask[:3])}"
    return f"{one.name}: {left_words(one, show)}, {one.state.value} ({one.basis})"


def _draw(figure: Figure, bars: Sequence[Row], show: Display) -> None:
    axes = figure.subplots()
    for place, one in enumerate(bars):
        left = one.margin.left
        assert left is not None
        used = [min(1 - x, FURTHEST) for x in (left.p50, left.p90, left.p10)]
        axes.barh(place, 100 * used[0], height=0.62, color="#c8c8c8", edgecolor="#000000",
                  linewidth=0.7, hatch=HATCHES[one.state])  # fmt: skip
        axes.plot([100 * used[1], 100 * used[2]], [place, place], color="#000000", linewidth=1.6)
        axes.annotate(_figures(one, show), (100 * FURTHEST, place), fontsize=7.5, va="center")
    axes.axvline(100, color="#000000", linestyle="--", linewidth=1.0)
    axes.set_yticks(range(len(bars)), [one.name for one in bars], fontsize=8)
    axes.set_xlim(0, 100 * FURTHEST)
    axes.set_ylim(len(bars) - 0.5, -0.5)
    axes.tick_params(axis="x", labelsize=8)
    words = "asked of the limit [%]; line: P10 to P90; hatched: close; crossed: over"
    axes.set_xlabel(words, fontsize=8)
    axes.spines[["top", "right"]].set_visible(False)


def _figures(one: Row, show: Display) -> str:
    demand, capacity = one.margin.demand, one.margin.capacity
    if demand is None or capacity is None:
        return ""
    used, limit = (value(x.p50, one.kind, show) for x in (demand, capacity))
    return f" {used} of {limit}, {one.state.value}"
