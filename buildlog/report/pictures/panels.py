"""One panel of curves in its frame: bands, curves, sags, the names at their ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from buildlog.report.pictures import letters
from buildlog.report.pictures.curve_model import (
    REFERENCES,
    DrawnCurve,
    DrawnSag,
    Panel,
    Picture,
    dip,
)
from buildlog.report.pictures.frames import Frame, extent, grid, gutter, labels, ticks
from buildlog.report.pictures.look import DASHES, RELIEF, SLOTS, TARGET, Dash
from buildlog.report.pictures.paper import (
    Area,
    Box,
    Mark,
    Paper,
    Point,
    Stroke,
    crosses,
    overlaps,
    shown,
    spread,
    touched,
)

MANY = 6  # versions that are all named in colour
SAMPLE, GAP = 34.0, 7.0
_STROKES, _SLANT = 9.0, 5.0  # px between the strokes along a limit, and how far they reach
_LANE = 0.27  # of the width
_LEAST_LIFT = 4.0  # px from the end of a curve to its leader


@dataclass
class Scene:
    """The state of one drawing: which names, which stand in colour, where the frames end."""

    picture: Picture
    paper: Paper

    def __post_init__(self) -> None:
        layout = self.paper.layout
        self.names = versions(self.picture)
        self.coloured = set(prominent(self.picture))
        self.tops = {
            one.label: shown(one.top[2])
            for one in (self.picture.panels[0].curves if self.picture.panels else ())
            if one.top is not None
        }
        most = [shown(line) for panel in self.picture.panels for line in panel.most.split("\n")]
        wide = max((self._block_width(name) for name in self.names), default=0.0)
        wide = max([wide, *(SAMPLE + GAP + letters.width(one, layout.name) for one in most)])
        references = [one for p in self.picture.panels for one in p.curves
                      if one.kind in REFERENCES]  # fmt: skip
        wide = max([wide, *(letters.width(shown(one.label), layout.name) for one in references)])
        fits = len(self.names) <= MANY and wide <= _LANE * layout.width
        self.alone = self._is_alone()
        self.lane = fits and not layout.narrow and not self.alone
        digits = letters.width("00" if len(self.names) > 9 else "0", layout.name, True)
        inner = max([digits, *(letters.width(shown(one.label), layout.tick) for one in references)])
        inner = min(inner, 0.3 * layout.width)
        self.right = layout.width - layout.margin - (wide if self.lane else inner) - 16
        self._scales()

    def _is_alone(self) -> bool:
        """Whether a single pull is all there is: it has its figure over its peak, and no name, as
        the headline has that."""
        if len(self.picture.panels) != 1 or len(self.names) != 1:
            return False
        return all(one.half is None and one.kind == "version" and one.top is not None
                   for one in self.picture.panels[0].curves)  # fmt: skip

    def _block_width(self, name: str) -> float:
        size = self.paper.layout.name
        own = letters.width(shown(name), size, True)
        tops = [
            shown(one.top[2])
            for panel in self.picture.panels
            for one in panel.curves
            if one.label == name and one.top is not None
        ]
        return SAMPLE + GAP + max([own, *(letters.width(one, size) for one in tops)])

    def _scales(self) -> None:
        layout, panels = self.paper.layout, self.picture.panels
        every = [one for panel in panels for one in panel.curves]
        known = [one.x[np.isfinite(one.y)] for one in every if one.kind in ("version", "thin")]
        low, high = extent(known, 0.0)
        self.x0, self.x1 = low, high if high > low else low + 1
        self.heights, self.ticks = [], []
        for panel in panels:
            height = {"main": layout.main, "difference": layout.difference,
                      "small": layout.small}[panel.kind]  # fmt: skip
            if self.picture.frame_height and panel.kind in ("main", "difference"):
                height = self.picture.frame_height[panel.kind == "difference"]
            self.heights.append(height)
            values = [one.y for one in panel.curves]
            for one in panel.curves:
                if one.half is not None:
                    values += [one.y - one.half, one.y + one.half]
            least, most = extent(values, 0.05)
            if self.alone:
                most += 2.0 * layout.name / height * (most - least)
            if panel.from_zero:
                least = 0.0
            elif panel.kind == "difference":
                least, most = min(least, 0.0), max(most, 0.0)
            self.ticks.append((least, most, _marks(least, most, height / layout.tick)))
        self.left = gutter(self.paper, [
            labels(marks, panel.kind == "difference")
            for panel, (_, _, marks) in zip(panels, self.ticks, strict=True)
        ])  # fmt: skip

    def colour(self, curve: DrawnCurve, kind: str = "line") -> str:
        """The role of a curve's colour."""
        if curve.label in self.names and curve.label not in self.coloured:
            return "context" if kind == "line" else "soft"
        slot = curve.slot
        return f"{kind}{slot % SLOTS}" if slot is not None else "ink"

    def sample(self, x: float, y: float, length: float, curve: DrawnCurve) -> None:
        self.paper.put(Stroke(((x, y), (x + length, y)), self.colour(curve),
                              self.paper.layout.curve, self.dash(curve)))  # fmt: skip

    def dash(self, curve: DrawnCurve) -> Dash:
        """How a curve is broken."""
        if curve.kind in REFERENCES:
            return {"target": TARGET, "relief": RELIEF, "limit": ()}[curve.kind]
        grey = curve.label in self.names and curve.label not in self.coloured
        return () if grey or curve.slot is None else DASHES[curve.slot % SLOTS]


@dataclass
class PanelDrawing:
    """One panel within its frame."""

    whole: Scene
    panel: Panel
    frame: Frame

    def draw(self, marks: Sequence[float]) -> None:
        """Gridlines, bands, curves, sags, peaks, names."""
        paper, panel, frame = self.whole.paper, self.panel, self.frame
        self.difference = panel.kind == "difference"
        grid(paper, frame, marks, signed=self.difference, zero=False)
        order = sorted(panel.curves, key=lambda one: self.whole.colour(one) != "context")
        self.paths: list[list[Point]] = [
            piece for one in order for piece in frame.points(one.x, one.y)
        ]
        for curve in order:
            self._band(curve)
        if 0.0 in marks or self.difference:
            y = frame.y(0)
            paper.put(Stroke(((frame.left, y), (frame.right, y)), "ink", 1.1))
        for curve in order:
            for sag in curve.sags:
                self._fill_sag(curve, sag)
        for curve in order:
            self._line(curve)
            self._forbidden(curve)
        for curve in order:
            self._top(curve)
            if self.whole.alone:
                self._figure(curve)
        self.taken: list[Box] = []
        for curve in order:
            for sag in curve.sags:
                self._name_sag(curve, sag)
        if self.difference:
            self._hidden(panel.curves[0])
            self._most(panel.curves[0])
        else:
            self._names()

    def _band(self, curve: DrawnCurve) -> None:
        if curve.half is None or self.whole.colour(curve) == "context":
            return
        role = "band" if self.difference else self.whole.colour(curve, "wash")
        role = "band" if role == "ink" else role
        low, high = curve.y - curve.half, curve.y + curve.half
        low, high = (np.clip(end, self.frame.y0, self.frame.y1) for end in (low, high))
        known = np.isfinite(low) & np.isfinite(high)
        hidden = known & (low <= 0) & (high >= 0) if self.difference else known & False
        for mask, colour in ((known, role), (hidden, "faint")):
            for start, stop in _spans(mask):
                upper = self.frame.points(curve.x[start:stop], high[start:stop])
                lower = self.frame.points(curve.x[start:stop], low[start:stop])
                if upper and lower:
                    self.whole.paper.put(Area((*upper[0], *reversed(lower[0])), colour))

    def _line(self, curve: DrawnCurve) -> None:
        layout, role = self.whole.paper.layout, self.whole.colour(curve)
        own = {"target": 1.5, "relief": 1.1, "limit": 1.4, "thin": layout.context}
        wide = own.get(curve.kind, layout.curve)
        wide = layout.context if role == "context" else wide
        kept = curve.y
        if self.difference and curve.half is not None:
            hidden = np.abs(curve.y) <= curve.half
            for piece in self.frame.points(curve.x, np.where(hidden, curve.y, np.nan)):
                self.whole.paper.put(Stroke(tuple(piece), "soft", 1.2, kind="curve"))
            grown = np.array(hidden)
            grown[1:] &= hidden[:-1]
            grown[:-1] &= hidden[1:]
            kept = np.where(grown, np.nan, curve.y)
        for piece in self.frame.points(curve.x, kept):
            self.whole.paper.put(Stroke(tuple(piece), role, wide, self.whole.dash(curve), "curve"))

    def _forbidden(self, curve: DrawnCurve) -> None:
        """Slanted strokes on the side of a limit where nothing may go."""
        if curve.kind != "limit":
            return
        left, right = self.frame.x(float(curve.x[0])), self.frame.x(float(curve.x[-1]))
        y, role = self.frame.y(float(curve.y[0])), self.whole.colour(curve)
        x = left + _SLANT / 2
        while x + _SLANT <= right:
            self.whole.paper.put(Stroke(((x, y), (x + _SLANT, y - _SLANT)), role, 0.9))
            x += _STROKES

    def _top(self, curve: DrawnCurve) -> None:
        if curve.top is None or self.whole.colour(curve) == "context":
            return
        x, y, _ = curve.top
        size = 6.5 if not self.whole.paper.layout.narrow else 6
        self.whole.paper.put(Mark(self.frame.x(x), self.frame.y(y), size, self.whole.colour(curve)))

    def _figure(self, curve: DrawnCurve) -> None:
        """A single pull's peak in words above it, kept in the frame."""
        assert curve.top is not None
        x, y, said = curve.top
        size, said = self.whole.paper.layout.name, shown(said)
        half = letters.width(said, size, True) / 2
        middle = min(max(self.frame.x(x), self.frame.left + half), self.frame.right - half)
        word = self.whole.colour(curve, "word")
        self.whole.paper.say(middle, self.frame.y(y) - 10, said, size, word, True, "middle", True)

    def _fill_sag(self, curve: DrawnCurve, sag: DrawnSag) -> None:
        piece = dip(curve, sag)
        if piece is None or self.whole.colour(curve) == "context":
            return
        points = [(self.frame.x(x), self.frame.y(y)) for x, y in piece]
        role = self.whole.colour(curve, "fill")
        self.whole.paper.put(Area(tuple(points), role if role != "ink" else "band"))
        self.whole.paper.put(Stroke((points[0], points[-1]), self.whole.colour(curve), 0.9))

    def _name_sag(self, curve: DrawnCurve, sag: DrawnSag) -> None:
        """Below the dip, else above: the nearest place that keeps clear of every curve."""
        if self.whole.colour(curve) == "context" or dip(curve, sag) is None:
            return
        size = self.whole.paper.layout.name
        said = [shown(line) for line in sag.words.split("\n")]
        wide = max(letters.width(line, size) for line in said)
        tall = size * letters.LINE * len(said)
        x = self.frame.x(sag.at)
        y = self.frame.y(float(np.interp(sag.at, curve.x, curve.y)))
        for distance in range(12, 120, 4):
            for below in (True, False):
                for shift in (0.0, 0.35, -0.35, 0.5, -0.5):
                    left = x - wide / 2 + shift * wide
                    top = y + distance if below else y - distance - tall
                    box = (left - 5, top - 5, left + wide + 5, top + tall + 5)
                    edge = top if below else top + tall
                    leader = ((x, y + (4 if below else -4)), (x, edge - (2 if below else -2)))
                    if self._free(box) and not self._leads_across(leader):
                        paper = self.whole.paper
                        paper.put(Stroke(leader, "soft", 0.8, kind="leader"))
                        for i, line in enumerate(said):
                            base = top + (i + 0.78) * size * letters.LINE
                            role = self.whole.colour(curve, "word") if i == 0 else "soft"
                            paper.say(
                                left + wide / 2, base, line, size, role, anchor="middle", plate=True
                            )
                        self.taken.append(box)
                        return

    def _free(self, box: Box) -> bool:
        inside = (self.frame.left <= box[0] and box[2] <= self.frame.right
                  and self.frame.top - 4 <= box[1] and box[3] <= self.frame.bottom - 2)  # fmt: skip
        return inside and not touched(box, self.paths) and not any(
            overlaps(box, one) for one in self.taken)  # fmt: skip

    def _leads_across(self, leader: tuple[Point, Point]) -> bool:
        return any(
            crosses(*leader, path[i], path[i + 1])
            for path in self.paths
            for i in range(len(path) - 1)
        )

    def _hidden(self, curve: DrawnCurve) -> None:
        """Where the difference is too small to tell: said once, dropped where it has no room."""
        if curve.half is None:
            return
        hidden = np.isfinite(curve.y) & (np.abs(curve.y) <= curve.half)
        spans = [span for span in _spans(hidden) if span[1] - span[0] > 2]
        if not spans or spans[0][0] > np.flatnonzero(np.isfinite(curve.y))[0]:
            return
        start, stop = spans[0]
        limit = round(float(curve.x[stop - 1]), -1)
        whole = stop == int(np.flatnonzero(np.isfinite(curve.y))[-1]) + 1
        head = "everywhere" if whole else f"below {limit:,.0f} {self.panel.x_unit}"
        frame, layout = self.frame, self.whole.paper.layout
        size = layout.tick
        low, high = curve.y - curve.half, curve.y + curve.half
        edges = [*frame.points(curve.x, low), *frame.points(curve.x, high)]
        for said in (f"{head} too small\nto tell from the scatter", f"{head}\nscatter hides it",
                     f"{head} too small to tell"):  # fmt: skip
            lines = [shown(line) for line in said.split("\n")]
            wide = max(letters.width(line, size) for line in lines)
            tall = size * 1.22 * len(lines)
            left, top = frame.left + 4, frame.top - 6
            box = (left, top, left + wide + 4, top + tall + 3)
            if touched(box, edges) or box[2] > frame.right:
                continue
            for i, line in enumerate(lines):
                self.whole.paper.say(
                    left, top + (i + 0.8) * size * 1.22, line, size, "soft", plate=True
                )
            x = frame.x(float((curve.x[start] + curve.x[stop - 1]) / 2))
            x = min(max(x, left + 4), left + wide - 4)
            band = frame.y(float(np.nanmax(high[start:stop])))
            if band - box[3] > 8:
                self.whole.paper.put(
                    Stroke(((x, box[3]), (x, band - 3)), "soft", 0.8, kind="leader")
                )
            self.taken.append(box)
            return

    def _most(self, curve: DrawnCurve) -> None:
        """The largest difference: a dot, and its figure in the lane or under the band."""
        if not self.panel.most or not np.isfinite(curve.y).any():
            return
        paper, size, frame = self.whole.paper, self.whole.paper.layout.name, self.frame
        index = int(np.nanargmax(np.abs(curve.y)))
        x, y = frame.x(float(curve.x[index])), frame.y(float(curve.y[index]))
        paper.put(Mark(x, y, 6.5, "ink"))
        said = [shown(line) for line in self.panel.most.split("\n")]
        if self.whole.lane:
            left = frame.right + 14 + SAMPLE + GAP
            base = min(max(y, frame.top + size), frame.bottom - size * letters.LINE) + 0.35 * size
            for i, line in enumerate(said):
                paper.say(
                    left,
                    base + i * size * letters.LINE,
                    line,
                    size,
                    "ink" if i == 0 else "soft",
                    i == 0,
                )
            return
        half = np.zeros_like(curve.y) if curve.half is None else curve.half
        edges = [*frame.points(curve.x, curve.y - half), *frame.points(curve.x, curve.y + half)]
        wide = max(letters.width(line, size, i == 0) for i, line in enumerate(said))
        tall = size * letters.LINE * len(said)
        steps = [0.0, *(sign * 20.0 * n for n in range(1, 12) for sign in (-1, 1))]
        for top in [y + 8 + 6 * n for n in range(24)] + [y - 12 - tall - 6 * n for n in range(16)]:
            for shift in steps:
                left = min(max(x + shift, frame.left + wide / 2 + 4), frame.right - wide / 2)
                box = (left - wide / 2 - 3, top - 2, left + wide / 2 + 3, top + tall + 2)
                inside = box[1] > frame.top - 8 and box[3] < frame.bottom - 2
                zero = frame.y(0)
                on_zero = box[1] < zero < box[3]
                if inside and not on_zero and not touched(box, edges) and not any(
                    overlaps(box, one) for one in self.taken
                ):  # fmt: skip
                    for i, line in enumerate(said):
                        base = top + (i + 0.78) * size * letters.LINE
                        paper.say(left, base, line, size, "ink" if i == 0 else "soft", i == 0,
                                  "middle", plate=True)  # fmt: skip
                    return

    def _names(self) -> None:
        """Blocks or numbers in the lane right of the frame, as near to their curves as they fit."""
        ends = []
        for curve in () if self.whole.alone else self.panel.curves:
            known = np.flatnonzero(np.isfinite(curve.y))
            if known.size and curve.kind != "thin":
                ends.append((self.frame.y(float(curve.y[known[-1]])),
                             self.frame.x(float(curve.x[known[-1]])), curve))  # fmt: skip
        if not ends or (len(ends) == 1 and not self.whole.lane and not self.whole.names):
            return
        ends.sort(key=lambda one: one[0])
        size = self.whole.paper.layout.name
        heights = [self._height(curve, size) for _, _, curve in ends]
        if not self.whole.lane and sum(heights) > self.frame.bottom - self.frame.top + 12:
            # more numbers than the frame is high: those in grey stand in the list alone
            ends = [end for end in ends if end[2].kind != "version" or
                    end[2].label in self.whole.coloured]  # fmt: skip
            heights = [self._height(curve, size) for _, _, curve in ends]
        low, high = self.frame.top - 6, self.frame.bottom + 6
        high = max(high, low + sum(heights))
        tops = spread([end[0] for end in ends], heights, low, high)
        drawn: list[tuple[Point, Point]] = []
        for (y, x, curve), top in zip(ends, tops, strict=True):
            middle = top + size * letters.LINE / 2
            self._leader((x, y), middle, curve, drawn)
            self._name(curve, top, size)

    def _height(self, curve: DrawnCurve, size: float) -> float:
        if not self.whole.lane:
            return (size if curve.label in self.whole.coloured else 0.93 * size) * 1.02
        two = curve.top is not None and curve.kind == "version"
        return size * letters.LINE * (2 if two else 1) + 6

    def _leader(
        self, end: Point, y: float, curve: DrawnCurve, drawn: list[tuple[Point, Point]]
    ) -> None:
        start = (end[0] + _LEAST_LIFT, end[1])
        goal = (self.frame.right + 12, y)
        if abs(y - end[1]) < 2 and self.frame.right - end[0] < 6:
            return
        if goal[0] - start[0] < 3 or self._leads_across((start, goal)):
            return
        if any(crosses(start, goal, *one) for one in drawn):
            return
        drawn.append((start, goal))
        role = self.whole.colour(curve)
        self.whole.paper.put(Stroke((start, goal), role, 0.8, kind="leader"))

    def _name(self, curve: DrawnCurve, top: float, size: float) -> None:
        paper, whole = self.whole.paper, self.whole
        x, base = self.frame.right + 14, top + 0.82 * size
        word = whole.colour(curve, "word")
        if curve.kind in REFERENCES:
            room = paper.width - paper.layout.margin - x
            small = size if whole.lane else paper.layout.tick
            paper.say(x, base, letters.fitted(shown(curve.label), small, room), small, word)
        elif not whole.lane:
            number = str(whole.names.index(curve.label) + 1) if curve.label in whole.names else ""
            bright = curve.label in whole.coloured
            paper.say(x, base, number, size if bright else paper.layout.tick, word, bright)
        else:
            whole.sample(x, top + size * letters.LINE / 2, SAMPLE, curve)
            base = top + size * letters.LINE / 2 + 0.35 * size
            paper.say(x + SAMPLE + GAP, base, curve.label, size, word, True)
            if curve.top is not None:
                base += size * letters.LINE
                paper.say(x + SAMPLE + GAP, base, curve.top[2], size, "soft")


def _marks(least: float, most: float, tall: float) -> list[float]:
    """Round values up a frame, whose height is in sizes of their numbers: in a low one nearer to
    each other than usual before it has one alone, which is no scale."""
    wanted = 3 if tall >= 5 else 2
    for apart in (3.6, 2.8, 2.0, 1.5):
        marks = ticks(least, most, tall / apart)
        if len(marks) >= wanted:
            break
    return marks


def _spans(mask: np.ndarray) -> list[tuple[int, int]]:
    """Runs of true places, each as first and one behind its last."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], mask.astype(int), [0]))))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def versions(picture: Picture) -> list[str]:
    """The names of the versions that are drawn."""
    return list(dict.fromkeys(
        one.label for panel in picture.panels if panel.kind != "difference"
        for one in panel.curves if one.kind == "version"))  # fmt: skip


def prominent(picture: Picture) -> list[str]:
    """The versions in colour, those that keep their own before the others: all of a few; of many
    the first, the last and the chosen."""
    names = versions(picture)
    if len(names) <= MANY:
        return names
    return list(dict.fromkeys([names[0], names[-1], *picture.chosen]))
