"""One stage's sheet, or several stages', as it goes with the invoice."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.desk.give.booklet_content import RecordedBook, content, newest_stage
from buildlog.desk.give.packing import usual_paper
from buildlog.desk.snapshot import settings
from buildlog.errors import DiskError, NotFound, UsageError
from buildlog.report.booklet.assemble import stage_sheet
from buildlog.store.disk import atomic

if TYPE_CHECKING:
    from buildlog.report.booklet.content import BookletContent
    from buildlog.report.booklet.document import Document
    from buildlog.report.numbers import Display
    from buildlog.store.ledger.reader import Reader


def stage_content(ledger: Reader, versions: Sequence[str] = ()) -> BookletContent:
    """What was done in the stages, what it gave, and what to look at; of the newest without any."""
    if not ledger.entries():
        raise NotFound("nothing is recorded yet", hint="record the car as it came first")
    book = RecordedBook(ledger)
    return content(book, settings.load().shop, versions or (newest_stage(book),))


def write_sheet(told: BookletContent, out: Path, show: Display, paper: str | None = None) -> None:
    """Write the whole sheet as .html, .pdf or .txt, by the file's ending.

    `paper` is "letter" or "a4", else as the units say.
    """
    document = stage_sheet(told, show)
    if not out.parent.is_dir():  # a slip of the pen must not leave folders behind
        hint = f"make the folder {out.parent} first, or choose another place"
        raise DiskError(f"{out} cannot be written: its folder does not exist", hint=hint)
    data = _as_file(document, out, paper or usual_paper(show))
    with atomic.disk_errors("writing the sheet"):
        atomic.replace(out, data)


def _as_file(document: Document, out: Path, paper: str) -> bytes:
    ending = out.suffix.lower()
    if ending == ".html":
        from buildlog.report.booklet.html import html

        return html(document).encode()
    if ending == ".pdf":
        from buildlog.report.booklet.pdf import pdf

        return pdf(document, paper)
    if ending == ".txt":
        from buildlog.report.booklet.text import text
        from buildlog.report.lines import clean

        return (clean(text(document)) + "\n").encode()
    raise UsageError(f"{out.name} is no kind of sheet", hint="end it in .html, .pdf or .txt")
