"""`buildlog headroom`: what runs out first when power is raised."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli.common import (
    display,
    end,
    json_option,
    ledger_option,
    say,
    say_json,
    strict_option,
    units_option,
)


@click.command()
@click.argument("version", metavar="[VERSION]", default="working")
@click.option("--full", is_flag=True, help="Every limit that is reached, not the first three.")
@ledger_option
@units_option
@strict_option
@json_option
def command(
    version: str,
    full: bool,
    ledger_folder: Path | None,
    units: str | None,
    strict: bool,
    as_json: bool,
) -> None:
    """What runs out first when boost or power is raised, at what power, and what comes next.

    \b
    buildlog headroom
    buildlog headroom stage-2 --full

    Everything that power drives is worked out anew at each step. Limits that do not depend
    on power stand apart, as do those that nobody can answer.
    """
    from buildlog.desk.questions.limits import headroom_of
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_json.margins_json import headroom_json
    from buildlog.report.as_text.headroom_text import headroom_lines

    with opening.snapshot(ledger_folder) as book:
        found = headroom_of(book, version)
        if as_json:
            say_json("headroom", headroom_json(found))
        else:
            say(headroom_lines(found, display(book.ledger, units), full))
    end(found.findings, strict)
