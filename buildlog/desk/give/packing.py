"""What a handover's package holds, file by file."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from buildlog.report.booklet.content import BookletContent
from buildlog.report.booklet.document import Document, PageFigure

if TYPE_CHECKING:
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.numbers import Display


def payload(
    book: Snapshot, content: BookletContent, show: Display, *, pdf: bool, paper: str | None = None
) -> dict[str, bytes]:
    """Everything below data/ but the bundle. `paper`: "letter" or "a4", else as the units say."""
    from buildlog.report.booklet import html
    from buildlog.report.booklet.assemble import booklet
    from buildlog.report.booklet.jsonout import content_json
    from buildlog.report.booklet.partslist import parts_csv

    document = booklet(content, show)
    body = {"format": "buildlog/history/1", **content_json(content)}
    files = {
        "booklet.html": html.html(document).encode(),
        "history.json": (json.dumps(body, indent=1, allow_nan=False) + "\n").encode(),
        "parts.csv": parts_csv(content.parts),
        **plots(document),
        **raw_files(book),
        **photos(book, content),
    }
    if pdf:
        from buildlog.report.booklet.pdf import pdf as made

        files["booklet.pdf"] = made(document, paper or usual_paper(show))
    return files


def usual_paper(show: Display) -> str:
    """The page that goes with the units."""
    return "letter" if show.system == "us" else "a4"


def plots(document: Document) -> dict[str, bytes]:
    """The booklet's figures as files of their own, with the sentence that stands for each."""
    from markupsafe import escape

    found: dict[str, bytes] = {}
    for section in document.sections:
        for block in section.blocks:
            if isinstance(block, PageFigure):
                words = f"<title>{escape(block.caption)}</title><desc>{escape(block.alt)}</desc>"
                head, tag, rest = block.svg.partition(b"<svg ")
                inside, end, rest = rest.partition(b">")
                found[f"plots/{block.name}.svg"] = head + tag + inside + end + words.encode() + rest
    return found


def raw_files(book: Snapshot) -> dict[str, bytes]:
    """The raw dyno files and their session.toml, byte for byte as recorded."""
    newest = book.entries[-1]
    return {
        path: book.ledger.read(newest, path)
        for path in book.ledger.files(newest)
        if path.startswith("dyno/")
    }


def photos(book: Snapshot, content: BookletContent) -> dict[str, bytes]:
    """Copies of the photos without the place where they were taken."""
    from buildlog.errors import InvalidInput
    from buildlog.store.exchange import photo

    found: dict[str, bytes] = {}
    newest = book.entries[-1]
    held = book.ledger.files(newest)
    for one in content.attachments:
        data = book.ledger.read(newest, one.path) if one.path in held else b""
        if photo.is_photo(data):
            try:
                found[one.path.replace("attachments/", "photos/", 1)] = photo.strip(data).data
            except InvalidInput:
                continue  # torn: it stays in the history as it is, no copy is made
    return found
