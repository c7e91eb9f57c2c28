"""A document as plain text, for a terminal or an e-mail."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from buildlog.report.booklet import document as doc
from buildlog.report.lines import PAGE, shorten, table, wrap

_WIDEST = 30  # of a column
_INDENT = 4


def text(document: doc.Document) -> str:
    """The whole document."""
    lines = [document.title, f"{document.kicker}, {document.at}", *wrap(doc.plain(document.line))]
    lines += ["", *wrap(doc.plain(document.lead)), ""]
    lines += [line for block in document.front for line in _block(block)]
    for section in document.sections:
        lines += ["", section.title.upper()]
        lines += [line for block in section.blocks for line in _block(block)]
    lines += ["", *wrap(doc.plain(document.proof))]
    return "\n".join(line for said in lines for line in said.split("\n"))


def _block(block: doc.Block) -> Iterator[str]:
    match block:
        case doc.Para():
            yield from wrap(doc.plain(block.content), 2)
        case doc.Bullets():
            for item in block.items:
                yield from wrap(f"- {doc.plain(item)}", 4, 2)
        case doc.FactTable():
            for label, value in block.items:
                yield from wrap(f"{label:<12}  {doc.plain(value)}", 16, 2)
        case doc.PageTable():
            yield from _table(block)
        case doc.PageFigure():
            yield from wrap(f"[figure: {block.alt}]", 2)
            yield from wrap(block.caption, 2)
            for numbers in block.data:
                yield from _table(numbers)
        case doc.Photos():
            yield from (f"  [photo: {one.caption}]" for one in block.items)
        case doc.PageHeading():
            yield from ("", block.text)
        case doc.Code():
            yield from (f"    {line}" for line in block.lines)
        case doc.Columns():
            for one in (*block.left, *block.right):
                yield from _block(one)


def _table(block: doc.PageTable) -> Iterator[str]:
    """A table; what does not fit on the screen with its cells cut has them whole, in lines."""
    yield from wrap(block.caption, 2)
    most = _WIDEST if len(block.head) > 3 else 44
    many = max(len(block.head), *(len(row) for row in block.rows)) if block.rows else 0
    rows = [list(block.head), *([doc.plain(cell) for cell in row] for row in block.rows)]
    rows = [row + [""] * (many - len(row)) for row in rows]
    cut = [rows[0], *([shorten(cell, most) for cell in row] for row in rows[1:])]
    room = PAGE.width - _INDENT - 2 * (len(rows[0]) - 1)
    fits = sum(map(_widest, zip(*cut, strict=True))) <= room
    yield from table(cut if fits else rows, right=block.right, indent=_INDENT)
    if block.note:
        yield from wrap(block.note, 4)


def _widest(cells: Iterable[str]) -> int:
    return max(map(len, cells))
