"""What is in the car: its values part by part, one field's life, its parts with their distance."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Mapping, Sequence

from buildlog.analysis.car.version import Version
from buildlog.analysis.workshop.partlife import PartLife
from buildlog.records.key_words import key_words
from buildlog.records.paths import Value, assembly, leaves, words
from buildlog.report.as_text.changes_text import value_text
from buildlog.report.lines import PAGE, clean, pieces, shorten, shorten_start, table, wrap
from buildlog.report.numbers import Display, count, declared
from buildlog.report.weight import detail, rank

_NAME, _SINCE, _LINES = 14, 16, 2  # columns of the short form, and lines an assembly may take
_HELD = "\N{NO-BREAK SPACE}"  # a value stays with its name


def show_lines(
    version: Version,
    since: Mapping[str, Version],
    show: Display,
    only: str | None = None,
    full: bool = False,
) -> list[str]:
    """The configuration, one assembly after the other: in two lines each, or whole.

    `since`: for each path the version in which it got its present value.
    """
    car = version.configuration.car
    year = f", {car.year}" if car.year else ""
    tables: dict[str, dict[str, Value]] = {}
    for path, value in leaves(version.configuration).items():
        if assembly(path) != "format" and only in (None, assembly(path)):
            tables.setdefault(assembly(path), {})[path] = value
    body = (_whole if full else _one if only else _brief)(tables, since)
    title = wrap(f"{clean(car.name)}{year}: {_label(version, show)}", 2, 0)
    return [*title, "", *body, "", "next: buildlog show --parts"]


def _whole(tables: Mapping[str, Mapping[str, Value]], since: Mapping[str, Version]) -> list[str]:
    """Every field with its value and since when."""
    rows = [["assembly", "field", "value", "since"]]
    for name, values in tables.items():
        for i, (path, value) in enumerate(values.items()):
            title = "" if i else key_words(name)
            rows.append([title, words(path), value_text(value, path), _since(since.get(path))])
    return table(rows, indent=0)


def _one(tables: Mapping[str, Mapping[str, Value]], since: Mapping[str, Version]) -> list[str]:
    """The same for a screen: a long value goes on below itself, in its column."""
    if not tables:
        return ["nothing is given there"]
    ((name, values),) = tables.items()
    field = max((len(words(path)) for path in values), default=0)
    field = min(max(field, len("field")), PAGE.width // 2 - 6)
    rows = [f"{key_words(name):<{field + 2}}{'since':<{_SINCE}}value"]
    for path, value in values.items():
        lead = (
            f"{shorten_start(words(path), field):<{field + 2}}{_since(since.get(path)):<{_SINCE}}"
        )
        room = PAGE.width - len(lead)
        for line in pieces(clean(value_text(value, path)), room):
            rows.append(clean(lead) + line)
            lead = " " * len(lead)
    return rows


def _brief(tables: Mapping[str, Mapping[str, Value]], since: Mapping[str, Version]) -> list[str]:
    """The weightiest fields of each assembly, and when anything in it changed last."""
    lines = [f"{'assembly':<{_NAME}}{'last changed':<{_SINCE}}what it is"]
    left = 0
    for name, values in tables.items():
        inner, used = _fields(values)
        left += len(values) - used
        last = max((since[p] for p in values if p in since), key=_order, default=None)
        lead = f"{shorten(key_words(name), _NAME - 1):<{_NAME}}"
        lead += f"{_since(last):<{_SINCE}}"
        lines += [(lead if not i else " " * len(lead)) + text for i, text in enumerate(inner)]
    if left:
        lines.append(f"({count(left, 'more field')}: --assembly NAME, or --full for all)")
    return lines


def _order(since: Version) -> tuple[int, bool]:
    return since.number or sys.maxsize, since.kind != "found"


def _fields(values: Mapping[str, Value]) -> tuple[list[str], int]:
    """As many fields as two lines hold, weightiest first, and how many these are."""
    room = PAGE.width - _NAME - _SINCE
    lines, told = [""], ""
    for used, path in enumerate(sorted(values, key=rank)):
        name, value = words(path), value_text(values[path], path)
        one = value if name.startswith(f"{value} ") else f"{name} {value}"  # "seats item seats"
        told += "; " * bool(told) + shorten(clean(one), room - 1).replace(" ", _HELD)
        wrapped = wrap(told, width=room)
        if len(wrapped) > _LINES or (detail(path) and used):
            return lines, used
        lines = [line.replace(_HELD, " ") for line in wrapped]
    return lines, len(values)


def life_lines(
    path: str, course: Sequence[tuple[Version, Value | None]], show: Display
) -> list[str]:
    """One field's whole life: each value with the entry that brought it."""
    rows = [["entry", "date", "odometer", "kind", "value", "by"]]
    for version, value in course:
        rows.append(
            [
                version.name,
                version.date.isoformat() if version.date else "",
                show.distance(version.odometer),
                version.kind,
                value_text(value, path),
                version.done_by or "",
            ]
        )
    current = value_text(course[-1][1], path) if course else "never given"
    return [f"{path} is {current}", "", *table(rows, indent=0), "", "next: buildlog show"]


def _since(since: Version | None) -> str:
    if since is None:
        return "not recorded"
    if since.kind == "found":
        return f"before entry {since.number}"
    return since.name


def _label(version: Version, show: Display) -> str:
    if version.working:
        return "working files, not recorded"
    if version.plan:
        return f"plan {version.plan}: the newest entry with what it changes"
    parts = [f"entry {version.number}", version.id[:8]]
    if version.stage:
        parts.insert(0, version.stage)
    if version.date:
        parts.append(version.date.isoformat())
    parts.append(show.distance(version.odometer))
    return ", ".join(parts)


def parts_lines(found: Sequence[PartLife], version: Version, shown: Display) -> list[str]:
    """One line a part; below it what is left of its break-in; why distances are unknown.

    Tables that name no piece (intake, cooling) are left out; JSON has them.
    """
    pieces = [life for life in found if life.is_piece]
    here = [life for life in pieces if life.fitted]
    older = len(pieces) - len(here)
    first = f"{count(len(pieces), 'part')} at {version.name}: {len(here)} fitted in this ledger"
    lines = [f"{first}, {older} there before"]
    rows = [["part", "which", "since", "by", "distance on it"]]
    body = table(rows + [_row(life, shown) for life in pieces], right=(4,))
    lines.append(body[0])
    for life, line in zip(pieces, body[1:], strict=True):
        lines += [line, *_break_in(life, shown)]
    lines.append("  < was there before that entry; * declared, not counted by this ledger")
    reasons = Counter(life.why_unknown for life in pieces if life.why_unknown)
    for reason, parts in reasons.most_common():
        lines += wrap(f"unknown ({parts}): {reason}", 4, 2)
    return [*lines, "next: buildlog next"]


def _row(life: PartLife, shown: Display) -> list[str]:
    which = life.identity.words or life.condition or "-"
    run = shown.distance(life.distance)
    since = life.entry if life.fitted else f"< {life.entry}"
    basis = " *" if life.basis == "declared" and life.distance is not None else ""
    return [shorten(life.name, 24), shorten(which, 20), since, life.by or "-", f"{run}{basis}"]


def _break_in(life: PartLife, shown: Display) -> list[str]:
    if life.break_in is None:
        return []
    asked = declared(life.break_in_asked) if life.break_in_asked else shown.distance(life.break_in)
    if life.break_in_left is None:
        return wrap(f"break-in {asked}: unknown, {life.break_in_why}", 6, 4)
    left = f"{shown.distance(life.break_in_left)} left" if life.break_in_left else "done"
    return [f"    break-in {asked}: {left}"]
