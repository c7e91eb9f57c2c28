"""`buildlog margins`: how far each demand is from its limit."""

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
@click.option(
    "--full", is_flag=True, help="Every margin with formula, sources and what it does not say."
)
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
    """How far each demand is from its limit, on what basis, tightest first.

    \b
    buildlog margins
    buildlog margins plan:turbo --full

    A margin is clear, close, over or unknown; what is unknown names the datum that would
    answer. A power that was not measured is predicted from the last one that was.
    """
    from buildlog.desk.questions.limits import margins_of
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_json.margins_json import margins_json
    from buildlog.report.as_text.margins_text import margins_lines

    with opening.snapshot(ledger_folder) as book:
        found = margins_of(book, version)
        if as_json:
            say_json("margins", margins_json(found))
        else:
            say(margins_lines(found, display(book.ledger, units), full))
    end(found.findings, strict)
