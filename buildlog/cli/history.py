"""`buildlog history`: the entries, newest first."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli.common import (
    display,
    json_option,
    ledger_option,
    say,
    say_json,
    units_option,
)


@click.command()
@click.option("--full", is_flag=True, help="Subjects, changes and names in full.")
@ledger_option
@units_option
@json_option
def command(full: bool, ledger_folder: Path | None, units: str | None, as_json: bool) -> None:
    """List the entries, newest first.

    \b
    buildlog history
    buildlog history --full

    Peak power is what was worked out when the entry was recorded; diff and the sheet
    work it out anew from the raw files.
    """
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_json.history_json import history_json
    from buildlog.report.as_text.history_text import history_lines

    with opening.reader(ledger_folder) as ledger:
        entries = ledger.entries()
        if as_json:
            say_json("history", history_json(entries))
        else:
            say(history_lines(entries, display(ledger, units), full))
