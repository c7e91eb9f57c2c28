"""Numbers printed with the same number of decimals in all rows, read for a whole column at once.

Loggers print like that, and then a cell is a whole number over a power of ten. With at most 15
digits both are exact in a float, and their quotient is the correctly rounded value: bit for bit
what a careful reader of one cell after another gives (W. D. Clinger, "How to read floating point
numbers accurately", PLDI 1990, from memory). Anything else is left to that reader.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Places = NDArray[np.intp]
MOST_DIGITS = 15


def cell_ends(signs: Bytes, delimiter: str, width: int) -> Places | None:
    """Places of delimiters and newlines, a row per line; None where a line has another width."""
    ends = np.flatnonzero((signs == ord(delimiter)) | (signs == 10))
    pattern = delimiter.encode() * (width - 1) + b"\n"
    if signs[ends].tobytes() != pattern * (len(ends) // width):
        return None
    return ends.reshape(-1, width)


def read_columns(signs: Bytes, ends: Places, wanted: Sequence[int], point: str) -> Floats | None:
    """The wanted columns, or None where one of them is not printed with fixed decimals.

    >>> signs = np.frombuffer(b"3000;-80,5\\n950;7,0\\n", np.uint8)
    >>> read_columns(signs, cell_ends(signs, ";", 2), [1], ",").tolist()
    [[-80.5], [7.0]]
    """
    values = np.empty((len(ends), len(wanted)))
    for place, index in enumerate(wanted):
        before = ends[:, index - 1] if index else np.append(-1, ends[:-1, -1])
        stops = ends[:, index]
        if index == ends.shape[1] - 1 and (signs[stops - 1] == 13).all():
            stops = stops - 1
        column = _fixed(signs, before + 1, stops, ord(point))
        if column is None:
            return None
        values[:, place] = column
    return values


def _fixed(signs: Bytes, starts: Places, stops: Places, point: int) -> Floats | None:
    """One column: digits set flush right, the sign taken off, the point taken out."""
    lengths = stops - starts
    longest = int(lengths.max())
    if lengths.min() < 1 or longest > MOST_DIGITS:
        return None
    from_right = np.arange(longest, 0, -1)
    cells = signs[np.maximum(stops[:, None] - from_right, 0)]
    cells[from_right > lengths[:, None]] = 48
    negative = signs[starts] == 45
    cells[negative, longest - lengths[negative]] = 48
    at = np.flatnonzero(cells[0] == point)
    if at.size == 1 and (cells[:, at[0]] == point).all():
        cells = np.delete(cells, at[0], axis=1)
    digits = cells - 48
    if (digits > 9).any() or (lengths - negative - at.size < 1).any():
        return None
    whole: Floats = digits @ 10.0 ** np.arange(digits.shape[1] - 1, -1, -1)
    decimals = longest - 1 - int(at[0]) if at.size else 0
    signed: Floats = np.where(negative, -whole, whole)
    return signed / 10.0**decimals
