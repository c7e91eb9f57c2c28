"""The parts list as CSV, for any spreadsheet, with no cell that it would take for a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from buildlog.analysis.workshop.partlife import PartLife

HEAD = ("part", "maker", "name", "number", "serial", "kind", "condition",
        "fitted_in_entry", "entry_id", "date", "by", "car_at_fitting_km", "distance_km", "basis",
        "why_unknown")  # fmt: skip
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def parts_csv(parts: Sequence[PartLife]) -> bytes:
    """One line a part; distances in km."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEAD)
    for one in parts:
        writer.writerow(_row(one))
    return out.getvalue().encode("utf-8-sig")  # the mark tells a spreadsheet the encoding


def guarded(text: str | None) -> str:
    """Text that no spreadsheet runs: an apostrophe before what it would take for a formula.

    >>> guarded("=1+1"), guarded(" @x"), guarded("T-25")
    ("'=1+1", "' @x", 'T-25')
    """
    plain = text or ""
    bare = plain.lstrip(" \u00a0")
    risky = bare.startswith((*_FORMULA, "'", "＝", "＋", "－", "＠"))
    return f"'{plain}" if risky else plain


def _row(one: PartLife) -> list[str]:
    fitted = one.fitted
    date = one.fitted_on or (fitted.date if fitted else None)
    texts = (one.name, one.identity.maker, one.maker_name, one.identity.number, one.identity.serial,
             one.identity.kind, one.condition)  # fmt: skip
    return [
        *map(guarded, texts),
        str(fitted.number) if fitted else "",
        fitted.id if fitted else "",
        date.isoformat() if date else "",
        guarded(one.by),
        _km(one.car_at_fitting),
        _km(one.distance),
        one.basis,
        guarded(one.why_unknown),
    ]


def _km(metres: float | None) -> str:
    return "" if metres is None else f"{metres / 1000:.1f}"
