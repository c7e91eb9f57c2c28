"""Peaks over the car's life: what was measured, and what had been predicted before it.

Each peak stands where the car stood, with its 95 % interval; peaks are never joined.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from buildlog.report.numbers import Display, plain
from buildlog.report.pictures import letters
from buildlog.report.pictures.frames import Frame, grid, gutter, labels, ticks, x_axis
from buildlog.report.pictures.look import SLOTS, WIDE, PageSizes
from buildlog.report.pictures.paper import (
    Area,
    Box,
    Mark,
    Paper,
    Point,
    Stroke,
    heading,
    notes,
    panel_title,
    shown,
)
from buildlog.report.pictures.peak_labels import Around, PointLabel, place

MANY = 10  # visits that are all named; of more, the first, the last and the highest


@dataclass(frozen=True)
class PeakPoint:
    """One measured peak: where the car stood, and the value with its half-width [W or N*m];
    `band`: what was predicted before it, P10, P50, P90."""

    name: str
    odometer: float | None
    date: dt.date
    value: float
    half: float
    slot: int = 0
    band: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class Peaks:
    """What a picture of peaks is told."""

    points: tuple[PeakPoint, ...]
    against: str  # "odometer" or "date"
    quantity: str
    headline: str
    conditions: str
    at: str = "wheels"
    interval: str = "Interval: scatter of the visit only."


def draw(peaks: Peaks, show: Display, layout: PageSizes = WIDE, *, bare: bool = False) -> Paper:
    """The picture on paper; `bare` without headline, conditions and notes, which a page has."""
    paper = Paper(layout)
    unit = show.unit(peaks.quantity)
    if bare:
        paper.title, paper.y = peaks.headline, -1.1 * layout.panel
    else:
        heading(paper, peaks.headline, peaks.conditions)
    paper.description = "; ".join(
        f"{one.name} {show.value(one.value, peaks.quantity)} on {one.date}" for one in peaks.points
    )
    panel_title(paper, f"Peak {peaks.quantity} at the {peaks.at}", unit.text)
    _key(paper, any(one.band for one in peaks.points))
    left_out = _PeakDrawing(peaks, show, paper).draw()
    if not bare:
        notes(paper, _note(peaks, left_out))
    elif left_out:
        notes(paper, _unnamed(left_out))
    else:
        paper.y -= layout.margin * 0.8 - 2
    return paper


def _note(peaks: Peaks, left_out: Sequence[str]) -> str:
    said = ["The axis does not start at 0.", peaks.interval]
    if any(one.band for one in peaks.points):
        said += ["Line in a band: its middle.", "Predicted figures are estimates, not approvals."]
    if left_out:
        said.append(_unnamed(left_out))
    return " ".join(said)


def _unnamed(names: Sequence[str]) -> str:
    return f"Not named for want of room: {', '.join(names)}."


def _key(paper: Paper, beside: bool) -> None:
    """A row of signs under the title."""
    layout, size = paper.layout, paper.layout.name
    x = layout.margin
    for band, said in (
        (True, "predicted before, 8 in 10"),
        (False, "measured, with its 95 % interval"),
    ):
        if band and not beside:
            continue
        wide = 20 + letters.width(shown(said), size) + 26
        if x > layout.margin and x + wide > layout.width - layout.margin:
            paper.y, x = paper.y + layout.row, layout.margin
        y = paper.y + 0.75 * layout.row
        if band:
            paper.put(_bar(x + 6, y - 11, y + 2, 12))
        else:
            paper.put(
                Stroke(((x + 6, y - 12), (x + 6, y + 3)), "ink", 2),
                Mark(x + 6, y - 4.5, 7.5, "ink"),
            )
        paper.say(x + 20, y, said, size, "soft")
        x += wide
    paper.y += layout.row


def _bar(x: float, top: float, bottom: float, wide: float) -> Area:
    half = wide / 2
    return Area(((x - half, top), (x + half, top), (x + half, bottom), (x - half, bottom)), "band")


@dataclass
class _PeakDrawing:
    """One frame of peaks and their labels."""

    peaks: Peaks
    show: Display
    paper: Paper

    def draw(self) -> list[str]:
        """The frame; the names for which there was no room."""
        layout, unit = self.paper.layout, self.show.unit(self.peaks.quantity)
        self.factor = unit.factor
        points = self.peaks.points
        spots = [self._spot(one) for one in points]
        reach = max(spots) - min(spots) or (60.0 if self.peaks.against == "date" else 500.0)
        self.many = len(points) > MANY
        ends = [
            value / self.factor
            for one in points
            for value in (one.value - one.half, one.value + one.half, *(one.band or ()))
        ]
        room = (max(ends) - min(ends) or max(ends) or 1.0) * 0.16
        low, high = min(ends) - room, max(ends) + room
        tall = layout.main * (1.1 if layout.narrow else 0.95)
        marks = ticks(low, high, tall / (3.6 * layout.tick))
        left = gutter(self.paper, [labels(marks)])
        top = self.paper.y + 10
        right = layout.width - layout.margin
        self.frame = frame = Frame(left, top, right, top + tall, min(spots) - 0.09 * reach,
                                   max(spots) + 0.09 * reach, low, high)  # fmt: skip
        grid(self.paper, frame, marks, zero=False)
        self.solid: list[Box] = []
        self.named = self._chosen(points)
        for one, spot in zip(points, spots, strict=True):
            self._mark(one, frame.x(spot))
        left_out = self._name([
            (one, (frame.x(spot), frame.y(one.value / self.factor)))
            for one, spot in zip(points, spots, strict=True)
        ])  # fmt: skip
        self._axis(spots)
        return left_out

    def _spot(self, one: PeakPoint) -> float:
        if self.peaks.against == "date":
            return float(one.date.toordinal())
        return self.show.unit("length").from_si(one.odometer or 0.0)

    def _chosen(self, points: Sequence[PeakPoint]) -> list[PeakPoint]:
        if not self.many:
            return list(points)
        chosen = [points[0], points[-1], max(points, key=lambda one: one.value)]
        return [one for one in points if one in chosen]

    def _mark(self, one: PeakPoint, x: float) -> None:
        frame, narrow = self.frame, self.paper.layout.narrow
        chosen = one in self.named
        y, half = frame.y(one.value / self.factor), one.half / self.factor
        top = frame.y(one.value / self.factor + half)
        bottom = frame.y(one.value / self.factor - half)
        if one.band:
            wide = 5.0 if self.many else 9.0 if narrow else 12.0
            low, middle, high = (frame.y(value / self.factor) for value in one.band)
            self.paper.put(_bar(x, high, low, wide))
            self.paper.put(Stroke(((x - wide / 2, middle), (x + wide / 2, middle)), "ground", 1.6))
            self.solid.append((x - wide / 2, high, x + wide / 2, low))
        role = f"line{one.slot % SLOTS}" if chosen else "context"
        self.paper.put(Stroke(((x, top), (x, bottom)), role, 2 if chosen else 1))
        size = (6 if self.many else 7.5) if chosen else 5
        self.paper.put(Mark(x, y, size, role))
        self.solid += [(x - 1.5, top, x + 1.5, bottom),
                       (x - size / 2, y - size / 2, x + size / 2, y + size / 2)]  # fmt: skip

    def _name(self, placed: Sequence[tuple[PeakPoint, Point]]) -> list[str]:
        """Labels where they touch nothing; those for which there is no place are told."""
        frame, size = self.frame, self.paper.layout.name
        found = [(one, self._label(one, spot)) for one, spot in placed if one in self.named]
        edges = (frame.left, frame.top - 6, frame.right, frame.bottom - 3)
        around = Around(edges, self.solid, [spot for _, spot in placed], size)
        place([label for _, label in found], around)
        for one, label in found:
            self._put(one, label)
        return [one.name for one, label in found if label.chosen is None]

    def _label(self, one: PeakPoint, spot: Point) -> PointLabel:
        unit = self.show.unit(self.peaks.quantity)
        peak, half = (plain(value / unit.factor) for value in (one.value, one.half))
        lines = [one.name, f"{peak} ± {half} {unit.text}"]
        if one.band:
            low, high = one.band[0] / unit.factor, one.band[2] / unit.factor
            lines.append(f"predicted {plain(low)} to {plain(high)}")
        lines.append(f"{one.date.day} {one.date:%B %Y}")
        frame, size = self.frame, self.paper.layout.name
        # beside a point in its middle there is room for half of the frame
        room = min(0.45 * self.paper.layout.width, (frame.right - frame.left) / 2 - 12)
        told = [letters.fitted(shown(line), size, room, i == 0) for i, line in enumerate(lines)]
        return PointLabel(told, spot)

    def _put(self, one: PeakPoint, label: PointLabel) -> None:
        chosen = label.chosen
        if chosen is None:
            return
        box, size, paper, slot = chosen.box, self.paper.layout.name, self.paper, one.slot % SLOTS
        if chosen.leader is not None:
            paper.put(Stroke(chosen.leader, f"line{slot}", 0.8, kind="leader"))
        at = {"start": box[0], "end": box[2], "middle": (box[0] + box[2]) / 2}[chosen.anchor]
        for i, text in enumerate(label.lines[: chosen.lines]):
            role = f"word{slot}" if i == 0 else "soft"
            paper.say(
                at, box[1] + (i + 0.8) * 1.2 * size, text, size, role, i == 0, chosen.anchor,
                plate=True,
            )  # fmt: skip

    def _axis(self, spots: Sequence[float]) -> None:
        frame, size = self.frame, self.paper.layout.tick
        if self.peaks.against == "odometer":
            values = ticks(frame.x0, frame.x1, (frame.right - frame.left) / (6.5 * size))
            unit = self.show.unit("length").text
            x_axis(self.paper, frame, values, labels(values), f"odometer, {unit}")
            return
        days = list(_days(frame.x0, frame.x1, (frame.right - frame.left) / (7 * size)))
        said = [
            f"{one.day} {one:%b}" if one.month != 1 or one.day != 1 else f"{one.year}"
            for one in days
        ]
        one_year = days and days[0].year == days[-1].year and f"{days[0].year}" not in said
        year = f"{days[0].year}" if one_year else ""
        x_axis(self.paper, frame, [float(one.toordinal()) for one in days], said, year or "date")


def _days(low: float, high: float, most: float) -> Iterator[dt.date]:
    """Round dates between two: first days of months, of every few months, or of years; days of
    a few weeks where less than two months lie between."""
    first, last = dt.date.fromordinal(math.ceil(low)), dt.date.fromordinal(math.floor(high))
    months = (high - low) / 30.4
    if months < 2:
        step = max(1, math.ceil((high - low) / max(most, 1)))
        for ordinal in range(first.toordinal(), last.toordinal() + 1, step):
            yield dt.date.fromordinal(ordinal)
        return
    every = next((n for n in (1, 2, 3, 6, 12, 24, 60) if months / n <= most), 120)
    year, month = first.year, 1
    while (day := dt.date(year, month, 1)) <= last:
        if day >= first:
            yield day
        month += every
        year, month = year + (month - 1) // 12, (month - 1) % 12 + 1
