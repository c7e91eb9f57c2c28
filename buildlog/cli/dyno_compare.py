"""`buildlog dyno compare`: two sessions, groups or pulls side by side."""

from __future__ import annotations

import click

from buildlog.cli import names
from buildlog.cli.common import AnswerForm, standard_option, units_form


@click.command()
@click.argument("first", metavar="A", shell_complete=names.session)
@click.argument("second", metavar="B", shell_complete=names.session)
@standard_option
@units_form
def command(form: AnswerForm, first: str, second: str, standard: str | None) -> None:
    """Two sessions, groups or pulls, like for like or saying why not.

    \b
    buildlog dyno compare baseline stage-1
    buildlog dyno compare stage-1:T26-002 stage-1:T26-003
    buildlog dyno compare baseline/pull-1.csv baseline/pull-2.csv

    A and B are a session, session:calibration for one group of its pulls, or session/pull.
    At one high place observed power is compared unless --standard says otherwise.
    """
    from buildlog.desk.questions.visits import compare
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_json.dyno_json import comparison_json
    from buildlog.report.as_text.measured_text import comparison_lines

    with opening.snapshot(form.ledger) as book:
        found = compare(book, first, second, standard)
        form.answer("dyno-compare", found, comparison_json, comparison_lines, ledger=book.ledger)
