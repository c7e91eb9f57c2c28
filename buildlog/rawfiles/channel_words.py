"""The channels a raw file can carry, with the words of `words.toml` and what is usual of each."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from buildlog import channels

WORDS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("words.toml").read_text("utf-8"))

Size = tuple[str, float, float]  # a unit, and the range of the largest value in it


@dataclass(frozen=True)
class Channel:
    """A named quantity: the dimensions it may be given in and the words that head it.

    largest: where its largest value over a pull should lie. sizes: what the largest value alone
    suggests of the unit. moves: it moves in any pull.
    """

    name: str
    dimensions: tuple[str, ...]
    words: frozenset[str]
    largest: Size | None
    sizes: tuple[Size, ...]
    moves: bool


def phrases(text: str) -> list[str]:
    """Words or groups of words that stand behind each other with commas, over several lines."""
    return [phrase.strip() for phrase in " ".join(text.split()).split(",")]


def _channel(name: str, table: dict[str, Any]) -> Channel:
    words = frozenset([*phrases(table["words"]), name.replace("_", " ")])
    largest = tuple(table["largest"]) if "largest" in table else None
    sizes = tuple(tuple(one) for one in table.get("sizes", ()))
    dimensions, moves = channels.CHANNELS[name], table.get("moves", False)
    return Channel(name, dimensions, words, largest, sizes, moves)


CHANNELS = {name: _channel(name, table) for name, table in WORDS["channel"].items()}
