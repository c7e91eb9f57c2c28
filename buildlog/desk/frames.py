"""Frames of pandas, for who has it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buildlog.errors import MissingExtra

if TYPE_CHECKING:
    from pandas import DataFrame


def frame(columns: Mapping[str, Any]) -> DataFrame:
    """Columns as a frame; MissingExtra where pandas is not installed."""
    try:
        from pandas import DataFrame
    except ImportError:
        raise MissingExtra(
            "a frame needs pandas, which is not installed",
            hint="pip install pandas; the arrays of .pulls need nothing",
        ) from None
    return DataFrame(dict(columns))
