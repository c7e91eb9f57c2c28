"""`buildlog margins`: how far each load is from its limit."""

from __future__ import annotations

import click

from buildlog.cli import names
from buildlog.cli.common import AnswerForm, strict_form


@click.command()
@click.argument("version", metavar="[VERSION]", default="working", shell_complete=names.version)
@click.option(
    "--full", is_flag=True, help="Every margin with formula, sources and what it does not say."
)
@strict_form
def command(form: AnswerForm, version: str, full: bool) -> None:
    """How far each load is from its limit, and on what basis, worst case first.

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

    with opening.snapshot(form.ledger) as book:
        found = margins_of(book, version)
        form.answer("margins", found, margins_json, margins_lines, full, ledger=book.ledger)
    form.end(found.findings)
