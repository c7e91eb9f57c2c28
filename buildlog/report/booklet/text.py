"""A document as plain text, for a terminal or an e-mail."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.report.booklet import document as doc
from buildlog.report.lines import shorten, table, wrap

_WIDEST = 30  # of a column


def text(document: doc.Document, *, front_only: bool = False) -> str:
    """The whole document."""
    lines = [document.title, f"{document.kicker}: {document.subtitle}"]
    lines += [f"  {label}: {value}" for label, value in document.strip]
    lines += ["", *wrap(doc.plain(document.answer))] if document.answer else []
    sections = document.front if front_only else (*document.front, *document.sections)
    for section in sections:
        lines += ["", *_section(section)]
    lines += ["", *(doc.plain(one) for one in document.colophon)]
    return "\n".join(line for said in lines for line in said.split("\n"))


def _section(section: doc.Section) -> Iterator[str]:
    yield section.title.upper()
    for block in section.blocks:
        yield from _block(block)


def _block(block: doc.Block) -> Iterator[str]:
    if isinstance(block, doc.Para):
        yield from wrap(doc.plain(block.content), 2)
    elif isinstance(block, doc.Bullets):
        for item in block.items:
            yield from wrap(f"- {doc.plain(item)}", 4, 2)
    elif isinstance(block, doc.FactTable):
        yield from table([[label, doc.plain(value)] for label, value in block.items])
    elif isinstance(block, doc.PageTable):
        yield from _table(block)
    elif isinstance(block, doc.PageFigure):
        yield from wrap(f"[figure: {block.alt}]", 2)
        for numbers in block.data:
            yield from _table(numbers)
    elif isinstance(block, doc.PageHeading):
        yield from ("", block.text)
    elif isinstance(block, doc.Code):
        yield from (f"    {line}" for line in block.lines)


def _table(block: doc.PageTable) -> Iterator[str]:
    yield from wrap(block.caption, 2)
    rows = [list(block.head)]
    rows += [
        [shorten(doc.plain(cell), _WIDEST if len(block.head) > 3 else 44) for cell in row]
        for row in block.rows
    ]
    yield from table(rows, right=block.right, indent=4)
    if block.note:
        yield from wrap(block.note, 4)
