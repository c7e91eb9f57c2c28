"""`buildlog headroom`: what runs out first when power is raised."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli.common import (
    display,
    end,
    json_option,
    ledger_option,
    read_ledger,
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
    from buildlog.analysis.margins.all_margins import findings, margins
    from buildlog.analysis.margins.first_reached import room
    from buildlog.desk.questions.limits import Margining
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.as_json.margins_json import headroom_json
    from buildlog.report.as_text.headroom_text import headroom_lines

    with read_ledger(ledger_folder) as ledger:
        book = Snapshot(ledger)
        asked = book.version(version)
        subject = Margining(book).subject(asked)
        found = room(subject)
        if as_json:
            say_json("headroom", headroom_json(found, asked))
        else:
            say(headroom_lines(found, asked, display(ledger, units), full))
        told = findings(margins(subject), subject)
    end(told, strict)
