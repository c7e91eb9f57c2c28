"""`buildlog history`: the entries, newest first."""

from __future__ import annotations

import click

from buildlog.cli.common import AnswerForm, say, units_form


@click.command()
@click.option("--full", is_flag=True, help="Subjects, changes and names in full.")
@units_form
def command(form: AnswerForm, full: bool) -> None:
    """List the entries, newest first.

    \b
    buildlog history
    buildlog history --full

    Peak power is what was worked out when the entry was recorded; diff and the sheet
    work it out anew from the raw files.
    """
    from buildlog.desk.snapshot import opening
    from buildlog.desk.snapshot.opening import beside
    from buildlog.report.as_json.history_json import history_json
    from buildlog.report.as_text.history_text import history_lines
    from buildlog.report.lines import finding_lines

    with opening.reader(form.ledger) as ledger:
        entries = ledger.entries()
        form.answer("history", entries, history_json, history_lines, full, ledger=ledger)
        if found := beside(ledger):
            say(finding_lines(found), err=True)
