"""What a column of a raw file can hold, and the dimensions in which it may be given."""

from __future__ import annotations

from pathlib import Path

_LINES = Path(__file__).with_suffix(".tsv").read_text(encoding="utf-8").splitlines()
CHANNELS: dict[str, tuple[str, ...]] = {
    name: tuple(dimensions.split()) for name, dimensions in (line.split("\t") for line in _LINES)
}
