"""Pictures: the data drawn are the data computed, and nothing lies on anything."""

from __future__ import annotations

import datetime as dt
import io
import subprocess
import sys
import warnings
from collections.abc import Callable
from itertools import combinations
from pathlib import Path
from typing import Any

import colorspacious
import matplotlib
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.analysis.pulls.measured import Measured, measured
from buildlog.desk.give.plotting import Drawn, Look, plot, sheet_figure
from buildlog.desk.questions import visits
from buildlog.desk.questions.limits import margins_of
from buildlog.desk.questions.predict import predictor_of
from buildlog.desk.snapshot import opening
from buildlog.errors import DiskError, NotFound, UsageError
from buildlog.report.numbers import Display
from buildlog.report.pictures import (
    curve_model,
    drawn_curves,
    letters,
    look,
    paper,
    peak_labels,
    peaks,
    printing,
)
from buildlog.report.pictures.margin_pictures import margin_picture
from buildlog.report.pictures.power_pictures import Item, channel_panel, power_history
from tests.builders import make_configuration, make_sheet
from tests.odd_cars import made
from tests.report.audit import faults

HP = 745.6998715822702
US, METRIC = Display("us"), Display("metric")
LAYOUTS = {"wide": look.WIDE, "page": look.PAGE, "phone": look.PHONE}
GOLDEN = Path(__file__).with_name("golden_pictures")
# M. Okabe, K. Ito, "Color Universal Design", RGB triples of their table: matplotlib's okabe_ito
OKABE_ITO = {
    (0, 0, 0), (230, 159, 0), (86, 180, 233), (0, 158, 115), (240, 228, 66), (0, 114, 178),
    (213, 94, 0), (204, 121, 167),
}  # fmt: skip
LONG = "stage-{} with a very long name of forty"
ROAD = {
    "column": [
        {"channel": "road_speed", "name": "n", "unit": "km/h"},
        {"channel": "power", "name": "P", "unit": "kW"},
    ]
}


def items(n: int = 2, name: str = "stage-{}", step: int = 10_000) -> list[Item]:
    sheets = [
        make_sheet([p, p * 1.005], {"dyno.id": f"R{k % 2}"}, name=f"visit-{k}")
        for k, p in enumerate(range(100_000, 100_000 + step * n, step))
    ]
    return [
        Item(name.format(k), sheet, sheet.kept, k)
        for k, sheet in enumerate(sheets)
        if sheet.kept is not None
    ]


def compared(found: list[Item]) -> Measured:
    result = measured(found[0].sheet, found[-1].sheet)
    assert isinstance(result, Measured)
    return result


def power(
    n: int, name: str = "stage-{}", show: Display = US, step: int = 10_000
) -> curve_model.Picture:
    found = items(n, name, step)
    return power_history(found, compared(found) if n > 1 else None, show)


def alone() -> curve_model.Picture:
    sheet = make_sheet([150_000])
    assert sheet.kept is not None
    return power_history([Item("baseline", sheet, sheet.kept)], None, US)


def on_the_road() -> curve_model.Picture:
    sheet = make_sheet(
        [100_000, 101_000], ROAD, rpm=(60, 210), step=0.5,
        shape=lambda v: np.asarray((v / 180 * np.exp(1 - v / 180)) ** 2),
    )  # fmt: skip
    assert sheet.kept is not None
    return power_history([Item("stage-1", sheet, sheet.kept)], None, US)


def scattered() -> curve_model.Picture:
    sheets = [make_sheet([p, p * 1.3], name=f"v{p}") for p in (100_000, 130_000)]
    found = [Item(f"stage-{k}", s, s.kept, k) for k, s in enumerate(sheets) if s.kept is not None]
    return power_history(found, compared(found), US)


def electric() -> curve_model.Picture:
    car = make_configuration({"car.power_source": "electric"})
    sheets = [make_sheet([p, 1.005 * p], name=f"v{p}", configuration=car)
              for p in (150_000, 158_000)]  # fmt: skip
    found = [Item(f"stage-{k}", s, s.kept, k, car) for k, s in enumerate(sheets) if s.kept]
    return power_history(found, compared(found), METRIC)


def two_calibrations() -> curve_model.Picture:
    """One session, two pulls under each of two calibrations."""
    pulls = [{"calibration": "T26-002"}] * 2 + [{"calibration": "T26-003"}] * 2
    sheet = make_sheet([100_000, 100_500, 106_000, 106_400], pulls=pulls)
    assert [group.key for group in sheet.groups] == ["T26-002", "T26-003"]
    found = [Item(str(group.key), sheet, group, k) for k, group in enumerate(sheet.groups)]
    return power_history(found, None, US)


def life(n: int, against: str = "odometer", gap: float = 400.0) -> peaks.Peaks:
    day = dt.date(2024, 1, 10)
    points = tuple(
        peaks.PeakPoint(
            f"stage-{k}", 1609.344 * (60_000 + gap * k * (1 + k % 3)),
            day + dt.timedelta(days=37 * k), 1e5 * (1 + 0.04 * ((k * 7) % n)), 1500.0, k,
            (0.97e5, 1.0e5, 1.05e5) if k % 2 else None,
        )
        for k in range(n)
    )  # fmt: skip
    return peaks.Peaks(points, against, "power", f"Peak power of {n} visits", "SAE J1349. Dyno R1.")


def sagging() -> curve_model.Picture:
    """A dip of 4 % of its height at 4,600 rpm in every pull, and the version before without it."""

    def dipped(rpm: np.ndarray) -> np.ndarray:
        hill = np.asarray((rpm / 5500 * np.exp(1 - rpm / 5500)) ** 2)
        return np.asarray(hill * (1 - 0.04 * np.exp(-(((rpm - 4600) / 150) ** 2))))

    sheets = [make_sheet([100_000, 100_400, 100_200], name="before"),
              make_sheet([150_000, 150_600, 150_300], name="after", shape=dipped)]  # fmt: skip
    found = [Item(one.name, one, one.kept, k, make_configuration())
             for k, one in enumerate(sheets) if one.kept]  # fmt: skip
    picture = power_history(found, compared(found), US)
    assert picture.panels[0].curves[1].sags
    return picture


def many(n: int, chosen: tuple[str, ...] = ()) -> curve_model.Picture:
    found = items(n, step=2_500)
    return power_history(found, compared(found), US, chosen=list(chosen))


CASES: dict[str, Callable[[look.PageSizes], paper.Paper]] = {
    "one-pull": lambda at: drawn_curves.draw(alone(), at),
    "two": lambda at: drawn_curves.draw(power(2), at),
    "six": lambda at: drawn_curves.draw(power(6), at),
    "eight": lambda at: drawn_curves.draw(power(8), at),
    "twelve": lambda at: drawn_curves.draw(power(12, step=4_000), at),
    "close-together": lambda at: drawn_curves.draw(power(5, step=300), at),
    "metric": lambda at: drawn_curves.draw(power(3, show=METRIC), at),
    "long-names": lambda at: drawn_curves.draw(power(4, LONG), at),
    "long-names-of-twelve": lambda at: drawn_curves.draw(power(12, LONG, step=4_000), at),
    "no-engine-speed": lambda at: drawn_curves.draw(on_the_road(), at),
    "spread": lambda at: drawn_curves.draw(scattered(), at),
    "thirty-visits": lambda at: peaks.draw(life(30), US, at),
    "five-visits-by-date": lambda at: peaks.draw(life(5, "date"), US, at),
    "visits-on-one-spot": lambda at: peaks.draw(life(4, gap=0.0), US, at),
    "sag": lambda at: drawn_curves.draw(sagging(), at),
    "electric": lambda at: drawn_curves.draw(electric(), at),
    "two-calibrations": lambda at: drawn_curves.draw(two_calibrations(), at),
    "seven": lambda at: drawn_curves.draw(many(7), at),
    "forty": lambda at: drawn_curves.draw(many(40), at),
    "forty-with-three-chosen": lambda at: drawn_curves.draw(
        many(40, ("stage-9", "stage-17", "stage-30")), at
    ),
    "no-letter-for-it": lambda at: drawn_curves.draw(power(2, "stage-{} \U0001f600 漢字"), at),
}


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("name", CASES)
@pytest.mark.one_in(4)
def test_nothing_lies_on_anything(name: str, layout: str) -> None:
    made = CASES[name](LAYOUTS[layout])
    assert faults(made) == []
    assert made.title
    assert made.description


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("what", ["power", "torque", "air-fuel", "boost", "predicted", "margins"])
def test_nor_in_any_picture_of_the_demo(what: Any, layout: str, demo: Path) -> None:
    with opening.snapshot(demo) as book:
        for units in ("us", "metric"):
            drawn = plot(book, what=what, units=units, look=Look(layout))
            assert faults(drawn.paper) == []


@pytest.mark.parametrize("layout", LAYOUTS)
def test_nor_in_any_session_of_the_demo(layout: str, demo: Path) -> None:
    """Two calibrations on one day, a sag, and engine speed recovered from road speed."""
    with opening.snapshot(demo) as book:
        for session in ("stage-1", "stage-2", "stage-2-recheck"):
            report = visits.session_sheet(book, session)
            for dark in (False, True):
                assert faults(sheet_figure(book, report, look=Look(layout, dark)).paper) == []


@pytest.mark.parametrize("name", ["electric", "diesel", "motorcycle", "long-names", "han"])
def test_nor_in_any_picture_of_an_odd_car(name: str, tmp_path: Path) -> None:
    made(tmp_path / "car", name).close()
    with opening.snapshot(tmp_path / "car") as book:
        for layout in LAYOUTS:
            curves = plot(book, look=Look(layout)).paper
            assert faults(curves) == []
            turning = "motor speed, rpm" if name == "electric" else "engine speed, rpm"
            assert turning in [one.text for one in curves.texts]
            assert faults(plot(book, what="margins", look=Look(layout)).paper) == []


def test_what_was_never_measured_is_not_drawn(tmp_path: Path) -> None:
    made(tmp_path / "car", "never-measured").close()
    with opening.snapshot(tmp_path / "car") as book, pytest.raises(NotFound):
        plot(book)


@pytest.mark.parametrize("against", ["odometer", "date"])
def test_nor_over_the_demos_life(against: Any, demo: Path) -> None:
    with opening.snapshot(demo) as book:
        for layout in LAYOUTS:
            assert faults(plot(book, against=against, look=Look(layout)).paper) == []


LIVES = {
    "thirty": lambda: life(30),
    "five": lambda: life(5, "date"),
    "one spot": lambda: life(4, gap=0.0),
    "nine": lambda: life(9),
}


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("name", LIVES)
def test_every_peak_that_is_to_be_named_is(name: str, layout: str) -> None:
    """On the phone, too: a label gives up its date before it has no room."""
    drawn = LIVES[name]()
    made = peaks.draw(drawn, US, LAYOUTS[layout])
    said = [one.text for one in made.texts]
    many = len(drawn.points) > peaks.MANY
    ends = (drawn.points[0], drawn.points[-1]) if many else drawn.points
    assert {one.name for one in ends} <= set(said)
    assert not any("want of room" in text for text in said)


def place_and_check(found: list[tuple[float, float]], names: list[str]) -> None:
    """Labels around points of a frame of 300 px: all within it, none on another or on a dot."""
    solid = [(x - 4, y - 4, x + 4, y + 4) for x, y in found]
    labels = [peak_labels.PointLabel([name, "100 ± 2 hp"], spot)
              for name, spot in zip(names, found, strict=True)]  # fmt: skip
    edges = (0.0, 0.0, 300.0, 300.0)
    peak_labels.place(labels, peak_labels.Around(edges, solid, found, 14.0))
    placed = [one.chosen for one in labels if one.chosen is not None]
    for one in placed:
        assert 0 <= one.box[0] <= one.box[2] <= 300
        assert 0 <= one.box[1] <= one.box[3] <= 300
        assert not any(paper.overlaps(one.box, dot) for dot in solid)
    for one, other in combinations(placed, 2):
        assert not paper.overlaps(one.box, other.box)
        for this, that in ((one, other), (other, one)):
            assert this.leader is None or not paper.enters(that.box, *this.leader)


@given(st.lists(st.tuples(st.floats(10, 290), st.floats(10, 290)), min_size=1, max_size=9,
                unique=True))  # fmt: skip
def test_labels_of_any_points_lie_on_nothing(found: list[tuple[float, float]]) -> None:
    place_and_check(found, [f"stage-{k}" for k in range(len(found))])


def test_a_label_moves_for_one_that_has_no_other_place() -> None:
    """In a corner of 90 px there is one place for the first; the second, which took it as the
    nearest of its own, goes on."""
    first, second = (peak_labels.PointLabel([name], (20.0, 50.0)) for name in ("first", "second"))
    only = peak_labels.LabelPlace(5.0, (10, 10, 60, 25), 1, "start")
    other = peak_labels.LabelPlace(9.0, (10, 40, 60, 55), 1, "start")
    first.places, second.places = [only], [only, other]
    second.chosen = only
    peak_labels.make_room(first, [first, second])
    assert (first.chosen, second.chosen) == (only, other)


def test_where_the_date_goes_the_figure_stays() -> None:
    """The figure is given up after the date and the prediction, the name never."""
    spot = (150.0, 20.0)
    label = peak_labels.PointLabel(["stage-1", "100 ± 2 hp", "1 January 2026"], spot)
    walls = [(0.0, 45.0, 300.0, 60.0), (146.0, 16.0, 154.0, 24.0)]
    peak_labels.place([label], peak_labels.Around((0.0, 0.0, 300.0, 300.0), walls, [spot], 14.0))
    assert label.chosen is not None
    assert label.chosen.lines == 2


@pytest.mark.parametrize("fault", ["leaves the paper", "lies on", "crosses", "px"])
def test_a_planted_fault_is_found(fault: str) -> None:
    made = drawn_curves.draw(power(2), look.PAGE)
    curve = next(one for one in made.things if getattr(one, "kind", "") == "curve")
    x, y = curve.points[len(curve.points) // 2]  # type: ignore[union-attr]
    planted = {
        "leaves the paper": ("beyond", made.width - 5, 50.0, 14.0),
        "lies on": ("upon", made.layout.margin + 2, made.texts[0].y, 14.0),
        "crosses": ("in the way", x - 10, y + 4, 14.0),
        "px": ("small", 5.0, made.height - 2, 9.0),
    }[fault]
    made.say(planted[1], planted[2], planted[0], planted[3])
    assert [one for one in faults(made) if (fault in one and planted[0] in one) or fault == "px"]


def test_the_curves_and_bands_drawn_are_those_computed() -> None:
    found = items()
    result = compared(found)
    frame, below = power_history(found, result, US).panels
    for curve, item in zip(frame.curves, found, strict=True):
        np.testing.assert_allclose(curve.x, item.sheet.grid)
        np.testing.assert_allclose(curve.y, item.group.mean / HP)
        assert curve.half is not None
        np.testing.assert_allclose(curve.half, item.sheet.mean_half_width(item.group) / HP)
        assert curve.top is not None
        assert curve.top[:2] == pytest.approx((item.group.peak_power.at,
                                               item.group.peak_power.value / HP))  # fmt: skip
    (difference,) = below.curves
    np.testing.assert_allclose(difference.y, result.delta / HP)


def test_a_curve_stands_where_its_scale_says() -> None:
    made = drawn_curves.draw(power(1), look.WIDE)
    numbers = {one.text: one.y - 0.35 * one.size for one in made.texts if one.anchor == "end"}
    item = items(1)[0]
    curve = max((one for one in made.things if getattr(one, "kind", "") == "curve"),
                key=lambda one: len(one.points))  # type: ignore[union-attr]  # fmt: skip
    per_hp = (numbers["0"] - numbers["100"]) / 100
    top = min(y for _, y in curve.points)  # type: ignore[union-attr]
    assert (numbers["0"] - top) / per_hp == pytest.approx(
        item.group.peak_power.value / HP, rel=2e-3
    )


def test_the_headline_is_of_what_is_drawn() -> None:
    found = items(step=60_000)
    said = power_history(found, compared(found), US).headline
    assert said.startswith("stage-1 makes ")
    assert said.endswith(": larger than the scatter")
    torque = power_history(found, compared(found), US, "torque")
    assert " torque at the wheels than stage-0" in torque.headline
    assert [panel.strong for panel in torque.panels] == ["Torque at the wheels"]
    assert "lb*ft" in torque.panels[0].rest


def test_one_pull_alone_has_no_band_and_says_why() -> None:
    picture = alone()
    assert picture.panels[0].curves[0].half is None
    assert "One pull alone has no band" in picture.notes


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_single_pull_has_its_figure_over_its_peak_and_no_lane(layout: str) -> None:
    made = drawn_curves.draw(alone(), LAYOUTS[layout])
    (figure,) = [one for one in made.texts if one.text == paper.shown("201 hp at 5,520 rpm")]
    (dot,) = [one for one in made.things if isinstance(one, paper.Mark)]
    assert figure.y < dot.y < figure.y + 3 * figure.size
    assert "baseline" not in [one.text for one in made.texts]
    right = max(x for one in made.things if getattr(one, "kind", "") == "curve"
                for x, _ in one.points)  # type: ignore[union-attr]  # fmt: skip
    assert right > made.width - 3 * made.layout.margin


def test_a_limit_is_hatched_on_its_forbidden_side_and_no_other_line_is(demo: Path) -> None:
    """Target, relief and limit: three dashes, each named at its line, as the car states them."""
    with opening.snapshot(demo) as book:
        car = book.version("stage-2").configuration
        made = plot(book, what="boost", look=Look("wide")).paper
    assert car.calibration
    assert car.calibration.boost_limit_gauge
    named = {one.text: one for one in made.texts}
    assert {"target", "relief setting", "limit"} <= set(named)
    strokes = [one for one in made.things if isinstance(one, paper.Stroke)]
    flat = [one for one in strokes if one.kind == "curve" and one.points[0][1] == one.points[-1][1]
            and len(one.points) == 2]  # fmt: skip
    assert len({one.dash for one in flat}) == 3
    limit = min(flat, key=lambda one: one.points[0][1])
    assert limit.dash == ()
    ends = [(one.points[0], one.points[-1]) for one in strokes if one.kind == "rule"]
    slanted = [(a, b) for a, b in ends if a[0] != b[0] and a[1] != b[1]]
    assert len(slanted) > 50
    for (_, foot), (_, tip) in slanted:
        assert foot == limit.points[0][1]
        assert tip < foot


def test_who_shares_a_target_is_named(demo: Path) -> None:
    with opening.snapshot(demo) as book:
        said = " ".join(one.text for one in plot(book, what="air-fuel").paper.texts)
    assert "Target 0.87: baseline and stage-1." in said.replace("\xa0", " ")


@pytest.mark.parametrize("layout", LAYOUTS)
def test_long_names_stay_whole_where_the_speed_of_the_peak_can_go(layout: str) -> None:
    made = drawn_curves.draw(power(4, LONG), LAYOUTS[layout])
    said = [one.text for one in made.texts]
    for number in range(4):
        assert LONG.format(number) in said


def test_a_difference_of_long_names_goes_by_their_numbers() -> None:
    said = [one.text for one in drawn_curves.draw(power(12, LONG, step=4_000), look.PHONE).texts]
    assert "Difference, 12 minus 1," in said
    short = [one.text for one in drawn_curves.draw(power(12, step=4_000), look.PHONE).texts]
    assert "Difference, stage-11 minus stage-0," in short


@pytest.mark.parametrize(
    "text", ["漢字", "stage-0 \U0001f600 漢字,", "מארו טרן", "stage-2-recheck"]
)
@pytest.mark.parametrize("bold", [False, True])
def test_a_text_is_as_wide_as_it_is_drawn(text: str, bold: bool) -> None:
    """Also what no font has: against the box that matplotlib's own renderer reports."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.text import Text

    printing.figure(drawn_curves.draw(alone(), look.PHONE))  # the fonts become known
    family = f"{letters.FAMILY} Semibold" if bold else letters.FAMILY
    figure = Figure(dpi=96)
    drawn = Text(0, 0, text, fontsize=75, family=[family, "DejaVu Sans"])
    figure.add_artist(drawn)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        wide = drawn.get_window_extent(FigureCanvasAgg(figure).get_renderer()).width
    assert letters.width(text, 100, bold) == pytest.approx(wide, rel=0.03)


def test_a_line_that_begins_in_letters_from_right_to_left_still_runs_from_left() -> None:
    made = drawn_curves.draw(power(2, "מארו {}"), look.PHONE)
    drawn = [one.get_text() for one in printing.figure(made).axes[0].texts]
    turned = [text for text in drawn if "מארו" in text]
    assert turned
    assert all(text.startswith("\N{LEFT-TO-RIGHT MARK}") for text in turned)
    assert not any(text.startswith("\N{LEFT-TO-RIGHT MARK}") for text in drawn
                   if "מארו" not in text)  # fmt: skip


def test_of_many_versions_the_ends_and_the_chosen_keep_their_colour() -> None:
    found = items(9)
    picture = power_history(found, compared(found), US, chosen=["stage-4"])
    made = drawn_curves.draw(picture, look.PAGE)
    strokes = [one.colour for one in made.things if getattr(one, "kind", "") == "curve"]  # type: ignore[union-attr]
    assert strokes.count("context") == 6
    # The ninth has the first's style in a ledger; where both are drawn it takes one that is free.
    assert {"line0", "line1", "line4"} == set(strokes) - {"context", "ink"}
    assert any("the first, the last and stage-4" in one.text for one in made.texts)


@pytest.mark.parametrize("layout", ["phone", *(
    pytest.param(one, marks=pytest.mark.long) for one in LAYOUTS
)])  # fmt: skip
def test_forty_versions_stay_readable(layout: str) -> None:
    """Every one stands in the list with its peak; beside the curves what is in colour, as no more
    numbers fit; nothing lies on anything and nothing leaves the frame."""
    picture = power_history(items(40, step=2_500), None, US)
    made = drawn_curves.draw(picture, LAYOUTS[layout])
    assert faults(made) == []
    said = [one.text for one in made.texts]
    for number in range(1, 41):
        assert said.count(f"stage-{number - 1}") == 1
        assert said.count(str(number)) == (2 if number in (1, 40) else 1), number


def test_a_version_keeps_its_colour_in_every_picture(demo: Path) -> None:
    with opening.snapshot(demo) as book:
        whole = plot(book).paper
        last = plot(book, ("stage-2", "stage-2-recheck")).paper
    colours = [
        {one.text: one.colour for one in made.texts if one.text in ("stage-2", "stage-2-recheck")}
        for made in (whole, last)
    ]
    assert colours[0] == colours[1]
    assert len(set(colours[0].values())) == 2


def test_the_colours_of_okabe_and_ito_are_those_that_matplotlib_carries() -> None:
    if "okabe_ito" not in matplotlib.colormaps:
        pytest.skip("matplotlib before 3.11 does not carry them")
    theirs = matplotlib.colormaps["okabe_ito"].colors
    assert {tuple(round(255 * part) for part in colour) for colour in theirs} == OKABE_ITO


def test_colours_are_okabe_and_itos_and_can_be_read() -> None:
    hues = {colour for role, colour in look.palette().items() if role.startswith("line")}
    for colour in hues - {look.LIGHT["ink"]}:
        assert tuple(int(colour[i : i + 2], 16) for i in (1, 3, 5)) in OKABE_ITO
    assert len({(look.palette()[f"line{k}"], dash) for k, dash in enumerate(look.DASHES)}) == 8
    for dark in (False, True):
        colours = look.palette(dark)
        for role, colour in colours.items():
            if role.startswith(("word", "ink", "soft")):
                assert look.contrast(colour, colours["ground"]) >= 4.5, role
            if role.startswith("line"):
                assert look.contrast(colour, colours["ground"]) >= 2.2, role


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("kind", ["protanomaly", "deuteranomaly", "tritanomaly"])
def test_lines_stay_apart_for_the_colour_blind(kind: str, dark: bool) -> None:
    """Full deficiency by G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A
    physiologically-based model for simulation of color vision deficiency", IEEE Trans. Vis.
    Comput. Graph. 15 (2009) 1291, as the reference library colorspacious has it; distances in its
    CAM02-UCS, where 1 is about the least that is seen."""
    seen_as = {"name": "sRGB1+CVD", "cvd_type": kind, "severity": 100}
    lines = [look.palette(dark)[f"line{k}"] for k in range(look.SLOTS - 1)]
    rgb = [[int(line[i : i + 2], 16) / 255 for i in (1, 3, 5)] for line in lines]
    seen = np.clip(colorspacious.cspace_convert(rgb, seen_as, "sRGB1"), 0, 1)
    for one, other in combinations(range(len(lines)), 2):
        far = float(colorspacious.deltaE(seen[one], seen[other], "sRGB1"))
        assert far >= 10, (lines[one], lines[other])


def test_two_colours_that_the_blind_confuse_would_be_found() -> None:
    """A red and a green of one brightness: far apart, and one colour without the middle cones."""
    seen_as = {"name": "sRGB1+CVD", "cvd_type": "deuteranomaly", "severity": 100}
    red, green = [0.75, 0.35, 0.2], [0.45, 0.5, 0.2]
    seen = [np.clip(colorspacious.cspace_convert(one, seen_as, "sRGB1"), 0, 1)
            for one in (red, green)]  # fmt: skip
    assert float(colorspacious.deltaE(red, green, "sRGB1")) > 25
    assert float(colorspacious.deltaE(*seen, "sRGB1")) < 10


def test_contrast_is_that_of_the_standard() -> None:
    """W3C, WCAG 2.2, definition of contrast ratio: white on black is 21 to 1."""
    assert look.contrast("#FFFFFF", "#000000") == pytest.approx(21.0)
    assert look.contrast("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("ending", ["png", "svg", "pdf"])
def test_the_same_picture_has_the_same_bytes(ending: str) -> None:
    one, two = (printing.render(drawn_curves.draw(power(2), look.PHONE), ending) for _ in range(2))
    assert one == two
    assert one.startswith({"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}[ending])


def test_an_svg_tells_what_it_is_and_carries_its_letters() -> None:
    made = drawn_curves.draw(power(2, "a <b> & c {}"), look.PAGE)
    text = printing.render(made, "svg").decode()
    assert "<title" in text
    assert "<desc" in text
    assert "data:font/woff;base64," in text
    assert "a &lt;b&gt; &amp; c 0" in text
    assert "<b>" not in text


def test_the_ending_decides_and_an_unknown_one_is_refused(tmp_path: Path) -> None:
    made = Drawn(drawn_curves.draw(power(1), look.PAGE))
    made.write(tmp_path / "a.SVG")
    assert (tmp_path / "a.SVG").read_bytes().startswith(b"<?xml")
    with pytest.raises(UsageError, match=r"a\.jpg is no kind of picture known here"):
        made.write(tmp_path / "a.jpg")
    with pytest.raises(DiskError, match="cannot be written"):
        made.write(tmp_path / "no" / "a.png")


def test_the_state_of_pyplot_is_never_touched() -> None:
    code = (
        "import sys, numpy as np\n"
        "from buildlog.report.pictures import curve_model as c, drawn_curves as d, printing\n"
        "line = c.DrawnCurve('a', np.arange(9.0), np.arange(9.0))\n"
        "panel = c.Panel('t', 'hp', (line,))\n"
        "printing.render(d.draw(c.Picture('h', 'c', 'x, rpm', (panel,))), 'png')\n"
        "assert 'matplotlib.pyplot' not in sys.modules"
    )
    root = Path(__file__).parents[2]
    subprocess.run([sys.executable, "-c", code], check=True, cwd=root)


def test_recovered_engine_speed_is_said() -> None:
    assert "Engine speed of stage-1 recovered from road speed" in on_the_road().conditions


def test_a_target_has_its_versions_colour_and_a_shared_one_is_ink(demo: Path) -> None:
    with opening.reader(demo) as ledger:
        book = opening.recorded(ledger)
        found = [
            Item(name, point.sheet, point.group, slot, point.version.configuration)
            for slot, name in enumerate(("stage-1", "stage-2"))
            if (point := predictor_of(book).point(book.version(name)))
        ]
    panel = channel_panel(found, "air-fuel", US)
    assert panel is not None
    assert {one.label: one.slot for one in panel.curves} == {
        "stage-1": 0, "stage-2": 1, "target 0.87": 0, "target 0.80": 1,
    }  # fmt: skip
    twice = channel_panel([found[0], Item("b", *_rest(found[0]))], "air-fuel", US)
    assert twice is not None
    assert [one.slot for one in twice.curves if one.kind == "target"] == [None]


def _rest(item: Item) -> tuple[Any, ...]:
    return item.sheet, item.group, 1, item.configuration


def test_peaks_stand_where_the_car_stood() -> None:
    made = peaks.draw(life(4), US, look.WIDE)
    marks = [one for one in made.things if isinstance(one, paper.Mark)][1:]  # the key's comes first
    spots = [60_000 + 400 * k * (1 + k % 3) for k in range(4)]
    xs = np.array([one.x for one in marks])
    shares = (xs - xs.min()) / (xs.max() - xs.min())
    wanted = (np.array(spots) - min(spots)) / (max(spots) - min(spots))
    np.testing.assert_allclose(shares, wanted, atol=1e-6)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_state_of_a_margin_has_its_mark(layout: str, demo: Path) -> None:
    with opening.snapshot(demo) as book:
        rows = margins_of(book, "stage-2").rows
    made = margin_picture(rows, "", US, LAYOUTS[layout])
    assert faults(made) == []
    marks = [one for one in made.things if isinstance(one, paper.Mark)]
    assert {one.colour for one in marks} == {"ink", "ground"}  # close filled, clear open
    assert sum("of" in one.text for one in made.texts) >= len(marks)


@given(
    st.lists(st.tuples(st.floats(-50, 500), st.floats(5, 60)), min_size=1, max_size=12),
)
def test_names_keep_their_order_and_their_distance(blocks: list[tuple[float, float]]) -> None:
    blocks.sort()
    wanted, heights = [b[0] for b in blocks], [b[1] for b in blocks]
    tops = paper.spread(wanted, heights, 0.0, 1000.0)
    for k in range(len(tops) - 1):
        assert tops[k + 1] >= tops[k] + heights[k] - 1e-6
    assert tops[0] >= -1e-6
    assert tops[-1] + heights[-1] <= 1000 + 1e-6


def test_names_stay_where_they_are_where_there_is_room() -> None:
    assert paper.spread([100, 300], [20, 20], 0, 500) == [90, 290]
    assert paper.spread([100, 104], [20, 20], 0, 500) == [82, 102]  # each moved by as much


@given(st.text(min_size=1, max_size=80), st.floats(60, 400))
def test_a_text_is_broken_and_never_lost(text: str, room: float) -> None:
    lines = letters.wrapped(text, 14, room)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(letters.width(one, 14) <= room or len(one) == 1 for one in lines)


def test_what_belongs_together_is_not_broken() -> None:
    text = paper.shown("It makes 66 ± 17 hp, 270 of 284 lb*ft, at 95 % of it")
    for room in range(140, 400, 7):
        lines = letters.wrapped(text, 14, room)
        assert not any(line.endswith("±") or line.startswith(("±", "%", "hp"))
                       for line in lines)  # fmt: skip


def test_a_long_name_keeps_both_its_ends() -> None:
    told = letters.fitted("stage-2 turbocharger and charge cooler, cold", 14, 160)
    assert told.startswith("stage-2")
    assert told.endswith("cold")
    assert "…" in told
    assert letters.width(told, 14) <= 160


GOLDENS = ("one-pull", "six", "twelve", "metric", "long-names", "no-engine-speed", "spread",
           "thirty-visits", "five-visits-by-date", "close-together", "sag",
           "forty-with-three-chosen", "twelve-dark", "sag-dark", "long-names-phone",
           "forty-with-three-chosen-phone", "electric", "two-calibrations",
           "thirty-visits-phone", "five-visits-by-date-phone")  # fmt: skip


@pytest.mark.parametrize("name", GOLDENS)
def test_the_picture_is_the_one_that_was_looked_at(name: str) -> None:
    """Within a tolerance for another rasteriser (`python -m tests.report.keep_pictures`)."""
    from PIL import Image

    with Image.open(GOLDEN / f"{name}.png") as held:
        kept = np.asarray(held.convert("L"), dtype=float)
    now = as_pixels(name)
    assert now.shape == kept.shape
    assert np.abs(now - kept).mean() < 1.5


def as_pixels(name: str) -> np.ndarray:
    """A golden picture as grey pixels at its size on the screen; its name says which layout and
    ground, else a page's in the light."""
    from PIL import Image

    layout = look.PHONE if name.endswith("-phone") else look.PAGE
    case = CASES[name.removesuffix("-phone").removesuffix("-dark")]
    data = printing.render(case(layout), "png", dark=name.endswith("-dark"))
    with Image.open(io.BytesIO(data)) as whole:
        wide = round(layout.width)
        small = whole.convert("L").resize((wide, round(whole.height * wide / whole.width)))
        return np.asarray(small, dtype=float)
