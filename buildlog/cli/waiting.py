"""`buildlog waiting`: what the car waits for, and that it came."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli import common, names

if TYPE_CHECKING:
    import datetime as dt

_KINDS = ("part", "go-ahead", "outside work", "other")


@click.group()
def command() -> None:
    """What the car waits for: a part, somebody's go-ahead, outside work; since when.

    \b
    buildlog waiting add "head gasket" --for part --expected 2026-04-02
    buildlog waiting list
    buildlog waiting done gasket
    """


@command.command("list")
@common.json_form
def list_(form: common.AnswerForm) -> None:
    """What it waits for now, the oldest first; what was expected before today is said.

    \b
    buildlog waiting list
    """
    from buildlog.desk.questions.waits import waits
    from buildlog.desk.snapshot import opening
    from buildlog.desk.snapshot.snapshot import today
    from buildlog.report.as_json.waits_json import waiting_list_json
    from buildlog.report.as_text.waits_text import waiting_lines

    with opening.snapshot(form.ledger) as book:
        found, day = waits(book), today()
    if form.as_json:
        common.say_json("waiting-list", waiting_list_json(found, day))
    else:
        common.say(waiting_lines(found, day))


@command.command("add")
@click.argument("what")
@click.option("--for", "waits_for", type=click.Choice(_KINDS), help="What kind of thing it is.")
@click.option("--since", type=common.DAY, help="Since when, if earlier than today.")
@click.option("--expected", type=common.DAY, help="When it is expected.")
@click.option("--note", help="Ordered where, who was asked.")
@click.option("--by", help="Who writes it: initials or a staff number.", shell_complete=names.staff)
@click.option("--date", "on", type=common.DAY, help="The day it is written down; else today.")
@common.ledger_option
def add(
    what: str, waits_for: str | None, since: dt.date | None, expected: dt.date | None,
    note: str | None, by: str | None, on: dt.date | None, ledger_folder: Path | None,
) -> None:  # fmt: skip
    """Write down that the car waits for WHAT: which part, whose word, what work.

    \b
    buildlog waiting add "clutch disc" --for part --expected 2026-04-02
    """
    from buildlog.desk.acts.day_notes_made import wait_for
    from buildlog.report.as_text.due_text import due_written_lines

    with common.open_ledger(ledger_folder) as ledger:
        made = wait_for(
            ledger, what, waits_for, since=since, expected=expected, note=note, by=by, on=on
        )
    common.say(due_written_lines(made))


@command.command("done")
@click.argument("name", required=False)
@click.option("--note", help="Anything else.")
@click.option("--by", help="Who writes it: initials or a staff number.", shell_complete=names.staff)
@click.option("--date", "on", type=common.DAY, help="The day; else today.")
@common.ledger_option
def done(
    name: str | None, note: str | None, by: str | None, on: dt.date | None,
    ledger_folder: Path | None,
) -> None:  # fmt: skip
    """Write down that it came: NAME or enough of it to be unique; without one the only wait.

    \b
    buildlog waiting done clutch-disc
    """
    from buildlog.desk.acts.day_notes_made import end_wait
    from buildlog.report.as_text.due_text import due_written_lines

    with common.open_ledger(ledger_folder) as ledger:
        made = end_wait(ledger, name, note=note, by=by, on=on)
    common.say(due_written_lines(made))
