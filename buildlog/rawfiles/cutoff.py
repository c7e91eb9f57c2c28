"""A file whose last line is cut off: the rows above it are whole and can be read."""

from __future__ import annotations

from buildlog.rawfiles.decode import decode
from buildlog.rawfiles.layout import RaggedLine


def without_cut_line(data: bytes, name: str, problem: RaggedLine) -> tuple[bytes, int] | None:
    """The file up to its last line, as UTF-8, and that line's number, where it is the one that is
    ragged and has too few cells; else None."""
    lines = decode(data, name).rstrip("\r\n").replace("\r", "\n").split("\n")
    if problem.cells >= problem.width or problem.line != len(lines):
        return None
    return ("\n".join(lines[:-1]) + "\n").encode(), len(lines)
