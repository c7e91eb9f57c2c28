"""`buildlog fault`: what broke or was complained of, and what was done about it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from buildlog.cli import names
from buildlog.cli.common import DAY, AnswerForm, ledger_option, open_ledger, say, units_form


@click.group()
def command() -> None:
    """Faults: an open one holds up full load until it is closed.

    \b
    buildlog fault add "loud hiss under load"
    buildlog fault list --open
    """


@command.command("add")
@click.argument("symptom", required=False)
@click.option(
    "--part", help="The part concerned, by its path: induction.belt", shell_complete=names.part
)
@click.option("--code", "codes", multiple=True, help="A stored trouble code: P0299. May repeat.")
@click.option("--odometer", help='The reading: "42310 mi" (else that of the newest entry).')
@click.option("--cause", help="What was found to be the cause.")
@click.option("--no-hold", is_flag=True, help="Full load need not wait for it.")
@click.option("--note", help="Anything else.")
@click.option("--by", help="Who writes it: initials or a staff number.", shell_complete=names.staff)
@click.option("--date", "on", type=DAY, help="The day (else today).")
@ledger_option
def add(
    symptom: str | None, part: str | None, no_hold: bool, ledger_folder: Path | None, **said: Any
) -> None:
    """Write down a fault: SYMPTOM is what was seen, heard, smelt or felt.

    \b
    buildlog fault add "hiss under load" --part induction.charge_cooler
    """
    from buildlog.desk.acts.fault_acts import open_fault
    from buildlog.report.as_text.day_text import opened_lines

    with open_ledger(ledger_folder) as ledger:
        if symptom is None:
            symptom, part = _asked(part)
        done = open_fault(ledger, symptom, part=part, holds_up=not no_hold, **said)
    say(opened_lines(done))


def _asked(part: str | None) -> tuple[str, str | None]:
    """Symptom and part, from the person at the terminal."""
    from buildlog.errors import UsageError

    if not sys.stdin.isatty():
        raise UsageError("say what was seen or heard", hint='buildlog fault add "..."')
    symptom = click.prompt("What was seen, heard, smelt or felt")
    return symptom, part or click.prompt("Part (a path, Enter: not known)", default="") or None


@command.command("close")
@click.argument("name", required=False, shell_complete=names.fault)
@click.option("--remedy", help="What was done.")
@click.option("--cause", help="What was found to be the cause.")
@click.option("--odometer", help='The reading: "42310 mi" (else that of the newest entry).')
@click.option("--note", help="Anything else.")
@click.option("--by", help="Who fixed it: initials or a staff number.", shell_complete=names.staff)
@click.option("--date", "on", type=DAY, help="The day (else today).")
@ledger_option
def close(name: str | None, ledger_folder: Path | None, **said: Any) -> None:
    """Close an open fault: NAME, enough of it or of its symptom; the only one without a name.

    \b
    buildlog fault close charge-cooler --remedy "hose and clamp renewed"

    The fault itself is never changed: a second file says what was done.
    """
    from buildlog.desk.acts.fault_acts import close_fault
    from buildlog.report.as_text.day_text import closed_lines

    ask = _remedy if sys.stdin.isatty() else None
    with open_ledger(ledger_folder) as ledger:
        done = close_fault(ledger, name, ask=ask, **said)
    say(closed_lines(done))


def _remedy(_: object) -> str | None:
    return click.prompt("What was done", default="") or None


@command.command("list")
@click.option("--open", "only_open", is_flag=True, help="Open ones only.")
@units_form
def list_(form: AnswerForm, only_open: bool) -> None:
    """List the faults, open ones first, with the distance the part had run when it failed.

    \b
    buildlog fault list --open
    """
    from buildlog.desk.questions.day_books import faults
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.as_json.day_json import faults_json
    from buildlog.report.as_text.day_text import fault_lines

    with open_ledger(form.ledger) as ledger:
        found = faults(Snapshot(ledger), only_open=only_open)
        form.answer("fault-list", found, faults_json, fault_lines, ledger=ledger)
