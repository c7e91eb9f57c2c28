"""Labels of points: the places that each may take, and which it takes.

A place has a cost: how far it is from its point, how well such a place is liked, what lies nearer
to it than its own point should, and what of the label had to be given up for it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from buildlog.report.pictures import letters
from buildlog.report.pictures.paper import Anchor, Box, Point, crosses, enters, overlaps

_AWAY = (9, 16, 26, 38, 56, 80)
_SIDES = ((1, 0), (-1, 0), (0, -1), (0, 1), (1, -1), (-1, -1), (1, 1), (-1, 1))
_FLAGS = ((1, -1), (-1, -1), (1, 1), (-1, 1))  # right or left of a pole, up or down
_LED = 22  # px from a point to its label, from which on a line leads there
_LIKING, _NEARER, _LINE = 1.5, 40.0, 14.0
_FIGURE = 70.0  # more, where the name would stand without its figure
_TOO_NEAR = 1.6  # another point, in distances of the label's own
_BESIDE = 3.0  # px between labels, and between a label and what is drawn
_ROUNDS = 8


@dataclass(frozen=True)
class LabelPlace:
    """Where a label may stand: its cost, box and how many of its lines stand there."""

    cost: float
    box: Box
    lines: int
    anchor: Anchor
    leader: tuple[Point, Point] | None = None


@dataclass
class PointLabel:
    """What is said of a point, the most important line first, and where it stands."""

    lines: Sequence[str]
    spot: Point
    places: list[LabelPlace] = field(default_factory=list)
    chosen: LabelPlace | None = None


@dataclass(frozen=True)
class Around:
    """What labels keep clear of: the frame's edges, what is drawn, all points."""

    edges: Box
    solid: Sequence[Box]
    spots: Sequence[Point]
    size: float


def place(labels: Sequence[PointLabel], around: Around) -> None:
    """Choose a place for each: the most hindered first, chosen anew while anything improves."""
    for one in labels:
        one.places = sorted(_places(one, around), key=lambda place: place.cost)
        one.chosen = None
    order = sorted(labels, key=lambda one: len(one.places))
    for _ in range(_ROUNDS):
        before = [one.chosen for one in labels]
        for one in order:
            one.chosen = _cheapest(one, [o for o in labels if o is not one])
        if before == [one.chosen for one in labels]:
            break
    for one in order:
        if one.chosen is None:
            make_room(one, labels)


def _cheapest(one: PointLabel, others: Sequence[PointLabel]) -> LabelPlace | None:
    taken = [other.chosen for other in others if other.chosen is not None]
    return next((p for p in one.places if not any(_meet(p, other) for other in taken)), None)


def make_room(one: PointLabel, labels: Sequence[PointLabel]) -> None:
    """Take the first place from which those who stand there can move."""
    for wanted in one.places:
        standing = [o for o in labels if o.chosen is not None and _meet(wanted, o.chosen)]
        kept = [o.chosen for o in standing]
        one.chosen = wanted
        for other in standing:
            other.chosen = None
        for other in standing:
            other.chosen = _cheapest(other, [o for o in labels if o is not other])
        if all(other.chosen is not None for other in standing):
            return
        for other, place in zip(standing, kept, strict=True):
            other.chosen = place
        one.chosen = None


def _meet(one: LabelPlace, other: LabelPlace) -> bool:
    """Whether two labels, or a label and the other's line, lie on each other."""
    if overlaps(one.box, other.box, _BESIDE):
        return True
    for this, that in ((one, other), (other, one)):
        if this.leader is not None and enters(that.box, *this.leader):
            return True
    return bool(one.leader and other.leader and crosses(*one.leader, *other.leader))


def _places(label: PointLabel, around: Around) -> Iterator[LabelPlace]:
    size = around.size
    for lines in range(len(label.lines), 0, -1):
        kept = label.lines[:lines]
        wide = max(letters.width(one, size, i == 0) for i, one in enumerate(kept))
        tall = size * 1.2 * lines
        short = _LINE * (len(label.lines) - lines) + (_FIGURE if lines == 1 else 0.0)
        for away in _AWAY:
            for liking, (box, anchor, leader) in enumerate(
                _shapes(label, wide, tall, away, around)
            ):
                if not _free(box, leader, label.spot, around):
                    continue
                own = _distance(box, label.spot)
                near = sum(
                    _distance(box, spot) < _TOO_NEAR * own
                    for spot in around.spots
                    if spot != label.spot
                )
                cost = away + _LIKING * liking + _NEARER * near + short
                yield LabelPlace(cost, box, lines, anchor, leader)


def _shapes(
    label: PointLabel, wide: float, tall: float, away: float, around: Around
) -> Iterator[tuple[Box, Anchor, tuple[Point, Point] | None]]:
    """Eight sides, then four flags, in the order in which they are liked."""
    x, y = label.spot
    for dx, dy in _SIDES:
        left = x + away if dx > 0 else x - away - wide if dx < 0 else x - wide / 2
        top = y + away if dy > 0 else y - away - tall if dy < 0 else y - tall / 2
        box = (left, top, left + wide, top + tall)
        anchor: Anchor = "start" if dx > 0 else "end" if dx < 0 else "middle"
        yield box, anchor, _leader(label.spot, box) if away > _LED else None
    own = [one for one in around.solid if one[0] <= x <= one[2] and one[1] <= y <= one[3]]
    for dx, dy in _FLAGS:
        edge = min((one[1] for one in own), default=y) if dy < 0 else max(
            (one[3] for one in own), default=y)  # fmt: skip
        top = edge + away if dy > 0 else edge - away - tall
        left = x + 5 if dx > 0 else x - 5 - wide
        pole = ((x, edge + 3 * dy), (x, top + tall if dy > 0 else top))
        yield (left, top, left + wide, top + tall), "start" if dx > 0 else "end", pole


def _leader(spot: Point, box: Box) -> tuple[Point, Point]:
    """From the rim of the dot to just before the nearest point of the label."""
    x, y = spot
    goal = (min(max(x, box[0]), box[2]), min(max(y, box[1]), box[3]))
    step = math.hypot(goal[0] - x, goal[1] - y) or 1.0
    start = (x + 7 * (goal[0] - x) / step, y + 7 * (goal[1] - y) / step)
    short = 1 - 4 / step
    return start, (x + short * (goal[0] - x), y + short * (goal[1] - y))


def _free(box: Box, leader: tuple[Point, Point] | None, spot: Point, around: Around) -> bool:
    left, top, right, bottom = around.edges
    if box[0] < left or box[2] > right or box[1] < top or box[3] > bottom:
        return False
    if any(overlaps(box, one, _BESIDE) for one in around.solid):
        return False
    x, y = spot
    own = (x - 8, y - 8, x + 8, y + 8)
    return leader is None or not any(
        enters(one, *leader) for one in around.solid if not overlaps(one, own))  # fmt: skip


def _distance(box: Box, spot: Point) -> float:
    across = max(box[0] - spot[0], 0.0, spot[0] - box[2])
    up = max(box[1] - spot[1], 0.0, spot[1] - box[3])
    return math.hypot(across, up)
