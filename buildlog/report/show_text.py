"""A configuration part by part: values, since when, distance, by whom."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from buildlog.analysis.version import Version
from buildlog.records.paths import Value, assembly, leaves, words
from buildlog.report.changes_text import value_text
from buildlog.report.lines import clean, shorten, shorten_start, table
from buildlog.report.numbers import Display


@dataclass(frozen=True)
class Since:
    """Where a value came from: the version in which it got its present value."""

    version: Version
    found: bool


def show_lines(
    version: Version,
    since: Mapping[str, Since],
    show: Display,
    only: str | None = None,
    full: bool = False,
) -> list[str]:
    """The configuration as a table, one assembly after the other."""
    car = version.configuration.car
    year = f", {car.year}" if car.year else ""
    lines = [f"{clean(car.name)}{year}: {_label(version, show)}", ""]
    values = leaves(version.configuration)
    rows: list[Sequence[str]] = []
    last = ""
    for path, value in values.items():
        name = assembly(path)
        if name == "format" or (only is not None and name != only):
            continue
        if not full and _detail(path):
            continue
        rows.append(
            [
                "" if name == last else name.replace("_", " "),
                words(path) if full else shorten_start(words(path), 30),
                value_text(value, path) if full else shorten(value_text(value, path), 26),
                _since(since.get(path)),
            ]
        )
        last = name
    lines += table([["assembly", "field", "value", "since"], *rows], indent=0)
    hidden = sum(_detail(path) for path in values) if not full else 0
    if hidden:
        fields = "1 field" if hidden == 1 else f"{hidden} fields"
        lines.append(f"({fields} on parts, sources and notes: --full)")
    return [*lines, "", "next: buildlog show --parts"]


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


def _detail(path: str) -> bool:
    parts = path.split(".")
    return any(part in {"part", "source", "note", "written_for"} for part in parts[1:])


def _since(since: Since | None) -> str:
    if since is None:
        return "not recorded"
    if since.found:
        return f"before entry {since.version.number}"
    return since.version.name


def _label(version: Version, show: Display) -> str:
    if version.working:
        return "working files, not recorded"
    parts = [f"entry {version.number}", version.id[:8]]
    if version.stage:
        parts.insert(0, version.stage)
    if version.date:
        parts.append(version.date.isoformat())
    parts.append(show.distance(version.odometer))
    return ", ".join(parts)
