"""Mechanical changes as a table: what was, what is now, found apart from made.

Every changed field is named. Where there are many, the fields that say most get their
values and the others are named behind them; `full` gives each its values.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from buildlog.analysis.changes import Change, power_neutral
from buildlog.records.paths import Value, parts
from buildlog.report.json_parts import VIN, shown_vin
from buildlog.report.lines import clean, shorten, shorten_start, table, wrap
from buildlog.units import Quantity

ROWS = 18  # with values, before the others are only named: a diff fits about one screen

# Fields that say most about a stage, most telling first.
_TELLING = (
    "kind",
    "target_gauge",
    "id",
    "flow",
    "rated_torque",
    "compression_ratio",
    "bore",
    "stroke",
    "drive_ratio",
    "pipe_diameter",
    "ratio",
    "ratios",
    "size",
    "effectiveness",
    "control",
    "inertia",
    "distance",
)


def value_text(value: Value | None, path: str = "") -> str:
    """A value as its author wrote it; "-" where there is none, a VIN by its end."""
    if value is None:
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Quantity):
        return value.text
    if isinstance(value, tuple):
        return ", ".join(value_text(item) for item in value)
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, str):
        return shown_vin(value) if path == VIN else value.replace("\n", " ")
    return f"{value:.12g}"


def change_lines(changes: Sequence[Change], full: bool = False) -> list[str]:
    """The table of changes; changes found come under their own heading."""
    lines: list[str] = []
    for made, heading in ((True, "changed"), (False, "changed by others, as found")):
        chosen = [change for change in changes if change.made is made]
        if chosen:
            lines += _block(heading, chosen, full)
    return lines


def _block(heading: str, changes: Sequence[Change], full: bool) -> list[str]:
    valued = set(changes) if full or len(changes) <= ROWS + 6 else set(_most_telling(changes))
    tables = list(dict.fromkeys(change.assembly for change in changes))
    rows = [[heading, "", "was", "now"]]
    places: list[str | None] = [None]
    for name in tables:
        first = True
        for change in changes:
            if change.assembly == name and change in valued:
                rows.append(_row(change, name if first else "", full))
                places.append(name)
                first = False
        if first:
            rows.append([f"  {name.replace('_', ' ')}", "", "", ""])
            places.append(name)
    lines = table(rows, indent=0)
    out: list[str] = []
    for index, line in enumerate(lines):
        out.append(line)
        place = places[index]
        if place and (index + 1 == len(lines) or places[index + 1] != place):
            out += _also([c for c in changes if c.assembly == place and c not in valued])
    return out


def _row(change: Change, name: str, full: bool) -> list[str]:
    return [
        f"  {name.replace('_', ' ')}" if name else "",
        clean(change.words) if full else shorten_start(clean(change.words), 30),
        *(_cut(value_text(value, change.path), 19, full) for value in (change.old, change.new)),
    ]


def _also(others: Sequence[Change]) -> list[str]:
    """The other fields of an assembly by name, those of one piece together."""
    pieces: dict[str, list[str]] = {}
    for change in others:
        inner = parts(change.path)[1:] or [change.path]
        pieces.setdefault(" ".join(inner[:-1]).replace("_", " "), []).append(
            inner[-1].replace("_", " ")
        )
    words = [
        f"{piece} ({', '.join(names)})" if piece else ", ".join(names)
        for piece, names in pieces.items()
    ]
    return wrap(f"also {'; '.join(words)}", 9, 4) if words else []


def _most_telling(changes: Sequence[Change]) -> list[Change]:
    def rank(change: Change) -> tuple[bool, int]:
        last = change.path.rsplit(".", 1)[-1]
        place = _TELLING.index(last) if last in _TELLING else len(_TELLING)
        return (power_neutral(change.path) and last != "rated_torque", place)

    return sorted(changes, key=rank)[:ROWS]


def _cut(text: str, width: int, full: bool) -> str:
    return clean(text) if full else shorten(clean(text), width)
