"""`buildlog fault`: what broke or was complained of, and what was done about it."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import TYPE_CHECKING

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
    from buildlog.analysis.workshop.fault_book import FaultState

DATE = click.DateTime(["%Y-%m-%d"])


@click.group()
def command() -> None:
    """Faults: an open one holds up full load until it is closed.

    \b
    buildlog fault add "loud hiss under load"
    buildlog fault list --open
    """


@command.command("add")
@click.argument("symptom", required=False)
@click.option("--part", help="The part concerned, by its path: induction.belt")
@click.option("--code", "codes", multiple=True, help="A stored trouble code: P0299. May repeat.")
@click.option("--odometer", help='The reading: "42310 mi" (else that of the newest entry).')
@click.option("--cause", help="What was found to be the cause.")
@click.option("--no-hold", is_flag=True, help="Full load need not wait for it.")
@click.option("--note", help="Anything else.")
@click.option("--by", help="Who writes it: initials or a staff number.")
@click.option("--date", "on", type=DATE, help="The day (else today).")
@ledger_option
def add(
    symptom: str | None,
    part: str | None,
    codes: tuple[str, ...],
    odometer: str | None,
    cause: str | None,
    no_hold: bool,
    note: str | None,
    by: str | None,
    on: dt.datetime | None,
    ledger_folder: Path | None,
) -> None:
    """Write down a fault: SYMPTOM is what was seen, heard, smelt or felt.

    \b
    buildlog fault add "hiss under load" --part induction.charge_cooler
    """
    from buildlog.desk.acts import filing
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.errors import UsageError
    from buildlog.records.faults import Fault
    from buildlog.report.lines import wrap

    with open_ledger(ledger_folder) as ledger:
        if symptom is None:
            if not sys.stdin.isatty():
                raise UsageError("say what was seen or heard", hint='buildlog fault add "..."')
            symptom = click.prompt("What was seen, heard, smelt or felt")
            part = part or click.prompt("Part (a path, Enter: not known)", default="") or None
        if part:
            refuse_no_part(part)
        read_codes = [_code(code) for code in codes]
        day = filing.day(on)
        name = part.split(".")[-1].replace("_", "-") if part else filing.slug(symptom, 30)
        path = filing.free_path(ledger, "faults", f"{day}-{name}")
        data = filing.text_of(
            Fault,
            path,
            {
                "state": "open", "date": day, "symptom": symptom, "part": part,
                "odometer": filing.odometer(Snapshot(ledger), odometer),
                "codes": [code for code, _ in read_codes], "cause": cause,
                "holds_up_full_load": False if no_hold else None,
                "by": filing.who(by), "note": note,
            },
        )  # fmt: skip
        ledger.write_working(path, data)
    said = "".join(c for c in symptom[:40] if c not in '"$`\\!').strip()  # to be pasted
    held = "" if no_hold else "; full load waits until it is closed"
    say(wrap(f"fault: {symptom}" + (f" ({part})" if part else ""), 2, 0))
    for code, words in read_codes:
        say(wrap(f"{code}  {words}", 4, 2))
    say(wrap(f"{path}, not yet recorded{held}", 4, 2))
    say(f'next: buildlog record -m "{said}" --kind fault')


@command.command("close")
@click.argument("name", required=False)
@click.option("--remedy", help="What was done.")
@click.option("--cause", help="What was found to be the cause.")
@click.option("--odometer", help='The reading: "42310 mi" (else that of the newest entry).')
@click.option("--note", help="Anything else.")
@click.option("--by", help="Who mended it: initials or a staff number.")
@click.option("--date", "on", type=DATE, help="The day (else today).")
@ledger_option
def close(
    name: str | None,
    remedy: str | None,
    cause: str | None,
    odometer: str | None,
    note: str | None,
    by: str | None,
    on: dt.datetime | None,
    ledger_folder: Path | None,
) -> None:
    """Close an open fault: NAME or an unmistakable part of it; the only one without a name.

    \b
    buildlog fault close charge-cooler --remedy "hose and clamp renewed"

    The fault itself is never changed: a second file says what was done.
    """
    from buildlog.analysis.workshop.fault_book import open_faults
    from buildlog.desk.acts import filing
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.records.faults import Fault

    with open_ledger(ledger_folder) as ledger:
        book = Snapshot(ledger)
        state = _chosen(open_faults(book.until_now, book.papers), name)
        if remedy is None and sys.stdin.isatty():
            remedy = click.prompt("What was done", default="") or None
        day = filing.day(on)
        stem = state.name.split("-", 3)[-1] if state.name[:4].isdigit() else state.name
        path = filing.free_path(ledger, "faults", f"{day}-{stem}-closed")
        data = filing.text_of(
            Fault,
            path,
            {
                "state": "closed", "date": day, "part": state.fault.part,
                "odometer": filing.odometer(book, odometer), "closes": state.name,
                "cause": cause, "remedy": remedy, "by": filing.who(by), "note": note,
            },
        )  # fmt: skip
        ledger.write_working(path, data)
    say(f"closed: {state.fault.symptom or state.name}")
    say(f"  {path}, not yet recorded")
    resolves = f" --resolves {state.version.number}" if state.version.number else ""
    say(f'next: buildlog record -m "mended: {state.name}" --kind fault{resolves}')


@command.command("list")
@click.option("--open", "only_open", is_flag=True, help="Open ones only.")
@ledger_option
@units_option
@json_option
def list_(only_open: bool, ledger_folder: Path | None, units: str | None, as_json: bool) -> None:
    """List the faults, open ones first, with the distance the part had run when it failed.

    \b
    buildlog fault list --open
    """
    from buildlog.analysis.workshop.fault_book import faults
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.as_text.fault_text import fault_json, fault_lines

    with open_ledger(ledger_folder) as ledger:
        book = Snapshot(ledger)
        found = [s for s in faults(book.until_now, book.papers) if s.open or not only_open]
        if as_json:
            say_json("fault-list", {"faults": [fault_json(one) for one in found]})
        else:
            say(fault_lines(found, display(ledger, units)))


def refuse_no_part(path: str) -> None:
    """InvalidInput with the nearest path if this is no part of a car."""
    from buildlog.analysis.workshop.doubts import is_part, part_paths
    from buildlog.errors import InvalidInput
    from buildlog.records.paths import nearest

    if not is_part(path):
        raise InvalidInput(f'"{path}" is no part', hint=nearest(path, part_paths()))


def _code(text: str) -> tuple[str, str]:
    """A trouble code and what its structure says of it."""
    from buildlog.errors import InvalidInput
    from buildlog.physics.parts.trouble_codes import parse

    try:
        code = parse(text)
    except ValueError as error:
        raise InvalidInput(str(error).rstrip("."), hint="write it as P0299") from None
    whose = {"standard": "standard", "maker": "the maker's own", "reserved": "reserved"}[code.kind]
    return code.text, f"{code.group}, {whose}"


def _chosen(found: list[FaultState], name: str | None) -> FaultState:
    from buildlog.errors import NotFound

    hits = [one for one in found if name is None or name in one.name]
    hits = [one for one in hits if one.name == name] or hits
    if len(hits) != 1:
        known = ", ".join(one.name for one in found) or "none is open"
        what = "which fault?" if name is None else f'"{name}" names no open fault or several'
        raise NotFound(what, hint=f"open: {known}")
    return hits[0]
