"""The values of a picture's curves at round places, for a page where one can point at them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from buildlog.report.numbers import digits_for, plain, signed
from buildlog.report.pictures.curve_model import DrawnCurve, Panel
from buildlog.report.pictures.frames import Frame, ticks
from buildlog.report.pictures.look import SLOTS
from buildlog.report.pictures.paper import Reading

_NARROWEST = 13.0  # px of a strip


def readings(panels: Sequence[tuple[Panel, Frame]]) -> Iterator[Reading]:
    """A strip for each round place across all frames, with what every curve has there."""
    if not panels:
        return
    first, last = panels[0][1], panels[-1][1]
    places = ticks(first.x0, first.x1, (first.right - first.left) / _NARROWEST)
    half = (first.x(places[1]) - first.x(places[0])) / 2 if len(places) > 1 else _NARROWEST
    for place in places:
        told = [line for panel, _ in panels for line in _told(panel, place)]
        if told:
            x = first.x(place)
            head = (f"{plain(place)} {panels[0][0].x_unit}", "soft")
            yield Reading((x - half, first.top, x + half, last.bottom), x, (head, *told))


def told_of(panels: Iterable[Panel]) -> list[str]:
    """What the lines of a reading are of, below its place."""
    return [
        "difference" if panel.kind == "difference" else one.label
        for panel in panels
        for one in panel.curves
        if _counts(one)
    ]


def _counts(curve: DrawnCurve) -> bool:
    return curve.kind == "version" and curve.x.size > 1


def _told(panel: Panel, place: float) -> Iterator[tuple[str, str]]:
    unit = panel.rest.partition(",")[0]
    for curve in panel.curves:
        if not _counts(curve):
            continue
        value = float(np.interp(place, curve.x, curve.y, np.nan, np.nan))
        if np.isfinite(value):
            colour = f"word{curve.slot % SLOTS}" if curve.slot is not None else "ink"
            yield f"{_figure(curve, value, place, panel.kind == 'difference')} {unit}", colour


def _figure(curve: DrawnCurve, value: float, place: float, difference: bool) -> str:
    shown = signed if difference else plain
    half = float(np.interp(place, curve.x, curve.half)) if curve.half is not None else np.nan
    if not np.isfinite(half):
        return shown(value, 1)
    digits = min(digits_for(half), 1)
    return f"{shown(value, digits)} ± {plain(half, digits)}"
