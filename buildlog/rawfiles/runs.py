"""Several runs in one file: side by side, one after another, or in one stream.

A split is proposed with its reason; the operator may refuse it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from buildlog.rawfiles.heads import RawColumn

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]
MOST_HELD = 1_000_000  # rows of a column that are held; of a longer one, every so many
MOST_LOOKED_AT = 100_000  # rows looked at one by one; of a longer file, every so many
MOST_RUNS = 60  # more "runs" than this in one file are noise, not pulls
SHORTEST = 5  # rows that make a run; less between two breaks is a remark, not a run


@dataclass(frozen=True)
class RunProposal:
    """One run of a file: its columns by name where runs stand side by side, else its data rows."""

    label: str
    columns: tuple[str, ...] = ()
    rows: tuple[int, int] | None = None
    why: str = ""


def thinned(parts: Iterable[Floats], rows: int, *, steps: bool) -> tuple[Floats, Rows]:
    """A column of any length, and the row of each value (from 0): of one that is too long to be
    held, every so many; with `steps`, both sides of each place where it changes by more than a
    row's usual way: where it falls, and where a number that stands still is another."""
    every, before, at = max(1, rows // MOST_HELD), np.empty(0), 0
    values: list[Floats] = []
    places: list[Rows] = []
    for part in parts:
        whole = np.concatenate((before, part))
        here = np.arange(at - before.size, at + part.size)
        kept = (here % every == 0) | (here == rows - 1)
        if steps and every > 1:
            change = np.diff(whole)
            step = np.flatnonzero((change < 0) | ((change != 0) & (change == np.round(change))))
            kept[step] = kept[step + 1] = True
        kept[: before.size] &= steps and every > 1 and bool(kept[: before.size].any())
        new = np.flatnonzero(kept)
        values.append(whole[new])
        places.append(new + at - before.size)
        before, at = whole[-1:], at + part.size
    if not places:
        return np.empty(0), np.empty(0, np.int64)
    found, first = np.unique(np.concatenate(places), return_index=True)
    return np.concatenate(values)[first], found


def in_rows(run: RunProposal, rows: Rows) -> RunProposal:
    """A run of a thinned column in the rows of the file."""
    if run.rows is None:
        return run
    first, last = run.rows
    return replace(run, rows=(int(rows[first - 1]) + 1, int(rows[last - 1]) + 1))


def side_by_side(columns: Sequence[RawColumn]) -> list[RunProposal]:
    """One run per label of the header; a column that belongs to none is shared by all."""
    labels = list(dict.fromkeys(column.run for column in columns if column.run))
    if len(labels) < 2:
        return []
    return [
        RunProposal(
            label,
            tuple(column.name for column in columns if column.run in (label, None)),
            why="its columns stand beside those of the other pulls",
        )
        for label in labels
    ]


def one_after_another(breaks: Sequence[int], rows: int) -> list[RunProposal]:
    """Runs between breaks; `breaks` are the numbers of data rows that a break precedes (from 0)."""
    edges = sorted({0, rows, *(edge for edge in breaks if 0 < edge < rows)})
    return _numbered(edges, "a blank line or a new header stands before it")


def _numbered(edges: Sequence[int], why: str) -> list[RunProposal]:
    spans = [(a, b) for a, b in pairwise(edges) if b - a >= SHORTEST]
    if not 2 <= len(spans) <= MOST_RUNS:
        return []
    return [
        RunProposal(f"run {n}", rows=(a + 1, b), why=why) for n, (a, b) in enumerate(spans, start=1)
    ]


def by_number(numbers: Floats) -> list[RunProposal]:
    """Runs by a column that numbers them: whole numbers, constant over each run."""
    if not numbers.size or np.isnan(numbers).any() or (numbers != np.round(numbers)).any():
        return []
    edges = [0, *(np.flatnonzero(np.diff(numbers)) + 1).tolist(), len(numbers)]
    return _numbered(edges, "the run number changes")


def by_restart(time: Floats) -> list[RunProposal]:
    """Runs where the clock begins again."""
    edges = [0, *(np.flatnonzero(np.diff(time) < 0) + 1).tolist(), len(time)]
    if len(edges) - 1 > MOST_RUNS:
        return []
    latest = time[0] + 0.05 * (np.nanmax(time) - np.nanmin(time))
    begins = [time[edge] <= latest for edge in edges[:-1]]
    return _numbered(edges, "the time begins again") if all(begins) else []


def by_sweep(speed: Floats) -> list[RunProposal]:
    """Runs in one stream: rises of speed over more than half of the range seen.

    A sweep begins at a low and ends at the next high; between sweeps the speed falls back by more
    than half of the range. One sweep, or none, is no split.
    """
    filled = np.flatnonzero(np.isfinite(speed))
    if filled.size < 2 * SHORTEST:
        return []
    filled = filled[:: max(1, filled.size // MOST_LOOKED_AT)]
    spans = _rises(speed[filled].tolist())
    if not 2 <= len(spans) <= MOST_RUNS:
        return []
    return [
        RunProposal(
            f"run {n}",
            rows=(int(filled[a]) + 1, int(filled[b]) + 1),
            why="the speed rises from low to high again",
        )
        for n, (a, b) in enumerate(spans, start=1)
        if b - a >= SHORTEST
    ]


def _rises(values: Sequence[float]) -> list[tuple[int, int]]:
    """Index spans of rises by more than half of the range, by hysteresis over lows and highs."""
    step = 0.5 * (max(values) - min(values))
    spans: list[tuple[int, int]] = []
    low, high, rising = 0, 0, False
    for n, value in enumerate(values):
        if rising and value > values[high]:
            high = n
        elif rising and value < values[high] - step:
            spans.append((low, high))
            low, rising = n, False
        elif not rising and value <= values[low]:
            low = n
        elif not rising and value > values[low] + step:
            high, rising = n, True
    return [*spans, (low, high)] if rising and step > 0 else spans
