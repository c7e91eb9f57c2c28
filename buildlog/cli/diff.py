"""`buildlog diff`: what changed between two versions, and what it did."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli import names
from buildlog.cli.common import PATH, AnswerForm, standard_option, strict_form


@click.command()
@click.argument("before", metavar="[FROM]", required=False, shell_complete=names.version)
@click.argument("after", metavar="[TO]", required=False, shell_complete=names.version)
@standard_option
@click.option("--plot", "figure", type=PATH, help="Also draw the two.")
@click.option("--full", is_flag=True, help="Values in full, nothing cut.")
@strict_form
def command(
    form: AnswerForm,
    before: str | None,
    after: str | None,
    standard: str | None,
    figure: Path | None,
    full: bool,
) -> None:
    """What changed between two versions, and what it did to power.

    \b
    buildlog diff
    buildlog diff stage-1 stage-2 --plot gain.png

    A version is working, latest, first, last-dyno, an entry's number or id, or a stage.
    Without names: what changed since the last dyno.
    """
    from buildlog.desk.questions import compare
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_json.diff_json import diff_json
    from buildlog.report.as_text.diff_text import diff_lines

    with opening.snapshot(form.ledger) as book:
        result = compare.diff(book, before, after, standard)
        if figure is not None:
            from buildlog.desk.give.plotting import plot

            sides = [result.before, result.after]
            plot(book, sides, standard=standard, units=form.units).write(figure)
        form.answer("diff", result, diff_json, diff_lines, full, ledger=book.ledger)
    form.end(result.findings)
