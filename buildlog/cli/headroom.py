"""`buildlog headroom`: what runs out first when power is raised."""

from __future__ import annotations

import click

from buildlog.cli import names
from buildlog.cli.common import AnswerForm, strict_form


@click.command()
@click.argument("version", metavar="[VERSION]", default="working", shell_complete=names.version)
@click.option("--full", is_flag=True, help="Every limit that is reached, not the first three.")
@strict_form
def command(form: AnswerForm, version: str, full: bool) -> None:
    """What runs out first when boost or power is raised, at what power, and what comes next.

    \b
    buildlog headroom
    buildlog headroom stage-2 --full

    Everything that power drives is worked out again at each step. Limits that do not depend
    on power stand apart, as do those that nobody can answer.
    """
    from buildlog.desk.questions.limits import headroom_of
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_json.margins_json import headroom_json
    from buildlog.report.as_text.headroom_text import headroom_lines

    with opening.snapshot(form.ledger) as book:
        found = headroom_of(book, version)
        form.answer("headroom", found, headroom_json, headroom_lines, full, ledger=book.ledger)
    form.end(found.findings)
