"""Merged fields applied to the text of car.toml, comments and order kept."""

from __future__ import annotations

from buildlog.errors import InvalidInput
from buildlog.records.leaf_text import Leaves, differing, edited, fields


def with_values(data: bytes, meant: Leaves) -> bytes:
    """The text with these leaves; InvalidInput if it cannot be edited to hold them."""
    text = edited(data, meant)
    if wrong := differing(fields(text), meant):
        raise InvalidInput(
            f"car.toml cannot be edited to hold {min(wrong)} as merged",
            hint="set it with `buildlog set`, then adopt again",
        )
    return text
