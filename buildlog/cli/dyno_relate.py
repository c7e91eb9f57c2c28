"""`buildlog dyno relate`: how two machines read the same car."""

from __future__ import annotations

import click

from buildlog.cli.common import AnswerForm, json_form, standard_option


@click.command()
@click.argument("first", metavar="A")
@click.argument("second", metavar="B")
@standard_option
@json_form
def command(form: AnswerForm, first: str, second: str, standard: str | None) -> None:
    """How dyno B reads this car against dyno A, from sessions of one configuration on both.

    \b
    buildlog dyno relate R1 R2

    A and B are the shop's own names for the machines (dyno.id). The ratio is worked out again
    from the ledger whenever sessions on these two are compared; no number is converted by it.
    """
    from buildlog.desk.questions.dynos import related
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_json.dyno_json import relation_json
    from buildlog.report.as_text.measured_text import relation_lines

    with opening.snapshot(form.ledger) as book:
        found = related(book, first, second, standard)
    form.answer("dyno-relate", found, relation_json, relation_lines)
