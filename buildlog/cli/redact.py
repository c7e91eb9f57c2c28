"""`buildlog redact`: delete a personal file that is kept outside, and say so in the history."""

from __future__ import annotations

import click

from buildlog.cli.common import AnswerForm, json_form, open_ledger


@click.command()
@click.argument("file", metavar="FILE")
@click.option("--asked-by", required=True, help='Who asked, in a word: "the owner".')
@click.option("--why", required=True, help="Why, in words that name no person.")
@click.option("--by", help="Who deletes it: initials or a staff number.")
@json_form
def command(form: AnswerForm, file: str, asked_by: str, why: str, by: str | None) -> None:
    """Delete a file that was attached with --personal or --outside, for good.

    \b
    buildlog redact yard.jpg --asked-by "the owner" --why "shows a neighbor"

    The history keeps its digest, and an entry says who asked and why; so every check of the
    chain goes on. What is in the history itself cannot be taken out of it: redact says so.
    """
    from buildlog.desk.acts.redacting import redact
    from buildlog.report.as_json.acts_json import redaction_json
    from buildlog.report.as_text.acts_text import redaction_lines

    with open_ledger(form.ledger) as ledger:
        done = redact(ledger, file, asked_by, why, by)
    form.answer("redact", done, redaction_json, redaction_lines)
