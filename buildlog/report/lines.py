"""Plain text for a terminal: tables, wrapped lines, findings."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence

from buildlog.findings import Finding as Finding
from buildlog.findings import worst_first

WIDTH = 80
_HIDDEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def clean(text: str) -> str:
    """Text with every character that a terminal would obey written as an escape.

    >>> clean("a\\x1b[31mb")
    'a\\\\x1b[31mb'
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        c if c == "\n" or unicodedata.category(c) not in _HIDDEN else _escaped(c) for c in text
    )


def _escaped(character: str) -> str:
    code = ord(character)
    return f"\\x{code:02x}" if code < 256 else f"\\u{code:04x}"


def table(
    rows: Iterable[Sequence[str]], right: Iterable[int] = (), indent: int = 2, gap: int = 2
) -> list[str]:
    """Rows as aligned columns; `right` names the columns that are set flush right."""
    body = [[clean(cell) for cell in row] for row in rows]
    if not body:
        return []
    columns = max(len(row) for row in body)
    body = [row + [""] * (columns - len(row)) for row in body]
    widths = [max(len(row[i]) for row in body) for i in range(columns)]
    flush = set(right)
    return [
        (
            " " * indent
            + (" " * gap).join(
                cell.rjust(widths[i]) if i in flush else cell.ljust(widths[i])
                for i, cell in enumerate(row)
            )
        ).rstrip()
        for row in body
    ]


def cut_table(
    rows: Sequence[Sequence[str]], full: bool, right: Iterable[int] = (), least: int = 12
) -> list[str]:
    """A table whose last column is cut at the edge of the page; whole with `full`."""
    head = table([row[:-1] for row in rows], right=right, indent=0, gap=1)
    room = max(map(len, head)) + 1
    cells = [row[-1] if full else shorten(row[-1], max(WIDTH - room, least)) for row in rows]
    return [f"{line.ljust(room)}{cell}".rstrip() for line, cell in zip(head, cells, strict=True)]


def wrap(text: str, indent: int = 0, first: int | None = None, width: int = WIDTH) -> list[str]:
    """Text broken at blanks; continuation lines are indented."""
    import textwrap

    lead = " " * (indent if first is None else first)
    return textwrap.wrap(
        clean(text), width, initial_indent=lead, subsequent_indent=" " * indent,
        break_long_words=False, break_on_hyphens=False,
    ) or [""]  # fmt: skip


def shorten(text: str, width: int) -> str:
    """Text cut to a width, the cut shown."""
    return text if len(text) <= width else text[: max(width - 3, 1)].rstrip() + "..."


def shorten_start(text: str, width: int) -> str:
    """Text cut at its start: of a field's name the end says most."""
    return text if len(text) <= width else "..." + text[3 - width :].lstrip()


def finding_lines(findings: Iterable[Finding], indent: int = 2) -> list[str]:
    """Findings, worst first: severity, sentence, and what to do below it."""
    lines: list[str] = []
    for finding in worst_first(findings):
        where = f"{finding.where}: " if finding.where else ""
        lead = f"{finding.severity:<8}"
        lines += wrap(f"{lead}{where}{finding.text}", indent + 8, indent)
        if finding.hint:
            lines += wrap(f"do: {finding.hint}", indent + 12, indent + 8)
    return lines
