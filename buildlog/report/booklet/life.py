"""Peak power over the car's life: what was measured beside what had been calculated."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildlog.report.booklet.content import BookletContent
from buildlog.report.booklet.document import PageFigure, table
from buildlog.report.booklet.words import NEUTRAL, day
from buildlog.report.lines import shorten
from buildlog.report.numbers import Display, plain

_NAMED = 6  # more names than this would touch: then the points are numbered
_ASIDE = 0.014  # how far a band stands beside its point, as a share of the axis


@dataclass(frozen=True)
class LifePoint:
    """A visit to a dyno: place on the axis, peak with its half-width, the band before it [W]."""

    name: str
    x: float
    when: str
    peak: float
    half: float
    band: tuple[float, float] | None


@dataclass(frozen=True)
class LifeAxis:
    """What the visits stand against: the odometer in a unit, or days."""

    what: str
    unit: str | None = None

    @property
    def label(self) -> str:
        """As it stands below the figure."""
        return f"{self.what} [{self.unit}]" if self.unit else self.what


def life_figure(content: BookletContent, show: Display) -> PageFigure | None:
    """The figure with its sentence and its numbers; nothing for fewer than two visits."""
    points, axis = _points(content, show)
    if len(points) < 2:
        return None
    unit = show.unit("power")
    beside = any(one.band for one in points)
    title = "Peak power over the car's life, measured" + (
        " beside what the changes should give" if beside else ""
    )
    said = "; ".join(f"{one.name} {show.value(one.peak, 'power')}" for one in points)
    rows = [
        [one.name if len(points) <= _NAMED else f"{i} {one.name}", one.when,
         f"{plain(one.peak / unit.factor, 1)} ± {plain(one.half / unit.factor, 1)}",
         f"{plain(one.band[0] / unit.factor)} to {plain(one.band[1] / unit.factor)}"
         if one.band else NEUTRAL]
        for i, one in enumerate(points, 1)
    ]  # fmt: skip
    numbers = table(
        f"Peak power [{unit.text}] of each visit",
        ("version", "when", "measured", "calculated"),
        rows, right=(2, 3), note="Measured: mean of the pulls with its 95 % half-width. "
        "Calculated from the measured curve before it: eight results in ten are expected in "
        "that range. Two dynos need not read alike.",
    )  # fmt: skip
    return PageFigure(
        "peaks",
        _picture(points, axis.label, title, show),
        f"Peak power against {axis.what}, in order: {said}. The numbers are in the table below.",
        "Each visit on its day" if axis.unit is None else "Each visit at its odometer",
        (numbers,),
    )


def _points(content: BookletContent, show: Display) -> tuple[list[LifePoint], LifeAxis]:
    """The visits in order; against days where a reading is missing or another's, too."""
    visits = [
        (one, one.sheet, one.group) for one in content.readings if one.sheet and one.group
    ]  # fmt: skip
    bands = {
        stage.after.number: (found.peak_power.p10, found.peak_power.p90)
        for stage in content.stages
        if stage.diff and (found := stage.diff.predicted) and not found.changes_nothing
    }
    place = show.unit("length")
    read = {sheet.session.odometer.si for _, sheet, _ in visits if sheet.session.odometer}
    driven = len(read) == len(visits)  # else two points would stand in one place
    first = min((sheet.session.date for _, sheet, _ in visits), default=None)
    points = []
    for one, sheet, group in visits:
        odometer = sheet.session.odometer
        x = place.from_si(odometer.si) if driven and odometer else float(
            (sheet.session.date - (first or sheet.session.date)).days
        )  # fmt: skip
        when = day(sheet.session.date)
        when += f", {show.distance(odometer.si)}" if odometer else ""
        band = bands.pop(one.version.number, None)
        points.append(LifePoint(one.version.name, x, when, group.peak_power.value,
                            sheet.peak_half_width(group), band))  # fmt: skip
    axis = LifeAxis("odometer", place.text) if driven else LifeAxis(f"days since {day(first)}")
    return points, axis


def _picture(points: Sequence[LifePoint], label: str, title: str, show: Display) -> bytes:
    import matplotlib
    from matplotlib.figure import Figure as Drawing

    from buildlog.report.pictures.figures import COLOURS, render, rounded

    unit = show.unit("power")
    with matplotlib.rc_context({"text.parse_math": False}):
        drawing = Drawing(figsize=(8.0, 3.9), layout="constrained")
        frame = drawing.subplots()
        reach = max(one.x for one in points) - min(one.x for one in points) or 1.0
        for i, one in enumerate(points, 1):
            peak, half = one.peak / unit.factor, one.half / unit.factor
            top = peak + half
            if one.band:
                low, high = (end / unit.factor for end in one.band)
                frame.plot([one.x + _ASIDE * reach] * 2, [low, high], color=COLOURS[1],
                           linewidth=7, alpha=0.45, solid_capstyle="butt")  # fmt: skip
                top = max(top, high)
            frame.errorbar([one.x], [peak], [half], color="black", marker="o", markersize=5,
                           capsize=3)  # fmt: skip
            name = one.name if len(points) <= _NAMED else str(i)
            frame.annotate(shorten(name, 24), (one.x, top), xytext=(0, 5), ha="center",
                           textcoords="offset points", fontsize=8.5)  # fmt: skip
        frame.margins(x=0.1)
        frame.set_ylim(0, 1.18 * frame.dataLim.y1)
        frame.xaxis.set_major_formatter("{x:,.0f}")
        frame.set(xlabel=label, ylabel=f"peak power [{unit.text}]")
        frame.grid(visible=True, axis="y", color="#dddddd", linewidth=0.6)
        frame.spines[["top", "right"]].set_visible(False)
        drawing.suptitle(title, fontsize=10.5, weight="bold", x=0.02, ha="left")
        beside = "; broad bar: calculated, P10 to P90" if any(one.band for one in points) else ""
        frame.set_title(f"dot: measured, with its 95 % band{beside}", fontsize=8.5, loc="left")
        return rounded(render(drawing, "svg", letters=True))
