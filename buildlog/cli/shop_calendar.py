"""`buildlog shop calendar`: what comes due on every car, as a calendar file."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli.common import PATH, AnswerForm, formed, json_option, say, say_json, units_option


@click.command("calendar")
@click.argument("out", metavar="FILE.ics", type=PATH)
@click.argument("folders", metavar="DIR...", nargs=-1, required=True, type=PATH)
@formed(units_option, json_option)
def command(form: AnswerForm, out: Path, folders: tuple[Path, ...]) -> None:
    """What comes due on every car below the folders, as an iCalendar file.

    \b
    buildlog shop calendar due.ics ~/cars

    Days by distance are estimated from the odometer readings, and say so. A car stands there by
    its name; its VIN and people stay out. Read again, the file moves what it brought before.
    """
    from buildlog.desk.give.due_calendar import write_calendar
    from buildlog.desk.questions.due_answers import shop_due
    from buildlog.report.numbers import count as counted

    cars, unread = shop_due(folders)
    days = write_calendar(cars, out, form.display(None))
    without = sum(one.on is None for car in cars for one in car.states)
    if form.as_json:
        body = {"file": str(out), "cars": len(cars), "events": days, "without_a_day": without,
                "unread": unread}  # fmt: skip
        say_json("shop-calendar", body)
        return
    lines = [f"written: {out}, {counted(days, 'day')} on {counted(len(cars), 'car')}"]
    lines += (
        [f"  {without} without a day: buildlog due list says what is missing"] if without else []
    )
    say([*lines, *(f"  not read: {text}" for text in unread)])
