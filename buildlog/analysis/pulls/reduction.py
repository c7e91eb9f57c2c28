"""Which lines of a large raw file are full-load sweeps.

A file too large to be held in memory is looked over at one row in many first; the stretch in which
the sweep lies is then read whole, and what is cut is decided by that alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from buildlog.analysis.pulls.pull_data import AXES, OF_POWER, power_in_file, sweep_axis
from buildlog.errors import InvalidInput, refused_at
from buildlog.physics.traces import sweep
from buildlog.rawfiles.decode import Source
from buildlog.rawfiles.propose import FileProposal
from buildlog.rawfiles.spec import ColumnSpec
from buildlog.rawfiles.table import RawTable, read_table

Rows = tuple[int, int]  # first and last data row, from 1
_HELD = 48 << 20  # bytes of a file of which every row can be held
_CELLS = 4_000_000  # numbers that are held at once
_SOUGHT = frozenset({"time", *AXES, *OF_POWER})  # all other columns are read of the sweep alone
_MARGIN = 3  # rows looked over that are read whole on either side of a sweep


def sweep_lines(source: Source, proposal: FileProposal, runs: bool) -> list[tuple[int, int]]:
    """First and last line of each sweep, in the file's order; runs side by side are one block.

    InvalidInput where no sweep is found.
    """
    found = proposal.runs if runs else ()
    if any(run.columns for run in found):
        each = [_lines(source, proposal, run.label, None) for run in found]
        return [(min(first for first, _ in each), max(last for _, last in each))]
    spans: list[Rows | None] = [run.rows for run in found if run.rows]
    spans = spans or [None]
    return [_lines(source, proposal, None, rows) for rows in spans]


def _lines(
    source: Source, proposal: FileProposal, run: str | None, rows: Rows | None
) -> tuple[int, int]:
    specs = [one for one in proposal.specs(run) if one.channel in _SOUGHT] or proposal.specs(run)
    size = source.stat().st_size if isinstance(source, Path) else 0
    finest = 1 + proposal.rows * len(specs) // _CELLS if size else 1
    every = max(size // _HELD, finest)
    while every > 1:
        try:
            rows = _looked_over(source, proposal, specs, rows, every)
            break
        except InvalidInput:  # a sweep of so few rows that it is overlooked
            if every == finest:
                raise
            every = max(every // 2, finest)
    table = read_table(source, proposal.name, specs, rows, proposal.layout)
    first, last = _sweep(table, proposal.name)
    return table.line(first), table.line(last)


def _looked_over(
    source: Source,
    proposal: FileProposal,
    specs: Sequence[ColumnSpec],
    rows: Rows | None,
    every: int,
) -> Rows:
    """The rows in which the sweep lies, with some on either side."""
    table = read_table(source, proposal.name, specs, rows, proposal.layout, every)
    kept = _kept(table, proposal.name)
    most = _CELLS // (every * len(specs))
    if kept[-1] - kept[0] > most:  # a row of what was held before it: the sweep alone
        kept = max(np.split(kept, np.flatnonzero(np.diff(kept) > 1) + 1), key=len)
    first, last = int(kept[0]), int(kept[-1])
    if last - first > most:
        raise InvalidInput(
            f"its sweep runs over {(last - first) * every:,} rows, which is no pull",
            where=proposal.name,
            hint="export the pull alone, or at a lower rate",
        )
    last = min(last + _MARGIN, table.rows - 1)
    return (table.skipped + max(first - _MARGIN, 0) * every + 1, table.skipped + last * every + 1)


def _sweep(table: RawTable, name: str) -> tuple[int, int]:
    """The first and the last row of the full-load sweep of a table."""
    kept = _kept(table, name)
    return int(kept[0]), int(kept[-1])


def _kept(table: RawTable, name: str) -> NDArray[np.intp]:
    """Its rows, in the file's order."""
    with refused_at(name):
        axis, (power, _) = sweep_axis(table.channels), power_in_file(table.channels)
        return np.sort(sweep.trim_sweep(axis, power, time=table.channels.get("time")).index)
