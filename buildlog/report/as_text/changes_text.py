"""Mechanical changes as a table: what was, what is now, found apart from made.

Every changed field is named. Where there are many, the fields that say most get their
values and the others are named behind them; `full` gives each its values. A diff's screen
has its own few lines: the weightiest changes, and how many more there are.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from itertools import zip_longest

from buildlog.analysis.car.changes import Change, power_neutral
from buildlog.records.key_words import key_words
from buildlog.records.paths import Value, parts
from buildlog.report.as_json.json_parts import VIN, shown_vin
from buildlog.report.lines import PAGE, clean, pieces, shorten, shorten_start, table, wrap
from buildlog.report.numbers import declared
from buildlog.report.weight import rank
from buildlog.units import Quantity, as_written

ROWS = 18  # with values, before the others are only named
FEW = 8  # on a diff's screen, before the others are only counted
NAMED = 4  # assemblies that those are in

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


_WRITTEN_FOR = "calibration.written_for"  # whose values are those of other fields, as texts


def value_text(value: Value | None, path: str = "") -> str:
    """A value as its author wrote it, or in the units that were asked for; "-" where there is none,
    a VIN by its end."""
    if value is None:
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Quantity):
        return declared(value)
    if isinstance(value, tuple):
        return ", ".join(value_text(item) for item in value)
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, str) and path.startswith(_WRITTEN_FOR):
        quantity = as_written(value)
        return declared(quantity) if quantity else value
    if isinstance(value, str):
        return shown_vin(value) if path == VIN else value.replace("\n", " ")
    return f"{value:.12g}" if isinstance(value, int | float) else str(value)


Heading = tuple[str, str, str]
"""Over the table: what it is of, the earlier value, the later one."""
CHANGED: Heading = ("changed", "was", "now")
_FOUND: Heading = ("changed by others, as found", "was", "now")


def change_lines(
    changes: Sequence[Change], full: bool = False, over: Heading = CHANGED
) -> list[str]:
    """The table of changes; changes found come under their own heading."""
    lines: list[str] = []
    for made, heading in ((True, over), (False, _FOUND)):
        chosen = [change for change in changes if change.made is made]
        if chosen:
            lines += _block(heading, chosen, full)
    return lines


def brief_lines(changes: Sequence[Change], over: Heading = CHANGED) -> list[str]:
    """The changes that weigh most, in the order of car.toml, and where the others are."""
    lines: list[str] = []
    weighty = sorted(changes, key=lambda change: rank(change.path))
    valued = set(weighty if len(changes) <= FEW + 4 else weighty[:FEW])
    for made, heading in ((True, over), (False, _FOUND)):
        chosen = [change for change in changes if change.made is made and change in valued]
        if chosen:
            lines += table(_rows(heading, chosen, False)[0], indent=0)
    others = [change for change in changes if change not in valued]
    if others:
        names = list(dict.fromkeys(key_words(change.assembly) for change in others))
        rest = f" and {len(names) - NAMED} others" if len(names) > NAMED + 1 else ""
        where = ", ".join(names[:NAMED] if rest else names) + rest
        lines += wrap(f"and {len(others)} more in {where}: --full", 4, 2)
    return lines


def _block(heading: Heading, changes: Sequence[Change], full: bool) -> list[str]:
    valued = set(changes) if full or len(changes) <= ROWS + 6 else set(_most_telling(changes))
    rows, places = _rows(heading, changes, full, valued)
    if full:
        return table(_broken(rows), indent=0)
    lines = table(rows, indent=0)
    out: list[str] = []
    for index, line in enumerate(lines):
        out.append(line)
        place = places[index]
        if place and (index + 1 == len(lines) or places[index + 1] != place):
            out += _also([c for c in changes if c.assembly == place and c not in valued])
    return out


def _rows(
    heading: Heading,
    changes: Sequence[Change],
    full: bool,
    valued: Collection[Change] | None = None,
) -> tuple[list[list[str]], list[str | None]]:
    """The rows of a table, each with its assembly; one that has no values has a row still."""
    shown = set(changes) if valued is None else valued
    rows: list[list[str]] = []
    places: list[str | None] = [None]
    for name in dict.fromkeys(change.assembly for change in changes):
        title = f"  {key_words(name)}"
        own = [_row(c) for c in changes if c.assembly == name and c in shown]
        rows += [[title if not i else "", *cells] for i, cells in enumerate(own or [["", "", ""]])]
        places += [name] * max(len(own), 1)
    head = [heading[0], "", *heading[1:]]
    return [head, *(rows if full or PAGE.width < 80 else _fitted(head, rows))], places


def _row(change: Change) -> list[str]:
    values = (value_text(value, change.path) for value in (change.old, change.new))
    return [clean(change.words), *(clean(text) for text in values)]


def _fitted(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[list[str]]:
    """The rows cut to the screen: of a field's name the end stays, of a value the start."""
    first = max(len(row[0]) for row in [head, *rows])
    field = min(27, max(len(row[1]) for row in rows))
    room = PAGE.width - 6 - first - field
    was, now = (max(len(row[i]) for row in [head, *rows]) for i in (2, 3))
    was = min(was, max(room // 2, room - now))
    return [
        [row[0], shorten_start(row[1], field), shorten(row[2], was), shorten(row[3], room - was)]
        for row in rows
    ]


def _broken(rows: Sequence[Sequence[str]]) -> list[list[str]]:
    """Whole rows on the screen: what is wider than its column goes on in the line below."""
    widest = [max(len(row[i]) for row in rows) for i in range(4)]
    room = max(PAGE.width, 60) - 6 - widest[0]
    field = min(widest[1], room * 2 // 5)
    was = min(widest[2], max((room - field) // 2, room - field - widest[3]))
    widths = [widest[0], field, was, room - field - was]
    out: list[list[str]] = []
    for row in rows:
        cells = [pieces(cell, max(width, 8)) for cell, width in zip(row, widths, strict=True)]
        out += [list(line) for line in zip_longest(*cells, fillvalue="")]
    return out


def _also(others: Sequence[Change]) -> list[str]:
    """The other fields of an assembly by name, those of one piece together."""
    pieces: dict[str, list[str]] = {}
    for change in others:
        inner = parts(change.path)[1:] or [change.path]
        pieces.setdefault(key_words(" ".join(inner[:-1])), []).append(key_words(inner[-1]))
    words = [
        f"{piece} ({', '.join(names)})" if piece else ", ".join(names)
        for piece, names in pieces.items()
    ]
    return wrap(f"also {'; '.join(words)}", 9, 4) if words else []


def _most_telling(changes: Sequence[Change]) -> list[Change]:
    def order(change: Change) -> tuple[bool, int]:
        last = change.path.rsplit(".", 1)[-1]
        place = _TELLING.index(last) if last in _TELLING else len(_TELLING)
        return (power_neutral(change.path) and last != "rated_torque", place)

    return sorted(changes, key=order)[:ROWS]
