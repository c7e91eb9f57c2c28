"""A frame with its scales: gridlines, round ticks, the unit below; no line on the left."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildlog.report.pictures import letters
from buildlog.report.pictures.paper import Paper, Point, Stroke

Floats = NDArray[np.float64]
_TICK = 4.0
_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True)
class Frame:
    """A rectangle of the paper with the values at its edges."""

    left: float
    top: float
    right: float
    bottom: float
    x0: float
    x1: float
    y0: float
    y1: float

    def x(self, value: float) -> float:
        """The place of a value across."""
        return self.left + (value - self.x0) / (self.x1 - self.x0) * (self.right - self.left)

    def y(self, value: float) -> float:
        """The place of a value up."""
        return self.bottom - (value - self.y0) / (self.y1 - self.y0) * (self.bottom - self.top)

    def points(self, x: Floats, y: Floats) -> list[list[Point]]:
        """A curve in pieces: where it has no value it is not drawn."""
        pieces: list[list[Point]] = [[]]
        for a, b in zip(x.tolist(), y.tolist(), strict=True):
            if math.isfinite(b):
                pieces[-1].append((self.x(a), self.y(b)))
            elif pieces[-1]:
                pieces.append([])
        return [piece for piece in pieces if len(piece) > 1]


def ticks(low: float, high: float, most: float) -> list[float]:
    """Round values between two ends, at most so many: steps of 1, 2, 2.5 or 5.

    >>> ticks(0, 211, 5), ticks(1950, 6300, 9)[:2]
    ([0.0, 50.0, 100.0, 150.0, 200.0], [2000.0, 2500.0])
    """
    span = (high - low) or 1.0
    rough = span / max(most, 1.0)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(one * power for one in _STEPS if one * power >= rough * 0.999)
    first = math.ceil(low / step - 1e-9)
    return [float(n * step) for n in range(first, math.floor(high / step + 1e-9) + 1)]


def number(value: float, step: float = 1.0, signed: bool = False) -> str:
    """A tick's number, with as many decimals as its step needs."""
    decimals = next((n for n in range(6) if round(step * 10**n, 6) % 1 == 0), 6)
    text = f"{value:,.{decimals}f}"
    return f"+{text}" if signed and value > 0 else text


def labels(values: Sequence[float], signed: bool = False) -> list[str]:
    """The numbers of ticks."""
    step = values[1] - values[0] if len(values) > 1 else (abs(values[0]) if values else 1.0) or 1.0
    return [number(value, step, signed) for value in values]


def gutter(paper: Paper, values: Iterable[Sequence[str]]) -> float:
    """Where frames begin so that the widest number of all stands left of them."""
    size = paper.layout.tick
    widest = max((letters.width(one, size) for each in values for one in each), default=0.0)
    return paper.layout.margin + widest + 7


def grid(paper: Paper, frame: Frame, values: Sequence[float], signed: bool = False,
         zero: bool = True) -> None:  # fmt: skip
    """Horizontal lines at the values with their numbers; the line of zero in ink."""
    size = paper.layout.tick
    for value, text in zip(values, labels(values, signed), strict=True):
        y = frame.y(value)
        ink = zero and value == 0
        rule = ((frame.left, y), (frame.right, y))
        paper.put(Stroke(rule, "ink" if ink else "grid", 1.1 if ink else 0.8))
        paper.say(frame.left - 7, y + 0.35 * size, text, size, "soft", anchor="end")


def x_axis(
    paper: Paper, frame: Frame, values: Sequence[float], said: Sequence[str], unit: str
) -> None:
    """Ticks down with their numbers below a frame, and what they count below them, right."""
    size, y = paper.layout.tick, frame.bottom
    if not frame.y0 <= 0 <= frame.y1:
        paper.put(Stroke(((frame.left, y), (frame.right, y)), "soft", 0.8))
    last = -math.inf
    for value, text in zip(values, said, strict=True):
        x = frame.x(value)
        half = letters.width(text, size) / 2
        middle = min(max(x, paper.layout.margin + half), paper.width - paper.layout.margin - half)
        if middle - half < last + 8:
            continue
        paper.put(Stroke(((x, y), (x, y + _TICK)), "soft", 1.0))
        paper.say(middle, y + _TICK + 4 + 0.8 * size, text, size, "soft", anchor="middle")
        last = middle + half
    paper.y = y + _TICK + 4 + 1.1 * size
    if unit:
        paper.y += 0.95 * size
        paper.say(frame.right, paper.y, unit, size, "soft", anchor="end")
        paper.y += letters.DESCENT * size


def extent(values: Iterable[Floats], share: float = 0.04) -> tuple[float, float]:
    """The least and the greatest of arrays, with a little room."""
    known = [one[np.isfinite(one)] for one in values]
    known = [one for one in known if one.size]
    if not known:
        return 0.0, 1.0
    low, high = min(float(one.min()) for one in known), max(float(one.max()) for one in known)
    room = (high - low or abs(high) or 1.0) * share
    return low - room, high + room


Scaled = Callable[[Floats], Floats]
