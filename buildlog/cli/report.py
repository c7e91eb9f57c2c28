"""`buildlog report`: one stage's sheet, as it goes with the invoice."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli import names, terminal
from buildlog.cli.common import PATH, AnswerForm, paper_option, say, say_json, units_form


@click.command()
@click.argument("versions", metavar="[VERSION]...", nargs=-1, shell_complete=names.version)
@click.option("--out", type=PATH, help="Write it: .html, .pdf or .txt.")
@paper_option
@click.option("--full", is_flag=True, help="The whole sheet as text, not the first page alone.")
@units_form
def command(
    form: AnswerForm, versions: tuple[str, ...], out: Path | None, paper: str | None, full: bool
) -> None:
    """What was done in a stage, what it gave, and what to keep an eye on.

    \b
    buildlog report stage-2
    buildlog report stage-2 --out stage-2.pdf

    Without a version: the newest stage. Prints the customer's page; --out writes the whole
    sheet.
    """
    from buildlog.desk.give.packing import stage_content, write_sheet
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_text.handover_text import written_lines
    from buildlog.report.booklet.assemble import stage_text
    from buildlog.report.booklet.jsonout import content_json

    with opening.reader(form.ledger) as ledger, terminal.progress("sheet") as tell:
        told = stage_content(ledger, versions, lambda share: tell(0.5 * share))
        shown = form.display(ledger)
        tell(0.5)
        written = None
        if out is not None and not form.as_json:
            written = write_sheet(told, out, shown, paper)
    if form.as_json:
        say_json("report", content_json(told))
    elif written is not None:
        say(written_lines(written.path, written.no_pdf))
    else:
        say(stage_text(told, shown, full))
