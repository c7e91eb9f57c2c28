"""What goes out as files: a handover's package, the sheet of a stage that goes with the invoice."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from buildlog.desk.give import made_files
from buildlog.desk.give.booklet_content import Tell, content, newest_stage, silent
from buildlog.desk.snapshot import settings
from buildlog.desk.snapshot.opening import recorded
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import DiskError, InvalidInput, MissingExtra, NotFound, UsageError
from buildlog.report.booklet import assemble
from buildlog.report.booklet.content import BookletContent
from buildlog.report.booklet.document import Document, PageFigure, flat
from buildlog.report.numbers import Display
from buildlog.store.ledger.reader import Reader


def payload(
    book: Snapshot,
    told: BookletContent,
    show: Display,
    *,
    pdf: bool,
    paper: str | None = None,
    tell: Tell = silent,
) -> tuple[dict[str, bytes], str | None]:
    """Everything below data/ but the bundle, and why there is no PDF where one was wanted.
    `paper`: "letter" or "a4", else as the units say."""
    from buildlog.report.booklet import html
    from buildlog.report.booklet.jsonout import content_json
    from buildlog.report.booklet.partslist import parts_csv

    document = assemble.booklet(told, show)
    tell(0.5)
    body = {"format": "buildlog/history/1", **content_json(told)}
    files = {
        "booklet.html": html.html(document).encode(),
        "history.json": (json.dumps(body, indent=1, allow_nan=False) + "\n").encode(),
        "parts.csv": parts_csv(told.parts),
        **plots(document),
        **raw_files(book),
        **photos(book, told),
    }
    tell(0.65)
    if pdf:
        from buildlog.report.booklet.pdf import pdf as made

        try:
            files["booklet.pdf"] = made(document, paper or usual_paper(show))
        except (MissingExtra, DiskError) as error:  # a package without a PDF is whole, too
            return files, error.what
    return files, None


def usual_paper(show: Display) -> str:
    """The page that goes with the units."""
    return "letter" if show.system == "us" else "a4"


def plots(document: Document) -> dict[str, bytes]:
    """The booklet's pictures as files of their own, with title and description."""
    from buildlog.report.pictures.printing import render

    blocks = [*document.front, *(block for one in document.sections for block in one.blocks)]
    return {
        f"plots/{block.name}.svg": render(block.wide, "svg")
        for block in flat(blocks)
        if isinstance(block, PageFigure)
    }


def raw_files(book: Snapshot) -> dict[str, bytes]:
    """The raw dyno files and their session.toml, byte for byte as recorded."""
    newest = book.entries[-1]
    return {
        path: book.ledger.read(newest, path)
        for path in book.ledger.files(newest)
        if path.startswith("dyno/")
    }


def photos(book: Snapshot, told: BookletContent) -> dict[str, bytes]:
    """Copies of the photos without the place where they were taken."""
    from buildlog.store.exchange import photo

    found: dict[str, bytes] = {}
    newest = book.entries[-1]
    held = book.ledger.files(newest)
    for one in told.attachments:
        data = book.ledger.read(newest, one.path) if one.path in held else b""
        if photo.is_photo(data):
            try:
                found[one.path.replace("attachments/", "photos/", 1)] = photo.strip(data).data
            except InvalidInput:
                continue  # torn: it stays in the history as it is, no copy is made
    return found


def stage_content(
    ledger: Reader, versions: Sequence[str] = (), tell: Tell = silent
) -> BookletContent:
    """What was done in the stages, what it gave, and what to look at; of the newest without any."""
    if not ledger.entries():
        raise NotFound("nothing is recorded yet", hint="record the car as it came first")
    book = recorded(ledger)
    return content(book, settings.load().shop, versions or (newest_stage(book),), tell)


@dataclass(frozen=True)
class WrittenSheet:
    """A sheet that was written, and why it is no PDF where one was wanted."""

    path: Path
    no_pdf: str | None = None


def write_sheet(
    told: BookletContent, out: Path, show: Display, paper: str | None = None
) -> WrittenSheet:
    """Write the whole sheet as .html, .pdf or .txt, by the file's ending.

    `paper` is "letter" or "a4", else as the units say.
    """
    return written_as(assemble.stage_sheet(told, show), out, show, paper)


def written_as(
    document: Document, out: Path, show: Display, paper: str | None = None,
    instead: Path | None = None,
) -> WrittenSheet:  # fmt: skip
    """Write a document by the file's ending; DiskError where its folder does not exist.

    Where nothing makes a PDF it is written as HTML, which a browser prints: beside, under a name
    that no file has, or not again where `instead` is that HTML already.
    """
    made_files.refuse_nowhere(out)  # before a browser is started for it
    try:
        data = _as_file(document, out, paper or usual_paper(show))
    except (MissingExtra, DiskError) as error:
        if instead is not None:
            return WrittenSheet(instead, error.what)
        page = out.with_suffix(".html")
        page = out.with_name(f"{out.name}.html") if page.exists() else page
        made_files.put(page, _as_file(document, page, ""), "the sheet")
        return WrittenSheet(page, error.what)
    made_files.put(out, data, "the sheet")
    return WrittenSheet(out)


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
