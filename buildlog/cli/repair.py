"""`buildlog repair`: the branch set anew where it is lost or torn."""

from __future__ import annotations

import sys

import click

from buildlog.cli.common import AnswerForm, json_form, open_ledger


@click.command()
@click.option("--to", metavar="ID", help="The line to adopt: all 40 digits of its newest id.")
@click.option("--dry-run", is_flag=True, help="Show the lines and what proves them; write nothing.")
@json_form
def command(form: AnswerForm, to: str | None, dry_run: bool) -> None:
    """Set the branch main anew where it is lost or torn: the newest whole line.

    \b
    buildlog repair --dry-run
    buildlog repair

    Adopts a line by itself only if it is the only whole one, if a computer's list of what it
    recorded holds its newest entry, and if it contains every handover, every state another copy
    is known to hold and every recorded entry. Otherwise it shows what there is, and the id has
    to be typed: a history written by somebody else looks whole, too. The next entry carries
    what was done, and verify says so for ever.
    """
    from buildlog.desk.acts.repairing import repair
    from buildlog.report.as_text.repair_text import repair_json, repair_lines

    with open_ledger(form.ledger) as ledger:
        done = repair(ledger, to, dry_run=dry_run)
    form.answer("repair", done, repair_json, repair_lines)
    if done.adopted is None and not dry_run:
        sys.exit(1)
