"""`buildlog dyno compare`: two sessions, groups or pulls side by side."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli.common import (
    display,
    json_option,
    ledger_option,
    read_ledger,
    say,
    say_json,
    standard_option,
    units_option,
)


@click.command()
@click.argument("first", metavar="A")
@click.argument("second", metavar="B")
@standard_option
@ledger_option
@units_option
@json_option
def command(
    first: str,
    second: str,
    standard: str | None,
    ledger_folder: Path | None,
    units: str | None,
    as_json: bool,
) -> None:
    """Two sessions, groups or pulls, like for like or saying why not.

    \b
    buildlog dyno compare baseline stage-1
    buildlog dyno compare stage-1:T26-002 stage-1:T26-003
    buildlog dyno compare baseline/pull-1.csv baseline/pull-2.csv

    A and B are a session, session:calibration for one group of its pulls, or session/pull.
    At one high place observed power is compared unless --standard says otherwise.
    """
    from buildlog.analysis.pulls.measured import Measured
    from buildlog.desk.questions.visits import compare
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.errors import InvalidInput
    from buildlog.report.as_json.diff_json import measured_json
    from buildlog.report.as_text.compare_text import compare_lines, stated_json, stated_lines

    with read_ledger(ledger_folder) as ledger:
        result, why = compare(Snapshot(ledger), first, second, standard)
        shown = display(ledger, units)
    if isinstance(result, str):
        raise InvalidInput(f"{first} and {second} cannot be compared: {result}")
    if as_json:
        body = measured_json(result) if isinstance(result, Measured) else stated_json(result)
        say_json("dyno-compare", body | ({"why_observed": why} if why else {}))
    elif isinstance(result, Measured):
        lines = compare_lines(result, (first, second), shown, why)
        say([*lines, "", f"next: {_next(first, second)}"])
    else:
        say([*stated_lines(result, (first, second), shown), "", f"next: {_next(first, second)}"])


def _next(first: str, second: str) -> str:
    session = second.partition("/")[0].partition(":")[0]
    return f"buildlog dyno sheet {session or first}"
