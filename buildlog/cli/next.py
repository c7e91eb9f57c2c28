"""`buildlog next`: what to do now, and what must not be started before."""

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
@click.option("--full", is_flag=True, help="Everything that is due, however much.")
@ledger_option
@units_option
@json_option
@strict_option
def command(
    full: bool, ledger_folder: Path | None, units: str | None, as_json: bool, strict: bool
) -> None:
    """Say what to do now, what must not be started before, and why.

    \b
    buildlog next

    From the history alone: which checks are open, which calibration is in the car, how far
    the break-in is, what is broken. Nothing here depends on a dyno.
    """
    from buildlog.desk.questions.what_next import what_next
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_json.steps_json import next_json
    from buildlog.report.as_text.next_text import next_lines

    with opening.snapshot(ledger_folder) as book:
        found = what_next(book)
        if as_json:
            say_json("next", next_json(found))
        else:
            say(next_lines(found, display(book.ledger, units), full))
    end(found.findings, strict)
