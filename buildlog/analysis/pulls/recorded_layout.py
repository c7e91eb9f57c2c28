"""The layout of a raw file between the words of session.toml and the reader of raw files."""

from __future__ import annotations

from typing import Any

from buildlog.rawfiles.cells import SPACES, Dialect
from buildlog.rawfiles.layout import KnownLayout, Layout, known_of
from buildlog.records.session import RawLayout

_DELIMITERS = {"tab": "\t", "comma": ",", "semicolon": ";", "bar": "|", "spaces": SPACES}
_DECIMALS = {"point": ".", "comma": ","}
_GROUPINGS = {
    **_DECIMALS, "space": " ", "no-break-space": "\u00a0", "thin-space": "\u202f",
    "apostrophe": "'", "quote": "\u2019",
}  # fmt: skip


def known_layout(said: RawLayout) -> KnownLayout | None:
    """What session.toml says, for the reader to confirm; None where it does not say all."""
    if not (said.delimiter and said.decimal and said.first_line and said.columns):
        return None
    dialect = Dialect(
        _DELIMITERS[said.delimiter],
        _DECIMALS[said.decimal],
        _GROUPINGS[said.grouping] if said.grouping else None,
    )
    words = tuple(column - 1 for column in said.words)
    width = said.columns + said.trailing
    return KnownLayout(dialect, said.first_line, said.columns, width, words)


def layout_table(layout: Layout) -> dict[str, Any]:
    """A layout that was found, as session.toml keeps it."""
    known = known_of(layout)
    table: dict[str, Any] = {
        "delimiter": _word(_DELIMITERS, known.dialect.delimiter),
        "decimal": _word(_DECIMALS, known.dialect.decimal),
    }
    if known.dialect.grouping is not None:
        table["grouping"] = _word(_GROUPINGS, known.dialect.grouping)
    table |= {"first_line": known.first_line, "columns": known.columns}
    if known.width > known.columns:
        table["trailing"] = True
    if known.words:
        table["words"] = [index + 1 for index in known.words]
    return table


def _word(words: dict[str, str], sign: str) -> str:
    return next(word for word, meant in words.items() if meant == sign)
