"""A document as plain text, for a terminal or an e-mail."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.report.booklet.document import (
    Block,
    Bullets,
    Code,
    Document,
    FactTable,
    Note,
    PageFigure,
    PageHeading,
    PageTable,
    Para,
    Section,
    plain,
)
from buildlog.report.lines import shorten, table, wrap

_WIDEST = 30  # of a column


def text(document: Document, *, front_only: bool = False) -> str:
    """The whole document."""
    lines = [document.title, f"{document.kicker}: {document.subtitle}"]
    lines += [f"  {label}: {value}" for label, value in document.strip]
    lines += ["", *wrap(plain(document.answer))] if document.answer else []
    sections = document.front if front_only else (*document.front, *document.sections)
    for section in sections:
        lines += ["", *_section(section)]
    lines += ["", *(plain(one) for one in document.colophon)]
    return "\n".join(line for said in lines for line in said.split("\n"))


def _section(section: Section) -> Iterator[str]:
    yield section.title.upper()
    for block in section.blocks:
        yield from _block(block)


def _block(block: Block) -> Iterator[str]:
    if isinstance(block, Para):
        yield from wrap(plain(block.content), 2)
    elif isinstance(block, Bullets):
        for item in block.items:
            yield from wrap(f"- {plain(item)}", 4, 2)
    elif isinstance(block, FactTable):
        yield from table([[label, plain(value)] for label, value in block.items])
    elif isinstance(block, PageTable):
        yield from _table(block)
    elif isinstance(block, PageFigure):
        yield from wrap(f"[figure: {block.alt}]", 2)
        for numbers in block.data:
            yield from _table(numbers)
    elif isinstance(block, PageHeading):
        yield from ("", block.text)
    elif isinstance(block, Note):
        yield from wrap(f"{block.title}: {plain(block.content)}", 4, 2)
    elif isinstance(block, Code):
        yield from (f"    {line}" for line in block.lines)


def _table(block: PageTable) -> Iterator[str]:
    yield from wrap(block.caption, 2)
    rows = [list(block.head)]
    rows += [
        [shorten(plain(cell), _WIDEST if len(block.head) > 3 else 44) for cell in row]
        for row in block.rows
    ]
    yield from table(rows, right=block.right, indent=4)
    if block.note:
        yield from wrap(block.note, 4)
