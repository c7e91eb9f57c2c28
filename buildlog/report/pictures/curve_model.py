"""What a picture of curves is made of, in display units."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from buildlog.report.pictures.frames import Floats
from buildlog.report.pictures.look import SLOTS
from buildlog.report.pictures.paper import Point

Kind = Literal["version", "target", "relief", "limit", "thin"]
REFERENCES = ("target", "relief", "limit")  # kinds of curve that nothing was measured for


@dataclass(frozen=True)
class DrawnSag:
    """Where a curve sags, between which speeds, and how deep, in words."""

    at: float
    low: float
    high: float
    words: str


@dataclass(frozen=True)
class DrawnCurve:
    """One curve in display units; `top`: its peak with what is said of it. `slot`: its place
    among the ledger's versions, which is its colour and dash; None for one in ink. `owners`: the
    versions that state a reference."""

    label: str
    x: Floats
    y: Floats
    half: Floats | None = None
    top: tuple[float, float, str] | None = None
    slot: int | None = 0
    kind: Kind = "version"
    owners: tuple[str, ...] = ()
    sags: tuple[DrawnSag, ...] = ()


@dataclass(frozen=True)
class Panel:
    """One frame: what it shows, its curves, and how tall it is."""

    strong: str
    rest: str
    curves: tuple[DrawnCurve, ...]
    kind: Literal["main", "difference", "small"] = "main"
    from_zero: bool = False
    x_unit: str = "rpm"
    most: str = ""  # of a difference: what is said of its largest


@dataclass(frozen=True)
class Picture:
    """A whole picture: the sentence on top, the conditions, the panels, the notes below."""

    headline: str
    conditions: str
    x_label: str
    panels: tuple[Panel, ...]
    notes: str = ""
    chosen: tuple[str, ...] = ()  # names that keep their colour among many
    frame_height: tuple[float, float] | None = None  # of main and difference, for a page


def dip(curve: DrawnCurve, sag: DrawnSag) -> list[Point] | None:
    """The curve between the ends of the chord that spans a sag: a piece of its upper hull."""
    span = max(sag.high - sag.low, 1.0)
    inside = np.isfinite(curve.y) & (curve.x >= sag.low - span) & (curve.x <= sag.high + span)
    x, y = curve.x[inside], curve.y[inside]
    hull: list[int] = []
    for i in range(x.size):
        while len(hull) > 1 and (
            (y[hull[-1]] - y[hull[-2]]) * (x[i] - x[hull[-2]])
            <= (y[i] - y[hull[-2]]) * (x[hull[-1]] - x[hull[-2]])
        ):
            hull.pop()
        hull.append(i)
    for a, b in pairwise(hull):
        if x[a] < sag.at < x[b] and b - a > 1:
            return [(float(x[i]), float(y[i])) for i in range(a, b + 1)]
    return None


def renamed(picture: Picture, names: dict[str, str]) -> Picture:
    """The same picture with other names for its versions: "today" and "before" on a page."""
    panels = tuple(
        replace(
            panel, curves=tuple(replace(c, label=names.get(c.label, c.label)) for c in panel.curves)
        )
        for panel in picture.panels
    )
    return replace(picture, panels=panels)


def apart(picture: Picture, coloured: Sequence[str]) -> Picture:
    """The picture with no two of these versions drawn alike while another of the styles is free.

    Each keeps its own where it can, the first of them before the others: a ledger's ninth version
    has the style of its first, and only here do the two meet.
    """
    own = {one.label: one.slot for panel in picture.panels for one in panel.curves
           if one.kind == "version" and one.slot is not None}  # fmt: skip
    drawn: dict[int, int] = {}
    for slot in (own[name] for name in dict.fromkeys(coloured) if name in own):
        free = [k for k in range(SLOTS) if k not in drawn.values()]
        kept = slot % SLOTS in free or not free
        drawn.setdefault(slot, slot % SLOTS if kept else free[0])
    panels = tuple(
        replace(panel, curves=tuple(
            replace(c, slot=drawn.get(c.slot, c.slot)) if c.slot is not None else c
            for c in panel.curves))
        for panel in picture.panels
    )  # fmt: skip
    return replace(picture, panels=panels)
