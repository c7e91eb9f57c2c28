"""Which minutes of a large log belong to a pull, found on a sketch of the log.

A log too large to enter a ledger is read once for what can lay it over a pull: time, speeds,
throttle, boost, of so many rows one. That sketch is laid over the pull by the rules of every log,
and what lies around the place found is kept at full rate.
"""

from __future__ import annotations

import io
from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buildlog.analysis.pulls.laid_logs import SHARED, LaidLog
from buildlog.analysis.pulls.pull_data import AXES
from buildlog.errors import InvalidInput
from buildlog.physics.traces import sweep
from buildlog.rawfiles.decode import Source
from buildlog.rawfiles.obd import cell_reader
from buildlog.rawfiles.propose import FileProposal
from buildlog.rawfiles.spec import ColumnSpec, find_column
from buildlog.rawfiles.table import Piece, pieces
from buildlog.units import si_text

Floats = NDArray[np.float64]
Rows = tuple[int, int]  # first and last data row, from 1
MOST = 200_000  # rows of a sketch: of a working day, seven a second
MINUTE = 60.0  # [s] kept before and after a pull
_SOUGHT = ("time", *SHARED)


@dataclass(frozen=True)
class LogSketch:
    """A log in few rows: one in `every` of its `rows`, as a raw file of its own (`data`, read by
    `columns`) and as `channels` in SI; `spans` are the data rows (from 0) at which an unbroken
    stretch of lines begins, each with its line."""

    data: bytes
    columns: tuple[Mapping[str, Any], ...]
    channels: Mapping[str, Floats]
    every: int
    rows: int
    spans: tuple[tuple[int, int], ...]

    def of(self, rows: Rows) -> Rows:
        """Rows of the log as rows of the sketch."""
        return (rows[0] - 1) // self.every + 1, (rows[1] - 1) // self.every + 1

    def lines(self, rows: Rows) -> Rows:
        """The lines of the file in which these rows stand."""
        return self._line(rows[0] - 1), self._line(rows[1] - 1)

    def _line(self, row: int) -> int:
        start, line = self.spans[bisect_right(self.spans, (row, 1 << 62)) - 1]
        return line + row - start


def sketch(source: Source, proposal: FileProposal) -> LogSketch:
    """The sketch of a log of any size; InvalidInput where nothing in it could lay it over one."""
    assert proposal.layout is not None
    specs = [one for one in proposal.specs() if one.channel in _SOUGHT]
    if not specs:
        raise InvalidInput(
            "none of its columns says where in it a pull lies: no time, no speed, no throttle",
            where=proposal.name,
            hint="name the column of time: --map time=COLUMN:s",
        )
    every = max(1, -(-proposal.rows // MOST))
    found = [find_column(proposal.layout.columns, one, proposal.name) for one in specs]
    readers = [cell_reader(one.unit) for one in specs]
    read = pieces(source, proposal.layout, [one.index for one in found], readers=readers)
    table, rows, spans = _thinned(read, len(specs), every)
    channels = {
        one.channel: table[:, n] * one.unit_row().factor + one.unit_row().offset
        for n, one in enumerate(specs)
    }
    columns = tuple(_column(one) for one in specs)
    return LogSketch(_written(columns, channels), columns, channels, every, rows, spans)


def _thinned(
    read: Iterator[Piece], width: int, every: int
) -> tuple[Floats, int, tuple[tuple[int, int], ...]]:
    """Of so many rows one, with the first number of each column among them: a logger that writes
    one channel a row leaves the others' cells empty."""
    kept: list[Floats] = []
    spans: list[tuple[int, int]] = []
    rest, rows = np.empty((0, width)), 0
    for piece in read:
        spans += [(row + rows, line) for row, line in piece.spans]
        rows += len(piece.values)
        whole = np.concatenate((rest, piece.values))
        end = len(whole) - len(whole) % every
        kept.append(_first(whole[:end].reshape(-1, every, width)))
        rest = whole[end:]
    if len(rest):
        kept.append(_first(rest[np.newaxis]))
    return np.concatenate(kept), rows, _joined(spans)


def _first(blocks: Floats) -> Floats:
    """The first number of each column of each block (n, rows, columns)."""
    place = np.isfinite(blocks).argmax(axis=1)
    return np.take_along_axis(blocks, place[:, np.newaxis], axis=1)[:, 0]


def _joined(spans: Sequence[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """Without those that only go on where the one before would have."""
    kept = list(spans[:1])
    for row, line in spans[1:]:
        if line - row != kept[-1][1] - kept[-1][0]:
            kept.append((row, line))
    return tuple(kept)


def _column(spec: ColumnSpec) -> dict[str, Any]:
    unit = si_text(spec.unit_row().dimension)
    return {"channel": spec.channel, "name": spec.channel} | ({"unit": unit} if unit != "1" else {})


def _written(columns: Sequence[Mapping[str, Any]], channels: Mapping[str, Floats]) -> bytes:
    """The sketch as a table of its own, its rows numbered: one column is no table. A cell without
    a number reads "nan"."""
    text = io.BytesIO()
    heads = ",".join(["row", *(one["name"] for one in columns)])
    first, *_ = channels.values()
    table = np.column_stack([np.arange(1.0, first.size + 1), *channels.values()])
    np.savetxt(text, table, fmt="%.12g", delimiter=",", header=heads, comments="")
    return text.getvalue()


def minutes(log: LogSketch, laid: LaidLog, pull: Mapping[str, Floats], within: Rows | None) -> Rows:
    """The rows of the log that belong to a pull, whose channels are `pull`: where it lies on the
    log's own time with a minute on either side, else the rise of speed with as much again.

    `within` are the rows that are its own where one log runs over several pulls.
    """
    first, last = within or (1, log.rows)
    if laid.shift is not None:
        time, own = pull["time"], log.channels["time"]
        begin = float(np.nanmin(time)) - laid.shift - MINUTE
        end = float(np.nanmax(time)) - laid.shift + MINUTE
        inside = np.flatnonzero((own >= begin) & (own <= end))
    else:
        name = next(one for one in AXES if one in log.channels and one in pull)
        rise = sweep.trim_sweep(log.channels[name], time=log.channels.get("time")).index
        low, high = int(rise.min()), int(rise.max())
        more = high - low + 1
        inside = np.arange(max(low - more, 0), min(high + more, log.channels[name].size - 1) + 1)
    rows = (int(inside[0]) * log.every + 1, min((int(inside[-1]) + 1) * log.every, log.rows))
    return max(rows[0], first), min(rows[1], last)


def blocks(wanted: Sequence[Rows]) -> tuple[list[Rows], list[Rows]]:
    """The stretches to keep, those that touch as one; and where each that was wanted stands in the
    rows of what is kept.

    >>> blocks([(1, 10), (8, 20), (101, 110)])
    ([(1, 20), (101, 110)], [(1, 10), (8, 20), (21, 30)])
    """
    kept: list[Rows] = []
    for first, last in sorted(wanted):
        if kept and first <= kept[-1][1] + 1:
            kept[-1] = (kept[-1][0], max(last, kept[-1][1]))
        else:
            kept.append((first, last))
    before = 0
    starts = []
    for first, last in kept:
        starts.append((first, last, before))
        before += last - first + 1
    placed = []
    for first, last in wanted:
        begin, at = next((b, at) for b, e, at in starts if b <= first <= e)
        placed.append((first - begin + at + 1, last - begin + at + 1))
    return kept, placed
