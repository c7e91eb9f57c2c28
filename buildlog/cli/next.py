"""`buildlog next`: what to do now, and what must not be started before."""

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
    from buildlog.analysis.answers.next_steps import next_steps
    from buildlog.analysis.margins.all_margins import states as margin_states
    from buildlog.desk.questions.limits import Margining
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.as_text.next_text import next_json, next_lines

    with read_ledger(ledger_folder) as ledger:
        book = Snapshot(ledger)
        states = margin_states(Margining(book).rows(book.working))
        found = next_steps(book.until_now, book.papers, states)
        if as_json:
            say_json("next", next_json(found))
        else:
            say(next_lines(found, display(ledger, units), full))
    end(found.findings, strict)
