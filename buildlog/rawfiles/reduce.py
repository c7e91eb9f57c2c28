"""A file that is too large to enter a ledger, cut to lines of it at full rate: a pull's to its
sweeps, another logger's to the minutes of the pulls.

Every line kept is the file's own, to the digit. What was cut is said in lines above the table.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from buildlog.rawfiles.decode import Source, line_chunks, text_of
from buildlog.rawfiles.layout import Layout

Lines = tuple[int, int]  # first and last line of the file, from 1, both included


SWEEPS, MINUTES = "the full-load sweeps", "the minutes of the pulls"


def reduced(
    source: Source,
    layout: Layout,
    stretches: Sequence[Lines],
    digest: str,
    size: int,
    what: str = SWEEPS,
) -> bytes:
    """The reduced file as UTF-8: what was cut, the table's header, each stretch's lines."""
    heads = range(layout.first_line - _header_lines(layout), layout.first_line)
    wanted = [(heads.start, heads.stop - 1)] if heads else []
    kept = [*wanted, *stretches]
    blocks: list[list[str]] = [[] for _ in kept]
    total = 0
    for begin, chunk in _counted(source, layout):
        total = begin + chunk.count(b"\n") - 1
        here = [(block, part) for block, part in zip(blocks, kept, strict=True)
                if part[0] <= total and part[1] >= begin]  # fmt: skip
        lines = _lines(chunk, layout) if here else []
        for block, (first, last) in here:
            block += lines[max(first - begin, 0) : last - begin + 1]
    head = blocks[0] if wanted else []
    # No line between the stretches: a table without breaks is read ten times faster.
    body = [line for block in blocks[len(wanted) :] for line in block]
    lines = [*_said(layout.name, stretches, digest, size, total, what), "", *head, *body]
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


def _counted(source: Source, layout: Layout) -> Iterator[tuple[int, bytes]]:
    """Whole lines, about a megabyte at a time, each time with the number of the first."""
    number = 1
    for chunk in line_chunks(source, layout.name, layout.encoding):
        yield number, chunk
        number += chunk.count(b"\n")


def _lines(chunk: bytes, layout: Layout) -> list[str]:
    text = text_of(chunk, layout.encoding).removesuffix("\n")
    return [line.rstrip("\r") for line in text.split("\n")]


def _said(
    name: str, stretches: Sequence[Lines], digest: str, size: int, total: int, what: str
) -> list[str]:
    """What was cut. Each line holds a colon and no delimiter that a table would be taken from."""
    kept = " and ".join(f"{first} to {last}" for first, last in stretches)
    return [
        f"# reduced: {what} of {name} at full rate",
        f"# kept: lines {kept} of {total}; all others were cut",
        f"# whole file: {size} bytes; kept outside the ledger",
        f"# SHA-256: {digest}",
    ]
