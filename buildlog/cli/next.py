"""`buildlog next`: what to do now, and what must not be started before."""

from __future__ import annotations

import click

from buildlog.cli.common import AnswerForm, judged_form


@click.command()
@click.option("--full", is_flag=True, help="Everything that is due, however much.")
@judged_form
def command(form: AnswerForm, full: bool) -> None:
    """Say what to do now, what must not be started before, and why.

    \b
    buildlog next

    From the history alone: which checks are open, which calibration is in the car, how far
    the break-in is, what is broken. Nothing here depends on a dyno.
    """
    from buildlog.desk.questions.check_all import what_next
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_json.steps_json import next_json
    from buildlog.report.as_text.steps_text import next_lines

    with opening.snapshot(form.ledger) as book:
        found = what_next(book)
        form.answer("next", found, next_json, next_lines, full, ledger=book.ledger)
    form.end(found.findings)
