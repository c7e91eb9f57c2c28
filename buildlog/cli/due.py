"""`buildlog due`: what comes due, that it was done, the odometer in between."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli import common

if TYPE_CHECKING:
    import datetime as dt


@click.group()
def command() -> None:
    """What comes due: oil, belt, recheck of joints; after a distance, a time, starts or passes.

    \b
    buildlog due add "engine oil" --every "5000 mi or 12 months"
    buildlog due list
    buildlog due done "engine oil" --odometer "93410 mi"
    """


@command.command("list")
@common.units_form
def list_(form: common.AnswerForm) -> None:
    """What is due when, by calendar and by the distance driven a day.

    \b
    buildlog due list
    """
    from buildlog.desk.questions.due_answers import comes_due
    from buildlog.desk.snapshot import opening
    from buildlog.desk.snapshot.snapshot import today
    from buildlog.report.as_json.due_json import due_list_json
    from buildlog.report.as_text.due_text import due_lines

    day = today()
    with opening.snapshot(form.ledger) as book:
        found = comes_due(book)
        if form.as_json:
            common.say_json("due-list", due_list_json(found, day))
        else:
            common.say(due_lines(found, form.display(book.ledger), day))


@command.command("add")
@click.argument("what")
@click.option("--every", required=True, help='"5000 mi", "12 months", "20 passes", or two by "or".')
@click.option("--part", help="The path of the part: a new one starts the interval anew.")
@click.option("--last-on", type=common.DAY, help="The day it was last done, before this ledger.")
@click.option("--last-at", help='The odometer then: "88412 mi".')
@click.option("--note", help="Which oil, how much.")
@common.ledger_option
def add(
    what: str, every: str, part: str | None, last_on: dt.date | None, last_at: str | None,
    note: str | None, ledger_folder: Path | None,
) -> None:  # fmt: skip
    """Say that WHAT comes due, in [[due]] of car.toml.

    \b
    buildlog due add "belt" --every "60000 mi or 5 years" --part induction.belt
    """
    from buildlog.desk.acts.due_acts import add_due
    from buildlog.report.as_text.due_text import due_written_lines

    with common.open_ledger(ledger_folder) as ledger:
        done = add_due(ledger, what, every, part=part, last_on=last_on, last_at=last_at, note=note)
    common.say(due_written_lines(done))


@command.command("done")
@click.argument("what")
@click.option("--date", type=common.DAY, help="The day; else today.")
@click.option("--odometer", help='The reading: "93410 mi"; else that of the newest entry.')
@click.option("--by", help="Who did it: initials or a staff number.")
@click.option("--note", help="Anything else.")
@common.ledger_option
def done_(
    what: str, date: dt.date | None, odometer: str | None, by: str | None, note: str | None,
    ledger_folder: Path | None,
) -> None:  # fmt: skip
    """Note that WHAT was done: its interval begins anew. Enough of its name will do.

    \b
    buildlog due done oil --odometer "93410 mi"
    """
    from buildlog.desk.acts.due_acts import do_due
    from buildlog.report.as_text.due_text import due_written_lines

    with common.open_ledger(ledger_folder) as ledger:
        made = do_due(ledger, what, date=date, odometer=odometer, who=by, note=note)
    common.say(due_written_lines(made))


@command.command("reading")
@click.argument("odometer", required=False)
@click.option("--date", type=common.DAY, help="The day; else today.")
@click.option("--starts", type=click.IntRange(0), help="Starts since the reading before.")
@click.option("--passes", type=click.IntRange(0), help="Passes since the reading before.")
@click.option("--heat-cycles", type=click.IntRange(0), help="Heat cycles since then.")
@click.option("--by", help="Who noted it: initials or a staff number.")
@click.option("--source", help='"customer\'s message", "photo".')
@common.ledger_option
def reading(
    odometer: str | None, date: dt.date | None, by: str | None, source: str | None,
    ledger_folder: Path | None, **counts: int | None,
) -> None:  # fmt: skip
    """Note an odometer that was read, or what was counted, without anything else being done.

    \b
    buildlog due reading "93410 mi" --source "customer's message"
    """
    from buildlog.desk.acts.due_acts import note_reading
    from buildlog.report.as_text.due_text import due_written_lines

    with common.open_ledger(ledger_folder) as ledger:
        made = note_reading(ledger, odometer, date=date, counts=counts, who=by, source=source)
    common.say(due_written_lines(made))
