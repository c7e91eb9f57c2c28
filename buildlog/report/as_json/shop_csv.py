"""Rows as CSV for a spreadsheet, in which no text can act as a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any

from buildlog.report.lines import clean

# What spreadsheets take for the start of a formula (OWASP, "CSV Injection") [from memory].
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def csv_text(rows: Sequence[Mapping[str, Any]]) -> str:
    """RFC 4180 with a header of all keys; numbers as they are, nested values flattened."""
    flat = [_flat(row) for row in rows]
    names = list(dict.fromkeys(name for row in flat for name in row))
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([guarded(name) for name in names])
    for row in flat:
        writer.writerow([guarded(row.get(name)) for name in names])
    return out.getvalue()


def guarded(value: Any) -> Any:
    """A cell: text that would be taken for a formula gets an apostrophe, numbers are untouched.

    >>> guarded("=1+1"), guarded("-5"), guarded(-5.0), guarded(None), guarded("a=b")
    ("'=1+1", "'-5", -5.0, '', 'a=b')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return value
    text = clean(str(value))  # it goes to the terminal, too
    return f"'{text}" if text.startswith(_FORMULA) else text


def _flat(row: Mapping[str, Any], prefix: str = "") -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in row.items():
        if isinstance(value, Mapping):
            found |= _flat(value, f"{prefix}{name}_")
        elif isinstance(value, list | tuple):
            found[f"{prefix}{name}"] = "; ".join(map(_words, value)) or None
        else:
            found[f"{prefix}{name}"] = value
    return found


def _words(item: Any) -> str:
    if isinstance(item, Mapping):
        return " ".join(str(value) for value in item.values() if value is not None)
    return f"{item:.12g}" if isinstance(item, float) else str(item)
