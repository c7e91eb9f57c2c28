"""`buildlog handover`: the history, the booklet and the evidence, for the next owner."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from buildlog.cli import terminal
from buildlog.cli.common import PATH, AnswerForm, asking, open_ledger, paper_option, units_form


@click.command()
@click.argument("out", metavar="OUT", type=PATH)
@click.option("--to", help='To whom, in words that name no person: "the next owner".')
@click.option("--odometer", help='The reading: "42310 mi" (else that of the newest entry).')
@click.option("--note", help="Anything else for the custody record; nothing about persons.")
@click.option("--with-plans", "plans", is_flag=True, help="Proposals leave too, with their prices.")
@click.option("--no-pdf", is_flag=True, help="The booklet as HTML only.")
@paper_option
@click.option("--dry-run", is_flag=True, help="Say what would leave and what stays; write nothing.")
@units_form
def command(form: AnswerForm, out: Path, no_pdf: bool, **said: Any) -> None:
    """Give the car's history on: a folder OUT, and the same as OUT.zip.

    \b
    buildlog handover tern-2026 --dry-run
    buildlog handover tern-2026 --to "the next owner" --odometer "90210 mi"

    Records who held the history until when (an entry of kind handover), then writes the
    history as a git bundle, the booklet as HTML and PDF, the raw dyno files, the parts
    list, the plots, and how to check all of it without this program.
    """
    from buildlog.desk.give.handing_over import hand_over
    from buildlog.report.as_json.acts_json import handover_json
    from buildlog.report.as_text.handover_text import handover_lines

    with open_ledger(form.ledger) as ledger, terminal.progress("booklet and package") as tell:
        done = hand_over(
            ledger, out, pdf=not no_pdf, units=form.units, ask=asking(), tell=tell, **said
        )
    form.answer("handover", done, handover_json, handover_lines)
