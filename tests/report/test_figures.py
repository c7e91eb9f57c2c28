"""Figures: the data drawn are the data computed; labels, units, colours, styles, bytes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.colors import to_hex

from buildlog.analysis.pulls.measured import Measured, measured
from buildlog.desk.questions.predict import predictor_of
from buildlog.desk.snapshot.opening import recorded
from buildlog.errors import DiskError, UsageError
from buildlog.report.numbers import Display
from buildlog.report.pictures import figures
from buildlog.report.pictures.figures import draw, render, write
from buildlog.report.pictures.power_pictures import power_history
from buildlog.report.pictures.sheet_pictures import Item, channel_panel
from buildlog.store.ledger.ledger import Ledger
from tests.builders import make_sheet

HP = 745.6998715822702
US = Display("us")
# M. Okabe, K. Ito, "Color Universal Design", RGB triples of their table [from memory]
OKABE_ITO = {
    (0, 0, 0), (230, 159, 0), (86, 180, 233), (0, 158, 115), (240, 228, 66), (0, 114, 178),
    (213, 94, 0), (204, 121, 167),
}  # fmt: skip


def items(n: int = 2) -> list[Any]:
    sheets = [
        make_sheet([k * 1000, k * 1005], {"dyno.id": f"R{k % 2}"}, name=f"visit-{k}")
        for k in range(100, 100 + 10 * n, 10)
    ]
    return [(f"stage-{i}", s, s.kept) for i, s in enumerate(sheets)]


def compared(pair: list[Any]) -> Measured:
    result = measured(pair[0][1], pair[-1][1])
    assert isinstance(result, Measured)
    return result


def picture(n: int = 2, quantity: str = "power") -> Any:
    drawn = items(n)
    return drawn, compared(drawn), power_history(drawn, compared(drawn), US, quantity)


def curves(frame: Any) -> list[Any]:
    """The lines that are curves: neither a marked top nor the zero line."""
    return [line for line in frame.lines if len(line.get_xdata()) > 5]


def test_the_curves_drawn_are_the_means_computed() -> None:
    drawn, comparison, built = picture()
    frame, below = draw(built).axes
    for line, (_, sheet, group) in zip(curves(frame), drawn, strict=True):
        np.testing.assert_allclose(line.get_xdata(), sheet.grid)
        np.testing.assert_allclose(line.get_ydata(), group.mean / HP)
    (difference,) = curves(below)
    np.testing.assert_allclose(difference.get_xdata(), comparison.grid)
    np.testing.assert_allclose(difference.get_ydata(), comparison.delta / HP)


def test_the_bands_drawn_are_the_half_widths_computed() -> None:
    drawn, comparison, built = picture()
    frame, below = draw(built).axes
    for band, (_, sheet, group) in zip(frame.collections, drawn, strict=True):
        spans = band.get_paths()[0].vertices
        top = (group.mean + sheet.mean_half_width(group)) / HP
        assert spans[:, 1].max() == pytest.approx(np.nanmax(top))
    spans = below.collections[0].get_paths()[0].vertices
    low = (comparison.delta - comparison.half_width) / HP
    assert spans[:, 1].min() == pytest.approx(low.min())


def test_the_marked_tops_are_the_peaks() -> None:
    drawn, _, built = picture()
    frame = draw(built).axes[0]
    tops = [line for line in frame.lines if len(line.get_xdata()) == 1]
    assert [t.get_xdata()[0] for t in tops] == [g.peak_power.at for _, _, g in drawn]
    assert [t.get_ydata()[0] for t in tops] == pytest.approx(
        [g.peak_power.value / HP for _, _, g in drawn]
    )


def test_every_axis_says_quantity_and_unit() -> None:
    _, _, built = picture()
    frame, below = draw(built).axes
    assert frame.get_ylabel() == "power [hp]"
    assert below.get_ylabel() == "difference [hp]"
    assert below.get_xlabel() == "engine speed [rpm]"
    assert "95 % band" in frame.get_title(loc="left")
    metric = power_history(items(), None, Display("metric"))
    assert draw(metric).axes[0].get_ylabel() == "power [kW]"


def test_power_and_torque_never_share_a_frame() -> None:
    _, _, built = picture(quantity="torque")
    (frame,) = draw(built).axes
    assert frame.get_ylabel() == "torque [lb*ft]"


def test_headline_and_conditions_stand_on_top() -> None:
    _, _, built = picture()
    texts = [text.get_text() for text in draw(built).texts]
    assert texts[0].startswith("stage-1 against stage-0: measured gain +")
    assert texts[0].replace("\n", " ").endswith(": larger than the scatter")
    assert "corrected by SAE J1349" in texts[1]
    assert "gear 4" in texts[1]
    assert "pulls: stage-0 2, stage-1 2" in texts[1]


def test_no_text_is_cut_at_the_edge_or_lies_on_another() -> None:
    drawn = [(f"a stage with a very long name indeed {k}", s, g) for k, (_, s, g) in
             enumerate(items(5))]  # fmt: skip
    figure = draw(power_history(drawn, compared(drawn), US))
    figure.draw_without_rendering()
    width, height = figure.canvas.get_width_height()
    boxes = [text.get_window_extent() for text in figure.texts]
    for box in boxes:
        assert 0 <= box.x0 <= box.x1 <= width
        assert 0 <= box.y0 <= box.y1 <= height
    assert boxes[1].y1 <= boxes[0].y0 + 1
    frame = figure.axes[0]._left_title.get_window_extent()
    assert frame.y1 <= boxes[1].y0


def test_colours_are_okabe_and_itos() -> None:
    for colour in figures.COLOURS:
        assert tuple(int(colour[i : i + 2], 16) for i in (1, 3, 5)) in OKABE_ITO


@pytest.mark.parametrize("n", [2, 4, 7])
def test_curves_differ_in_colour_and_in_style(n: int) -> None:
    drawn = items(n)
    frame = draw(power_history(drawn, None, US)).axes[0]
    lines = curves(frame)
    assert len({to_hex(line.get_color()) for line in lines}) == n
    styles = {str(line.get_linestyle()) + str(line._dash_pattern) for line in lines}
    assert len(styles) == n


def test_every_curve_is_named_at_its_end() -> None:
    drawn = items(4)
    frame = draw(power_history(drawn, None, US)).axes[0]
    assert {text.get_text() for text in frame.texts} >= {name for name, _, _ in drawn}


def test_labels_do_not_lie_on_each_other() -> None:
    sheets = [make_sheet([100_000 + k], name=f"v{k}") for k in range(4)]
    same = [(f"stage-{k}", s, s.kept) for k, s in enumerate(sheets)]
    figure = draw(power_history(same, None, US))
    figure.draw_without_rendering()
    frame = figure.axes[0]
    middles = sorted(frame.transData.transform(text.xyann)[1] for text in frame.texts)
    height = frame.texts[0].get_fontsize() * figure.dpi / 72
    assert len(middles) == 4
    assert min(np.diff(middles)) >= height


@pytest.mark.parametrize("ending", ["png", "svg", "pdf"])
def test_the_same_figure_has_the_same_bytes(ending: str) -> None:
    one, two = (render(draw(picture()[2]), ending) for _ in range(2))
    assert one == two
    assert one.startswith({"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}[ending])


def test_the_ending_decides_and_an_unknown_one_is_refused(tmp_path: Path) -> None:
    figure = draw(power_history(items(), None, US))
    write(figure, tmp_path / "a.SVG")
    assert (tmp_path / "a.SVG").read_bytes().startswith(b"<?xml")
    with pytest.raises(UsageError, match=r"a\.jpg is no kind of picture known here"):
        write(figure, tmp_path / "a.jpg")
    with pytest.raises(DiskError, match="cannot be written"):
        write(figure, tmp_path / "no" / "a.png")


def test_the_state_of_pyplot_is_never_touched() -> None:
    import subprocess
    import sys

    code = (
        "import sys, buildlog.report.pictures.figures as f\n"
        "import buildlog.report.pictures.power_pictures\n"
        "import numpy as np\n"
        "line = f.FigureLine('a', np.arange(9.0), np.arange(9.0))\n"
        "f.draw(f.Picture('h', 'c', 'x [rpm]', (f.Panel('t', 'y [hp]', (line,)),)))\n"
        "assert 'matplotlib.pyplot' not in sys.modules"
    )
    root = Path(__file__).parents[2]
    subprocess.run([sys.executable, "-c", code], check=True, cwd=root)


def test_recovered_engine_speed_is_said() -> None:
    road = {
        "column": [
            {"channel": "road_speed", "name": "n", "unit": "km/h"},
            {"channel": "power", "name": "P", "unit": "kW"},
        ]
    }
    sheet = make_sheet(
        [100_000], road, rpm=(60, 210), step=0.5,
        shape=lambda v: np.asarray((v / 180 * np.exp(1 - v / 180)) ** 2),
    )  # fmt: skip
    built = power_history([("stage-1", sheet, sheet.kept)], None, US)
    assert "engine speed recovered from road speed: stage-1" in built.conditions


def test_a_target_has_its_curves_colour_and_names_its_version(demo: Path) -> None:
    """Two versions' mixtures with two targets: whose is which needs no guessing."""
    with Ledger.open(demo) as ledger:
        book = recorded(ledger)
        found = [
            Item(name, point.sheet, point.group, point.version.configuration)
            for name in ("stage-1", "stage-2")
            if (point := predictor_of(book).point(book.version(name)))
        ]
    panel = channel_panel(found, "air-fuel", US)
    assert panel is not None
    frame = draw(figures.Picture("", "", "engine speed [rpm]", (panel,))).axes[0]
    colour = {line.get_label(): to_hex(line.get_color()) for line in frame.lines}
    assert set(colour) == {
        "stage-1", "target 0.87, stage-1", "stage-2", "target 0.80, stage-2",
    }  # fmt: skip
    assert colour["target 0.87, stage-1"] == colour["stage-1"]
    assert colour["target 0.80, stage-2"] == colour["stage-2"]
    assert colour["stage-1"] != colour["stage-2"]
    written = {text.get_text(): to_hex(text.get_color()) for text in frame.texts}
    assert written == colour


def test_a_target_of_both_versions_has_a_colour_of_its_own(demo: Path) -> None:
    with Ledger.open(demo) as ledger:
        book = recorded(ledger)
        point = predictor_of(book).point(book.version("stage-1"))
    assert point is not None
    twice = [Item(name, point.sheet, point.group, point.version.configuration) for name in "ab"]
    panel = channel_panel(twice, "air-fuel", US)
    assert panel is not None
    frame = draw(figures.Picture("", "", "engine speed [rpm]", (panel,))).axes[0]
    colour = {line.get_label(): to_hex(line.get_color()) for line in frame.lines}
    assert list(colour).count("target 0.87") == 1
    assert len(set(colour.values())) == 3
