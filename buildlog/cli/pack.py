"""`buildlog pack`: the repository packed on request."""

from __future__ import annotations

import click

from buildlog.cli.common import AnswerForm, json_form, open_ledger


@click.command()
@json_form
def command(form: AnswerForm) -> None:
    """Pack the repository: the same history in fewer, smaller files.

    \b
    buildlog pack

    Never done by itself. Uses git where there is one, and checks the pack afterwards.
    """
    from buildlog.desk.acts.new_car import pack
    from buildlog.report.as_json.acts_json import packed_json
    from buildlog.report.as_text.acts_text import packed_lines

    with open_ledger(form.ledger) as ledger:
        done = pack(ledger)
    form.answer("pack", done, packed_json, packed_lines)
