"""A file that is too large to enter a ledger, cut to the lines of its sweeps at full rate.

Every line kept is the file's own, to the digit. What was cut is said in lines above the table.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from buildlog.rawfiles.decode import Source, line_chunks, text_of
from buildlog.rawfiles.layout import Layout

Lines = tuple[int, int]  # first and last line of the file, from 1, both included


def reduced(
    source: Source, layout: Layout, sweeps: Sequence[Lines], digest: str, size: int
) -> bytes:
    """The reduced file as UTF-8: what was cut, the table's header, each sweep's lines."""
    heads = range(layout.first_line - _header_lines(layout), layout.first_line)
    wanted = [(heads.start, heads.stop - 1)] if heads else []
    kept = [*wanted, *sweeps]
    blocks: list[list[str]] = [[] for _ in kept]
    total = 0
    for number, text in _numbered(source, layout):
        total = number
        for block, (first, last) in zip(blocks, kept, strict=True):
            if first <= number <= last:
                block.append(text)
    head = blocks[0] if wanted else []
    # No line between the sweeps: a table without breaks is read ten times faster.
    body = [line for block in blocks[len(wanted) :] for line in block]
    lines = [*_said(layout.name, sweeps, digest, size, total), "", *head, *body]
    return ("\n".join(lines) + "\n").encode()


def _header_lines(layout: Layout) -> int:
    """Lines from the header's first to the first of the data; a rule below a header counts."""
    noted = {number for number, _ in layout.above}
    count = 0
    while layout.named and layout.first_line - count - 1 >= 1:
        if layout.first_line - count - 1 in noted:
            break
        count += 1
    return count


def _numbered(source: Source, layout: Layout) -> Iterator[tuple[int, str]]:
    number = 0
    for chunk in line_chunks(source, layout.name, layout.encoding):
        for text in text_of(chunk, layout.encoding).removesuffix("\n").split("\n"):
            number += 1
            yield number, text.rstrip("\r")


def _said(name: str, sweeps: Sequence[Lines], digest: str, size: int, total: int) -> list[str]:
    """What was cut. Each line holds a colon and no delimiter that a table would be taken from."""
    kept = " and ".join(f"{first} to {last}" for first, last in sweeps)
    return [
        f"# reduced: the full-load sweeps of {name} at full rate",
        f"# kept: lines {kept} of {total}; all others were cut",
        f"# whole file: {size} bytes; kept outside the ledger",
        f"# SHA-256: {digest}",
    ]
