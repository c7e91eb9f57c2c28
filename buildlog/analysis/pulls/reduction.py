"""Which lines of a large raw file are full-load sweeps."""

from __future__ import annotations

from buildlog.analysis.pulls.pull_data import power_in_file, sweep_axis
from buildlog.errors import refused_at
from buildlog.physics.traces import sweep
from buildlog.rawfiles.decode import Source
from buildlog.rawfiles.propose import FileProposal
from buildlog.rawfiles.table import read_table


def sweep_lines(source: Source, proposal: FileProposal, runs: bool) -> list[tuple[int, int]]:
    """First and last line of each sweep, in the file's order; runs side by side are one block.

    InvalidInput where no sweep is found.
    """
    found = proposal.runs if runs else ()
    if any(run.columns for run in found):
        each = [_lines(source, proposal, run.label, None) for run in found]
        return [(min(first for first, _ in each), max(last for _, last in each))]
    spans: list[tuple[int, int] | None] = [run.rows for run in found if run.rows]
    spans = spans or [None]
    return [_lines(source, proposal, None, rows) for rows in spans]


def _lines(
    source: Source, proposal: FileProposal, run: str | None, rows: tuple[int, int] | None
) -> tuple[int, int]:
    specs = proposal.specs(run)
    table = read_table(source, proposal.name, specs, rows, proposal.layout)
    with refused_at(proposal.name):
        axis, (power, _) = sweep_axis(table.channels), power_in_file(table.channels)
        kept = sweep.trim_sweep(axis, power, time=table.channels.get("time")).index
    return table.line(int(kept.min())), table.line(int(kept.max()))
