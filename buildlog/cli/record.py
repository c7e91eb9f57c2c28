"""`buildlog record`: one entry from the working files."""

from __future__ import annotations

import sys
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from buildlog.cli import names
from buildlog.cli.common import DAY, AnswerForm, asking, json_form, open_ledger, say

if TYPE_CHECKING:
    from buildlog.desk.acts.record import EntrySaid, Outlook
    from buildlog.desk.snapshot.opening import Ledger


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
@click.option("--date", "work_date", type=DAY, help="The day of the work.")
@click.option(
    "--done-by", help="Who did it: initials or a staff number.", shell_complete=names.staff
)
@click.option("--approved-by", help="Who answers for it.", shell_complete=names.staff)
@click.option(
    "--corrects",
    metavar="ENTRY",
    help="The entry this one puts right.",
    shell_complete=names.version,
)
@click.option(
    "--resolves",
    metavar="ENTRY",
    help="The entry whose fault this one fixes.",
    shell_complete=names.version,
)
@click.option(
    "--approves",
    metavar="ENTRY",
    help="Answer for this earlier entry (--approved-by); nothing else is recorded.",
    shell_complete=names.version,
)
@click.option(
    "--session-is-new-configuration",
    "session_is_new",
    is_flag=True,
    help="The new session measured the changed car.toml.",
)
@click.option("--sign", is_flag=True, help="Sign it with the key of your settings.")
@click.option("--dry-run", is_flag=True, help="Show what would be recorded; record nothing.")
@json_form
def command(form: AnswerForm, message: str | None, sign: bool, dry_run: bool, **said: Any) -> None:
    """Record the working files as one entry.

    \b
    buildlog record -m "headers fitted" --stage stage-1 --odometer "88412 mi"
    buildlog record -m "gap was 0.8 mm" --kind correction --corrects stage-2
    buildlog record --approves stage-2 --approved-by K-01

    Shows what changed, then writes the entry, whole or not at all. At a terminal it proposes the
    message. What is recorded is never changed: a mistake is put right by a later entry.
    """
    from buildlog.desk.acts.record import record
    from buildlog.report.as_json.acts_json import recorded_json
    from buildlog.report.as_text.acts_text import recorded_lines

    with open_ledger(form.ledger) as ledger:
        whole = _whole(ledger, message, said)
        shown = None if form.as_json else partial(_shown, ledger)
        done = record(ledger, whole, dry_run=dry_run, sign=sign, ask=asking(), shown=shown)
    form.answer("record", done, recorded_json, recorded_lines)


def _whole(ledger: Ledger, message: str | None, said: dict[str, Any]) -> EntrySaid:
    from buildlog.desk.acts.record import EntrySaid, approval
    from buildlog.errors import UsageError

    if said["approves"] is not None:
        given = {name for name, value in said.items() if value} - {"approves", "approved_by"}
        if given:
            named = ", ".join(sorted(f"--{name.replace('_', '-')}" for name in given))
            raise UsageError(f"--approves records nothing else: {named}", hint="leave them out")
        return approval(ledger, said["approves"], said["approved_by"], message or "")
    return EntrySaid(**_asked(ledger, said)) if message is None else EntrySaid(message, **said)


def _asked(ledger: Ledger, said: dict[str, Any]) -> dict[str, Any]:
    """What only the person at the terminal can say, with what fits offered."""
    from buildlog.desk.acts.proposing import proposed
    from buildlog.errors import UsageError

    if not sys.stdin.isatty():
        raise UsageError("say in a few words what was done", hint='-m "..."')
    fits = proposed(ledger)
    said["message"] = click.prompt("What was done", default=fits.message or None)
    if fits.stage and said["stage"] is None and said["kind"] in (None, "dyno", "build"):
        name = click.prompt("As a stage of this name (-: no stage)", default=fits.stage)
        said["stage"] = None if name == "-" else name
    if fits.asks_odometer and said["odometer"] is None:
        reading = click.prompt("Odometer, with its unit (Enter: unknown)", default="",
                               show_default=False)  # fmt: skip
        said["odometer"] = reading or None
    return said


def _shown(ledger: Ledger, found: Outlook) -> None:
    """What changed, in the units of the car's screens; what is recorded keeps its own."""
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_text.acts_text import outlook_lines
    from buildlog.report.numbers import all_in

    with all_in(opening.units_of(ledger)):
        say(outlook_lines(found))
