"""A file whose last line is cut off: the rows above it are whole and can be read."""

from __future__ import annotations

import re

from buildlog.errors import InvalidInput
from buildlog.rawfiles.decode import decode

_RAGGED = re.compile(r"the line has (\d+) cells? where the table has (\d+)")
_LINE = re.compile(r", line (\d+)$")


def without_cut_line(data: bytes, name: str, problem: InvalidInput) -> tuple[bytes, int] | None:
    """The file up to its last line, as UTF-8, and that line's number, where the problem is that
    the last line has too few cells; None for any other problem.

    >>> cut = b"n,P\\n3000,80\\n3100,84\\n32"
    >>> error = InvalidInput("the line has 1 cell where the table has 2", where="a.csv, line 4")
    >>> without_cut_line(cut, "a.csv", error)
    (b'n,P\\n3000,80\\n3100,84\\n', 4)
    """
    cells, line = _RAGGED.match(problem.what), _LINE.search(problem.where or "")
    if not cells or not line or int(cells[1]) >= int(cells[2]):
        return None
    lines = decode(data, name).rstrip("\r\n").replace("\r", "\n").split("\n")
    if int(line[1]) != len(lines):
        return None
    return ("\n".join(lines[:-1]) + "\n").encode(), len(lines)
