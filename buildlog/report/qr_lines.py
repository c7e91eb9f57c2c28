"""A QR code in letters of a terminal: two rows of its modules in a line, dark on light."""

from __future__ import annotations

import segno

_BLOCKS = {(0, 0): "█", (0, 1): "▀", (1, 0): "▄", (1, 1): " "}  # dark modules are the ground
_QUIET = 4  # modules around it, as ISO/IEC 18004 asks


def qr_lines(text: str) -> list[str]:
    """The code of an address, for a terminal of light letters on a dark ground."""
    rows = [
        list(row) for row in segno.make(text, error="l", micro=False).matrix_iter(border=_QUIET)
    ]
    if len(rows) % 2:
        rows.append([0] * len(rows[0]))
    pairs = zip(rows[::2], rows[1::2], strict=True)
    return ["".join(_BLOCKS[a, b] for a, b in zip(*pair, strict=True)) for pair in pairs]
