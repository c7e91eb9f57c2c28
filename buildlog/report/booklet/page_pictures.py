"""The pictures of a page, each laid out for paper and for a narrow screen, and small photos."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from buildlog.analysis.pulls.measured import Measured
from buildlog.report.booklet import document as doc
from buildlog.report.booklet.content import Attachment, BookletContent
from buildlog.report.booklet.words import day
from buildlog.report.numbers import Display, axis_scale, axis_value, plain
from buildlog.report.pictures import curve_model, drawn_curves, peaks, power_pictures
from buildlog.report.pictures.look import PageSizes
from buildlog.report.pictures.margin_pictures import margin_picture
from buildlog.report.pictures.paper import Paper
from buildlog.report.pictures.power_pictures import Item

# As wide as the text of a letter page, and of a phone of 360 px with its margins.
PAGE = PageSizes(672, 0, 21, 13, 13, 13, 12, 12, 262, 104, 150, 19, 2, 1)
NARROW = PageSizes(328, 0, 19, 13, 13, 13, 12, 12, 220, 100, 130, 20, 1.8, 1, narrow=True)
_SPEEDS = 8  # rows of a curve's table
_PHOTO = {True: (590, 369), False: (472, 295)}  # px of a cover and of a thumbnail: 8:5, 300 dpi


def items_of(content: BookletContent) -> list[Item]:
    """What can be drawn on one axis, one a version in order; engine speed where it is known."""
    found = [(one, one.sheet, one.group) for one in content.readings if one.sheet and one.group]
    by_speed = [one for one in found if one[1].axis == "engine_speed"]
    newest = {one.version.number: (one, sheet, group) for one, sheet, group in by_speed or found}
    return [
        Item(one.version.name, sheet, group, slot(content, one.version.name),
             one.version.configuration)
        for _, (one, sheet, group) in sorted(newest.items())
    ]  # fmt: skip


def slot(content: BookletContent, name: str) -> int:
    """The place of a version among all that the ledger measured: its colour everywhere."""
    return content.drawn.index(name) if name in content.drawn else len(content.drawn)


def both(draw: Callable[[PageSizes], Paper], name: str, caption: str, alt: str,
         data: Sequence[doc.PageTable] = ()) -> doc.PageFigure:  # fmt: skip
    """A figure in both layouts."""
    return doc.PageFigure(name, draw(PAGE), draw(NARROW), alt, caption, tuple(data))


def before_and_after(
    items: Sequence[Item],
    result: Measured,
    show: Display,
    names: tuple[str, str],
    caption: str,
    low: bool = False,
) -> doc.PageFigure:
    """The picture that a reader looks for first: two curves and their difference, kept low."""
    picture = power_pictures.power_history(items, result, show)
    titles = dict(zip((items[0].name, items[-1].name), names, strict=True))
    picture = curve_model.renamed(picture, titles)
    last = power_pictures.difference(result, show, *names)
    panels = (*picture.panels[:-1], last)

    def drawn(layout: PageSizes) -> Paper:
        height = (190.0, 96.0) if layout.narrow else (84.0, 30.0) if low else (110.0, 44.0)
        whole = curve_model.Picture(picture.headline, picture.conditions, picture.x_label, panels,
                               frame_height=height)  # fmt: skip
        return drawn_curves.draw(whole, layout, bare=True)

    return both(drawn, "before-and-after", caption, _alt(items, show, "power"))


def history(
    items: Sequence[Item], result: Measured | None, show: Display, quantity: str, caption: str
) -> doc.PageFigure:
    """Curves of all versions with their table, and the difference of the first and the last."""
    picture = power_pictures.power_history(items, result, show, quantity)
    shared = replace(picture, frame_height=(176.0, 0.0)) if quantity == "torque" else picture
    return both(
        lambda layout: drawn_curves.draw(shared, layout, bare=True),
        f"{quantity}-history",
        caption,
        _alt(items, show, quantity),
        [curve_table(items, result, show, quantity)],
    )


def _alt(items: Sequence[Item], show: Display, quantity: str) -> str:
    said = [
        f"{one.name} peaks at {show.value(top.value, quantity)} at "
        f"{axis_value(top.at, one.sheet.axis)}."
        for one in items
        if (top := one.top(quantity)) is not None
    ]
    return f"Curves of {quantity}. {' '.join(said)}"


def curve_table(
    items: Sequence[Item], comparison: Measured | None, show: Display, quantity: str
) -> doc.PageTable:
    """The curves at eight speeds, as numbers, torque at six; of many versions the first, the
    last four."""
    most = _SPEEDS if quantity == "power" else 6
    unit, axis = show.unit(quantity), items[0].sheet.axis
    shown = items if len(items) <= 6 else [items[0], *items[-4:]]
    curves_ = [(one, one.group.mean if quantity == "power" else one.group.torque) for one in shown]
    known = [(one, curve) for one, curve in curves_ if curve is not None]
    low = max(float(one.sheet.grid[np.isfinite(curve)][0]) for one, curve in known)
    high = min(float(one.sheet.grid[np.isfinite(curve)][-1]) for one, curve in known)
    step = 500.0 if axis == "engine_speed" else 20.0 / axis_scale(axis)
    places = np.arange(np.ceil(low / step - 1e-9) * step, high + 1e-9, step)
    if places.size > most:
        places = places[np.unique(np.linspace(0, places.size - 1, most).round().astype(int))]
    columns = [np.interp(places, one.sheet.grid, curve) for one, curve in known]
    turning = items[0].sheet.turning if axis == "engine_speed" else "road speed"
    head = [turning, *(one.name for one, _ in known)]
    rows = [
        [axis_value(float(at), axis), *(plain(float(c[i]) / unit.factor, 1) for c in columns)]
        for i, at in enumerate(places)
    ]
    if comparison is not None and quantity == "power":
        head += ["difference", "±"]
        delta = np.interp(places, comparison.grid, comparison.delta)
        half = np.interp(places, comparison.grid, comparison.half_width)
        for i, row in enumerate(rows):
            row += [f"{delta[i] / unit.factor:+.1f}", plain(float(half[i]) / unit.factor, 1)]
    right, between = range(len(head)), range(2, len(known))  # a phone has first, last and gain
    return doc.table(f"{quantity.capitalize()}, {unit.text}", head, rows, right=right, far=between)


def life(content: BookletContent, show: Display) -> doc.PageFigure | None:
    """Peaks over the car's life beside what had been predicted; nothing for fewer than two."""
    items = items_of(content)
    if len(items) < 2:
        return None
    bands = {
        stage.after.name: (found.peak_power.p10, found.peak_power.p50, found.peak_power.p90)
        for stage in content.stages
        if stage.diff and (found := stage.diff.predicted) and not found.changes_nothing
    }
    read = {one.sheet.session.odometer.si for one in items if one.sheet.session.odometer}
    against = "odometer" if len(read) == len(items) else "date"
    points = tuple(
        peaks.PeakPoint(
            one.name,
            one.sheet.session.odometer.si if one.sheet.session.odometer else None,
            one.sheet.session.date,
            one.group.peak_power.value,
            one.sheet.peak_half_width(one.group),
            one.slot,
            bands.get(one.name),
        )
        for one in items
    )
    told = peaks.Peaks(points, against, "power", "Peak power over the car's life", "",
                       items[0].sheet.at)  # fmt: skip
    said = "; ".join(f"{one.name} {show.value(one.value, 'power')}" for one in points)
    beside = "the wide bar holds 8 results in 10; " if bands else ""
    caption = f"The axis does not start at 0; {beside}two dynos need not read alike."

    def drawn(layout: PageSizes) -> Paper:
        lower = layout if layout.narrow else replace(layout, main=112)
        return peaks.draw(told, show, lower, bare=True)

    return both(drawn, "peaks", caption,
                f"Peak power against {against}: {said}")  # fmt: skip


def limits(content: BookletContent, show: Display) -> doc.PageFigure:
    """Every limit with its load: the picture is the table."""
    rows = content.margins
    said = "; ".join(f"{one.name}: {one.state.value}" for one in rows)
    stated = {
        one.name: "no source stated"
        if said.endswith(" as stated")
        else re.split("[,;] ", said)[0]  # its name; edition and place stand in the package
        for one in rows
        for said in [(one.capacity.sources or [one.capacity.basis])[0].rpartition(": ")[2]]
    }
    return both(
        lambda layout: margin_picture(rows, "", show, layout, bare=True, stated=stated),
        "limits",
        "Filled dot: close or over. Open dot: clear. Gray: where close begins.",
        f"Share of each limit used. {said}",
    )


def photo(one: Attachment, show: Display) -> doc.PagePhoto | None:
    """A photo small enough for a page, cut to 8:5; None where it cannot be read."""
    if one.photo is None:
        return None
    from PIL import Image, ImageOps

    wide, tall = _PHOTO[one.cover]
    try:
        with Image.open(io.BytesIO(one.photo)) as whole:
            whole.draft("RGB", (wide * 2, tall * 2))
            upright = ImageOps.exif_transpose(whole)
            small = ImageOps.fit(upright.convert("RGB"), (wide, tall))
    except (OSError, ValueError, Image.DecompressionBombError):
        return None
    out = io.BytesIO()
    small.save(out, "JPEG", quality=78, optimize=True)
    return doc.PagePhoto(out.getvalue(), _caption(one, show), (wide // 3, tall // 3), one.cover)


def _caption(one: Attachment, show: Display) -> str:
    """What and when: "header flange, gap, 7 March 2026"; of the cover when, and at what reading."""
    read = one.version.odometer
    if one.cover:
        at = f", {show.distance(read)}" if read is not None else ""
        return f"{_whole_day(one)}{at}"
    name = one.path.rsplit("/", 1)[-1].rsplit(".", 1)[0].replace("-", " ").replace("_", " ")
    return f"{one.caption or name}, {_whole_day(one)}"


def _whole_day(one: Attachment) -> str:
    return day(one.version.date).replace(" ", "\N{NO-BREAK SPACE}")


def photos(found: Sequence[Attachment], show: Display) -> doc.Photos | None:
    """Thumbnails side by side, where there are any."""
    small = tuple(made for one in found if (made := photo(one, show)))
    return doc.Photos(small) if small else None
