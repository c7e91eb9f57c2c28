"""The picture of a promise: the peak today as a dot, the band afterwards, on one scale."""

from __future__ import annotations

import math
from dataclasses import dataclass

from buildlog.report.numbers import plain
from buildlog.report.pictures import letters
from buildlog.report.pictures.look import PageSizes
from buildlog.report.pictures.paper import Area, Mark, Paper, Stroke, overlaps, panel_title

_TICKS = 5


@dataclass(frozen=True)
class PromiseBand:
    """Peak power before and the band after, in the unit that is shown."""

    before: float
    low: float
    middle: float
    high: float
    unit: str
    at: str


def promise_picture(band: PromiseBand, layout: PageSizes) -> Paper:
    """Bare: its caption stands below it on the page."""
    paper = Paper(layout, f"Promised: {_range(band)}", f"{plain(band.before)} {band.unit} today")
    paper.y = -1.1 * layout.panel
    panel_title(paper, f"Power at the {band.at}", band.unit)
    scale = _Scale(band, layout)
    size = layout.name
    label, mark = paper.y + 1.6 * size, paper.y + 2.9 * size
    x = scale(band.before)
    today = paper.say(_inside(f"{plain(band.before)} today", x, size, layout), label,
                      f"{plain(band.before)} today", size, "word1", True, "middle")  # fmt: skip
    low, middle, high = (scale(value) for value in (band.low, band.middle, band.high))
    said = f"{_range(band)} afterwards"
    place = _inside(said, (low + high) / 2, size, layout)
    after = paper.say(place, label, said, size, bold=True, anchor="middle")
    if overlaps(today.box, after.box, 6):
        paper.things.remove(after)
        below = mark + 1.9 * size
        paper.say(place, below, said, size, bold=True, anchor="middle")
    paper.put(Area(((low, mark - 8), (high, mark - 8), (high, mark + 8), (low, mark + 8)), "band"))
    paper.put(Stroke(((middle, mark - 8), (middle, mark + 8)), "ground", 2))
    paper.put(Mark(x, mark, 9, "line1"))
    line = mark + (2.9 if overlaps(today.box, after.box, 6) else 1.5) * size
    _axis(paper, scale, line)
    paper.y = line + 1.5 * layout.tick
    return paper


def _range(band: PromiseBand) -> str:
    return f"{plain(band.low)} to {plain(band.high)}"


def _inside(text: str, x: float, size: float, layout: PageSizes) -> float:
    """The middle of a text nearest to `x` with which it stays on the paper."""
    half = letters.width(text, size, True) / 2
    return min(max(x, layout.margin + half), layout.width - layout.margin - half)


class _Scale:
    """Values to px, with round ends; `first` says where the axis starts."""

    def __init__(self, band: PromiseBand, layout: PageSizes) -> None:
        ends = (band.before, band.low, band.high)
        low, high = min(ends), max(ends)
        self.step = _step(max(high - low, 0.02 * high, 1e-9) / (_TICKS - 1))
        self.first = math.floor(low / self.step - 0.3) * self.step
        self.last = math.ceil(high / self.step + 0.3) * self.step
        room = 0.5 * letters.width(plain(self.last), layout.tick)
        self.left, self.right = layout.margin + room, layout.width - layout.margin - room

    def __call__(self, value: float) -> float:
        share = (value - self.first) / (self.last - self.first)
        return self.left + share * (self.right - self.left)

    @property
    def ticks(self) -> list[float]:
        """Round values from end to end."""
        count = round((self.last - self.first) / self.step)
        return [self.first + i * self.step for i in range(count + 1)]


def _step(width: float) -> float:
    """The least of 1, 2, 5 times a power of ten that is not smaller."""
    power = 10.0 ** math.floor(math.log10(width))
    return next(power * f for f in (1, 2, 5, 10) if power * f >= width)


def _axis(paper: Paper, scale: _Scale, y: float) -> None:
    paper.put(Stroke(((scale.left, y), (scale.right, y)), "ink", 1))
    for value in scale.ticks:
        x = scale(value)
        paper.put(Stroke(((x, y), (x, y + 4)), "ink", 1))
        paper.say(x, y + 4 + 1.1 * paper.layout.tick, plain(value), paper.layout.tick, "soft",
                  anchor="middle")  # fmt: skip
