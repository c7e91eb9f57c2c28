"""`buildlog history`: the entries, newest first."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from buildlog.cli.common import (
    display,
    json_option,
    ledger_option,
    open_ledger,
    say,
    say_json,
    units_option,
)

if TYPE_CHECKING:
    from buildlog.report.numbers import Display
    from buildlog.store.entries import Entry

_MEASURED = re.compile(r"(\d+) W at (\d+) (rpm|km/h), (wheels|hubs)")


@click.command()
@click.option("--full", is_flag=True, help="Subjects, changes and names in full.")
@ledger_option
@units_option
@json_option
def command(full: bool, ledger_folder: Path | None, units: str | None, as_json: bool) -> None:
    """List the entries, newest first.

    Peak power is what was worked out when the entry was recorded; diff and the sheet
    work it out anew from the raw files.
    """
    with open_ledger(ledger_folder) as ledger:
        entries = ledger.entries()
        if as_json:
            say_json("history", {"entries": [_json(entry) for entry in entries]})
            return
        if not entries:
            say(["nothing is recorded yet", 'next: buildlog record -m "as it came" --kind found'])
            return
        shown = display(ledger, units)
    corrected = {entry.corrects for entry in entries if entry.corrects}
    say(_lines(list(reversed(entries)), corrected, shown, full))


def peak(entry: Entry) -> float | None:
    """The peak wheel power [W] that was worked out when the entry was recorded."""
    match = _MEASURED.match(entry.measured or "")
    return float(match.group(1)) if match else None


def _lines(entries: list[Entry], corrected: set[str], shown: Display, full: bool) -> list[str]:
    from buildlog.report.lines import WIDTH, shorten, table

    newest = entries[0]
    stages = [entry.stage for entry in entries if entry.stage]
    at = f"at {stages[0]}" if stages else "no stage named yet"
    lines = [
        f"{len(entries)} entries, {at}; the newest is {newest.work_date}, "
        f"{shown.distance(newest.odometer_m)}",
        "",
    ]
    rows = [["entry", "id", "date", "odometer", "kind", "stage", "peak", "what"]]
    for entry in entries:
        power = peak(entry)
        what = entry.subject if full or not entry.changed else entry.changed
        marks = ["corrected later"] if entry.id in corrected else []
        marks += ["recorded outside buildlog"] if entry.recorded_outside else []
        rows.append(
            [
                str(entry.number),
                entry.short,
                entry.work_date.isoformat(),
                shown.distance(entry.odometer_m),
                entry.kind,
                entry.stage or "",
                shown.value(power, "power") if power else "",
                "; ".join([what, *marks]),
            ]
        )
    head = table([row[:-1] for row in rows], right=(0, 3, 6), indent=0, gap=1)
    room = max(len(line) for line in head) + 1
    for line, row in zip(head, rows, strict=True):
        what = row[-1] if full else shorten(row[-1], max(WIDTH - room, 20))
        lines.append(f"{line.ljust(room)}{what}".rstrip())
    return [*lines, "", "next: buildlog diff"]


def _json(entry: Entry) -> dict[str, Any]:
    return {
        "entry": entry.number,
        "id": entry.id,
        "kind": entry.kind,
        "stage": entry.stage,
        "date": entry.work_date.isoformat(),
        "odometer_km": None if entry.odometer_m is None else entry.odometer_m / 1000,
        "subject": entry.subject,
        "changed": entry.changed,
        "done_by": entry.done_by,
        "approved_by": entry.approved_by,
        "corrects": entry.corrects,
        "resolves": entry.resolves,
        "recorded_outside": entry.recorded_outside,
        "peak_wheel_power_w": peak(entry),
    }
