"""`buildlog report`: one stage's sheet, as it goes with the invoice."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli.common import (
    display,
    json_option,
    ledger_option,
    read_ledger,
    say,
    say_json,
    units_option,
)


@click.command()
@click.argument("versions", metavar="[VERSION]...", nargs=-1)
@click.option("--out", type=click.Path(path_type=Path), help="Write it: .html, .pdf or .txt.")
@click.option(
    "--paper",
    type=click.Choice(["letter", "a4"]),
    help="The PDF's page: else letter with US units, a4 with metric ones.",
)
@click.option("--full", is_flag=True, help="The whole sheet as text, not the first page alone.")
@ledger_option
@units_option
@json_option
def command(
    versions: tuple[str, ...],
    out: Path | None,
    paper: str | None,
    full: bool,
    ledger_folder: Path | None,
    units: str | None,
    as_json: bool,
) -> None:
    """What was done in a stage, what it gave, and what to keep an eye on.

    \b
    buildlog report stage-2
    buildlog report stage-2 --out stage-2.pdf

    Without a version: the newest stage. Prints the customer's page; --out writes the whole
    sheet.
    """
    from buildlog.desk.give.booklet_content import RecordedBook, content, newest_stage
    from buildlog.desk.give.packing import usual_paper
    from buildlog.desk.snapshot import settings
    from buildlog.errors import NotFound
    from buildlog.report.booklet.assemble import stage_sheet
    from buildlog.report.booklet.jsonout import content_json
    from buildlog.report.booklet.text import text

    with read_ledger(ledger_folder) as ledger:
        if not ledger.entries():
            raise NotFound("nothing is recorded yet", hint="record the car as it came first")
        book = RecordedBook(ledger)
        named = versions or (newest_stage(book),)
        told = content(book, settings.load().shop, named)
        shown = display(ledger, units)
    if as_json:
        say_json("report", content_json(told))
        return
    document = stage_sheet(told, shown)
    if out is None:
        say([text(document, front_only=not full), "", f"next: buildlog report {' '.join(named)} "
             f"--out {named[-1].replace(':', '-')}.pdf"])  # fmt: skip
        return
    _write(document, out, paper or usual_paper(shown))
    say(f"written: {out}")


def _write(document: object, out: Path, paper: str) -> None:
    from buildlog.errors import DiskError, UsageError
    from buildlog.report.booklet.document import Document
    from buildlog.store.disk import atomic

    assert isinstance(document, Document)
    if not out.parent.is_dir():  # a slip of the pen must not leave folders behind
        hint = f"make the folder {out.parent} first, or choose another place"
        raise DiskError(f"{out} cannot be written: its folder does not exist", hint=hint)
    ending = out.suffix.lower()
    if ending == ".html":
        from buildlog.report.booklet.html import html

        data = html(document).encode()
    elif ending == ".pdf":
        from buildlog.report.booklet.pdf import pdf

        data = pdf(document, paper)
    elif ending == ".txt":
        from buildlog.report.booklet.text import text
        from buildlog.report.lines import clean

        data = (clean(text(document)) + "\n").encode()
    else:
        raise UsageError(f"{out.name} is no kind of sheet", hint="end it in .html, .pdf or .txt")
    with atomic.disk_errors("writing the sheet"):
        atomic.replace(out, data)
