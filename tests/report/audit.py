"""What is wrong with a picture, found by the boxes of its texts and the lines on it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from buildlog.report.pictures.paper import Paper, Stroke, Text, enters, overlaps

LEAST = 12.0  # px of a letter


def faults(paper: Paper) -> list[str]:
    """Texts beyond the paper, on each other, on a curve or a leader, or too small."""
    return [*_edges(paper), *_pairs(paper), *_on_lines(paper), *_small(paper)]


def _edges(paper: Paper) -> Iterator[str]:
    for one in paper.texts:
        left, top, right, bottom = one.box
        if left < 0 or top < -1 or right > paper.width + 0.5 or bottom > paper.height + 0.5:
            yield f'"{one.text}" leaves the paper'


def _pairs(paper: Paper) -> Iterator[str]:
    for one, other in combinations(paper.texts, 2):
        if overlaps(_inner(one), _inner(other)):
            yield f'"{one.text}" lies on "{other.text}"'


def _on_lines(paper: Paper) -> Iterator[str]:
    for stroke in paper.things:
        if isinstance(stroke, Stroke) and stroke.kind in ("curve", "leader"):
            for one in paper.texts:
                pieces = zip(stroke.points, stroke.points[1:], strict=False)
                if any(enters(_inner(one), a, b) for a, b in pieces):
                    yield f'a {stroke.kind} crosses "{one.text}"'


def _small(paper: Paper) -> Iterator[str]:
    yield from (f'"{one.text}" is {one.size} px' for one in paper.texts if one.size < LEAST)


def _inner(one: Text) -> tuple[float, float, float, float]:
    """The letters themselves: from the capitals' height to a little below the baseline."""
    left, _, right, _ = one.box
    return left, one.y - 0.7 * one.size, right, one.y + 0.12 * one.size
