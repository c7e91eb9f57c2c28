"""`buildlog record`: one entry from the working files."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli.common import json_option, ledger_option, open_ledger, say, say_json

if TYPE_CHECKING:
    from buildlog.desk.acts.record import Outlook
    from buildlog.store.git.message import EntryFacts
    from buildlog.store.ledger.ledger import Ledger
    from buildlog.store.trust.sshsig import Signer


@click.command()
@click.option("-m", "--message", help="What was done, in a few words.")
@click.option("--notes", default="", help="More about it.")
@click.option(
    "--kind",
    type=click.Choice(["build", "found", "dyno", "check", "fault", "correction", "earlier"]),
    help="The kind of entry (else by what is new).",
)
@click.option("--stage", help='A name a customer would know: "stage-2". Used once.')
@click.option("--odometer", help='The reading: "42310 mi", or "unknown".')
@click.option("--odometer-note", help="Why the reading or the date goes backwards.")
@click.option("--date", "work_date", type=click.DateTime(["%Y-%m-%d"]), help="The day of the work.")
@click.option("--done-by", help="Who did it: initials or a staff number.")
@click.option("--approved-by", help="Who answers for it.")
@click.option("--corrects", metavar="ENTRY", help="The entry this one puts right.")
@click.option("--resolves", metavar="ENTRY", help="The entry whose fault this one mends.")
@click.option(
    "--session-is-new-configuration",
    "session_is_new",
    is_flag=True,
    help="The new session measured the changed car.toml.",
)
@click.option("--sign", is_flag=True, help="Sign it with the key of your settings.")
@click.option("--dry-run", is_flag=True, help="Show what would be recorded; record nothing.")
@ledger_option
@json_option
def command(
    message: str | None,
    notes: str,
    kind: str | None,
    stage: str | None,
    odometer: str | None,
    odometer_note: str | None,
    work_date: dt.datetime | None,
    done_by: str | None,
    approved_by: str | None,
    corrects: str | None,
    resolves: str | None,
    session_is_new: bool,
    sign: bool,
    dry_run: bool,
    ledger_folder: Path | None,
    as_json: bool,
) -> None:
    """Record the working files as one entry.

    \b
    buildlog record -m "headers fitted" --stage stage-1 --odometer "88412 mi"
    buildlog record -m "gap was 0.8 mm" --kind correction --corrects stage-2

    Shows what changed, then writes the entry, whole or not at all. What is recorded is
    never changed: a mistake is put right by a later entry.
    """
    from buildlog.desk.acts.record import looked_ahead, record_working
    from buildlog.desk.snapshot import settings
    from buildlog.errors import UsageError
    from buildlog.store.git.message import EntryFacts

    with open_ledger(ledger_folder) as ledger:
        own = settings.load()
        if message is None:
            if not sys.stdin.isatty():
                raise UsageError("say in a few words what was done", hint='-m "..."')
            message = click.prompt("What was done")
        facts = EntryFacts(
            message,
            notes,
            kind or "build",
            stage,
            odometer,
            odometer_note,
            work_date.date() if work_date else None,
            done_by or own.done_by,
            approved_by,
            _id(ledger, corrects),
            _id(ledger, resolves),
        )
        if kind is None and corrects:
            kind = "correction"

        def shown(found: Outlook, complete: EntryFacts) -> None:
            if not as_json:
                say(_outlook_lines(found, complete))

        now = dt.datetime.now(dt.UTC)
        if dry_run:
            meant = ledger.propose()
            found, complete = looked_ahead(ledger, meant, facts, now.date(), kind, session_is_new)
            shown(found, complete)
            ledger.judged(meant, complete, now.date())
            if as_json:
                say_json("record", {"entry": None, "id": None, "kind": complete.kind})
            else:
                say("nothing was recorded (--dry-run)")
            return
        entry = record_working(
            ledger,
            facts,
            own.shop or "shop without a name",
            now,
            kind=kind,
            session_is_new=session_is_new,
            shown=shown,
            sign=_signer(ledger) if sign else None,
        )
        if as_json:
            body = {"entry": entry.number, "id": entry.id, "kind": entry.kind}
            say_json("record", {**body, "signed": entry.signed})
            return
        signed = ", signed" if entry.signed else ""
        say(f"recorded: entry {entry.number}, {entry.short}, {entry.kind}{signed}")
        if own.shop is None:
            say('  note: no shop is named; buildlog new --shop "NAME" or your settings file')
        say("next: buildlog next" if len(ledger.entries()) > 1 else "next: buildlog show")


def _signer(ledger: Ledger) -> Signer:
    from buildlog.cli.signing import signer
    from buildlog.store.ledger import key_events

    by = signer()
    key_events.may_sign(ledger, by)
    return by


def _id(ledger: object, name: str | None) -> str | None:
    from buildlog.errors import UsageError
    from buildlog.store.ledger.ledger import Ledger

    assert isinstance(ledger, Ledger)
    if name is None:
        return None
    entry = ledger.resolve(name).entry
    if entry is None:
        raise UsageError(f"{name} is not an entry", hint="buildlog history lists them")
    return entry.id


def _outlook_lines(found: Outlook, facts: EntryFacts) -> list[str]:
    """What is about to be recorded."""
    from buildlog.report.as_text.changes_text import change_lines
    from buildlog.report.lines import finding_lines

    lines = [f"{facts.kind}: {facts.subject}"]
    lines += change_lines(found.changes)
    if found.first:
        lines.append("  the configuration as it stands in car.toml")
    others = [path for path in found.added if path != "car.toml"]
    lines += [f"  new file   {path}" for path in others[:12]]
    if len(others) > 12:
        lines.append(f"  and {len(others) - 12} more new files")
    lines += [f"  changed    {path}" for path in found.changed if path != "car.toml"]
    if facts.odometer == "unknown":
        lines.append('  odometer   unknown (--odometer "42310 mi" if it can be read)')
    else:
        lines.append(f"  odometer   {facts.odometer}")
    return lines + finding_lines(found.findings)
