"""`buildlog history`: the entries, newest first."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from buildlog.cli.common import (
    display,
    json_option,
    ledger_option,
    read_ledger,
    say,
    say_json,
    units_option,
)
from buildlog.records.recorded_peak import recorded_peak

if TYPE_CHECKING:
    from buildlog.report.numbers import Display
    from buildlog.store.ledger.entries import Entry

# What `Changed` begins with where only files came and car.toml stayed as it was.
_FILES = ("session ", "check ", "fault ", "tightening ")


@click.command()
@click.option("--full", is_flag=True, help="Subjects, changes and names in full.")
@ledger_option
@units_option
@json_option
def command(full: bool, ledger_folder: Path | None, units: str | None, as_json: bool) -> None:
    """List the entries, newest first.

    \b
    buildlog history
    buildlog history --full

    Peak power is what was worked out when the entry was recorded; diff and the sheet
    work it out anew from the raw files.
    """
    with read_ledger(ledger_folder) as ledger:
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
    found = recorded_peak(entry.measured)
    return found.power_w if found else None


def _lines(entries: list[Entry], corrected: set[str], shown: Display, full: bool) -> list[str]:
    from buildlog.report.lines import WIDTH, shorten, table

    newest = entries[0]
    stages = [entry.stage for entry in entries if entry.stage]
    at = f"at {stages[0]}" if stages else "no stage named yet"
    reading = shown.distance(newest.odometer_m)
    where = reading if newest.odometer_m is not None else f"odometer {reading}"
    count = "1 entry" if len(entries) == 1 else f"{len(entries)} entries"
    lines = [f"{count}, {at}; the newest is {newest.work_date}, {where}", ""]
    mi, hp = shown.unit("length").text, shown.unit("power").text
    rows = [["", "id", "date", mi, "kind", hp, "what"]]
    for entry in entries:
        power, metres = peak(entry), entry.odometer_m
        rows.append(
            [
                str(entry.number),
                entry.short + ("*" if entry.signed else ""),
                entry.work_date.isoformat(),
                "unknown" if metres is None else shown.number(metres, "length"),
                entry.kind,
                shown.number(power, "power") if power else "",
                _what(entry, entry.id in corrected, full),
            ]
        )
    head = table([row[:-1] for row in rows], right=(0, 3, 5), indent=0, gap=1)
    room = max(len(line) for line in head) + 1
    for line, row in zip(head, rows, strict=True):
        what = row[-1] if full else shorten(row[-1], max(WIDTH - room, 20))
        lines.append(f"{line.ljust(room)}{what}".rstrip())
    if any(entry.signed for entry in entries):
        lines += ["", "* carries a signature; buildlog verify checks it"]
    return [*lines, "", "next: buildlog diff"]


def _what(entry: Entry, corrected: bool, full: bool) -> str:
    """The stage, then what changed in the car, else what was done."""
    in_car = entry.changed and not entry.changed.startswith(_FILES)
    what = entry.changed if in_car and not full and entry.changed else entry.subject
    parts = [f"{entry.stage}: {what}" if entry.stage else what]
    if corrected:
        parts.insert(0, "corrected later")
    if entry.recorded_outside:
        parts.insert(0, "recorded outside buildlog")
    return "; ".join(parts)


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
        "carries_signature": entry.signed,
        "peak_wheel_power_w": peak(entry),
    }
