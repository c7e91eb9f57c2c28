"""The figure of past stages: every stage named, where the car stood, nothing on top of another."""

from __future__ import annotations

import datetime as dt
from itertools import combinations

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from buildlog.analysis.prediction.learned import PastStage
from buildlog.physics.engines.learning import Result
from buildlog.report.numbers import Display
from buildlog.report.pictures.stage_pictures import stages_figure

MILE = 1609.344
US = Display("us")


def past(miles: list[float], measured: float = 1.36) -> list[PastStage]:
    result = Result(measured, 1.30, 1.40, 1.50, 0.015)
    return [
        PastStage("Marrow Tern", "this", f"s{i}", f"stage-{i + 1}", i + 2,
                  dt.date(2026, 1, 1) + dt.timedelta(days=int(x / 10)), "turbocharger", result,
                  1e5, x * MILE)
        for i, x in enumerate(miles)
    ]  # fmt: skip


@pytest.mark.parametrize(
    "miles",
    [[500.0], [0.0, 4000.0], [0.0, 200.0, 400.0, 5000.0], [0.0, 700.0, 1500.0, 2300.0, 3000.0]],
)
def test_names_touch_neither_each_other_nor_the_edge(miles: list[float]) -> None:
    figure = stages_figure(past(miles), "odometer", US)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    names = [text.get_window_extent(renderer) for text in figure.axes[0].texts]
    assert len(names) == len(miles)
    for one, other in combinations(names, 2):
        assert not one.overlaps(other)
    for box in names:
        assert box.x0 >= 0
        assert box.x1 <= figure.bbox.x1
        assert box.y1 <= figure.axes[0].bbox.y1 + 1


def test_both_figures_stand_at_the_name_and_a_miss_is_said() -> None:
    words = [
        text.get_text() for text in stages_figure(past([0.0, 900.0]), "date", US).axes[0].texts
    ]
    assert words[0] == "stage-1\npredicted 174-201\nmeasured 182"
    outside = stages_figure(past([0.0], measured=1.7), "date", US)
    assert outside.axes[0].texts[0].get_text().endswith("measured 228 (outside)")
    assert outside.axes[0].get_xlabel() == "days since 2026-01-01"


def test_the_bar_and_the_point_are_where_the_figures_say() -> None:
    axes = stages_figure(past([0.0, 900.0]), "odometer", US).axes[0]
    assert axes.get_xlabel() == "odometer [mi]"
    bar = axes.collections[0].get_paths()[0].get_extents()
    hp = 1e5 / 745.699872
    assert (bar.y0, bar.y1) == pytest.approx((1.30 * hp, 1.50 * hp))
    assert axes.get_ylim()[0] == 0
