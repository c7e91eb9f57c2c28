"""The units the trade writes, as tests/generate_unit_table.py had them from pint."""

from __future__ import annotations

from pathlib import Path

_LINES = [
    line.split("\t")
    for line in Path(__file__).with_suffix(".tsv").read_text(encoding="utf-8").splitlines()
]

# (text, dimension, factor, offset): SI value = number * factor + offset
ROWS = tuple(
    (text, kind, float(factor), float(offset)) for text, kind, factor, offset, *_ in _LINES
)

# dimension -> its SI unit in pint's words
SI = {kind: si for _, kind, *_, si in _LINES if si}

# (text, dimension) -> pint's words; a level of sound has none
IN_PINT = {(text, kind): words for text, kind, *_, words, _ in _LINES if words}
