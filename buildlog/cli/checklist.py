"""`buildlog checklist`: lists to go through before a step, and what was found."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli.common import (
    at_terminal,
    json_option,
    ledger_option,
    open_ledger,
    say,
    say_json,
)

if TYPE_CHECKING:
    from buildlog.desk.acts.ticked_lists import TickedList

DATE = click.DateTime(["%Y-%m-%d"])
by_option = click.option("--by", help="Who looked: initials or a staff number.")
list_option = click.option("--list", "name", help="Which list, where several are begun.")


@click.group()
def command() -> None:
    """Checklists: intake, first-start, light-load-check, before-dyno, after-break-in, hand-back.

    \b
    buildlog checklist show intake
    buildlog checklist start intake

    A shop's own lists lie in the ledger as lists/NAME.toml (buildlog schema checklist).
    """


@command.command("start")
@click.argument("name", metavar="LIST")
@click.option("--odometer", help='The reading: "42310 mi" (else that of the newest entry).')
@click.option("--date", "on", type=DATE, help="The day (else today).")
@click.option("--note", help="Anything about the whole list.")
@by_option
@ledger_option
def start(
    name: str,
    odometer: str | None,
    on: dt.datetime | None,
    note: str | None,
    by: str | None,
    ledger_folder: Path | None,
) -> None:
    """Begin a list. At a terminal it asks for one item after the other; stop when you like.

    \b
    buildlog checklist start first-start --odometer "88972 mi" --by D-07
    """
    from buildlog.desk.acts import ticked_lists
    from buildlog.report.as_text.checklist_text import heading_lines

    with open_ledger(ledger_folder) as ledger:
        sheet = ticked_lists.begin(ledger, name, odometer, on, note)
        say(heading_lines(sheet.definition))
        say(f"  {sheet.path}, {len(sheet.check.item)} items")
        if at_terminal():
            _walk(sheet, by)
        _last_line(sheet)


@command.command("tick")
@click.argument("key", required=False)
@click.option(
    "--result",
    type=click.Choice(["pass", "fail", "not-applicable", "not-done"]),
    help="What was found (else by the value and its limits).",
)
@click.option(
    "--value",
    "values",
    multiple=True,
    help='The value: "43.5 psi"; one for each cylinder: "172 168 171 psi".',
)
@click.option("--code", "codes", multiple=True, help="A stored trouble code: P0299. May repeat.")
@click.option("--note", help="What was seen.")
@click.option("--date", "on", type=DATE, help="The day (else today).")
@by_option
@list_option
@ledger_option
def tick(
    key: str | None,
    result: str | None,
    values: tuple[str, ...],
    codes: tuple[str, ...],
    note: str | None,
    on: dt.datetime | None,
    by: str | None,
    name: str | None,
    ledger_folder: Path | None,
) -> None:
    """Write down what was found for an item; without KEY, ask for all that are left.

    \b
    buildlog checklist tick fuel-pressure --value "43.5 psi" --by D-07
    buildlog checklist tick belt --result not-applicable --note "no belt"
    """
    from buildlog.desk.acts import ticked_lists
    from buildlog.errors import UsageError
    from buildlog.report.as_text.checklist_text import heading_lines

    with open_ledger(ledger_folder) as ledger:
        sheet = ticked_lists.current(ledger, name, key)
        if key is not None:
            item = ticked_lists.tick(sheet, key, result, values, codes, note, by, on)
            say(ticked_lists.words(item))
        elif at_terminal():
            say(heading_lines(sheet.definition))
            _walk(sheet, by)
        else:
            raise UsageError("which item?", hint="buildlog checklist tick KEY --result pass")
        _last_line(sheet)


@command.command("show")
@click.argument("name", metavar="[LIST]", required=False)
@ledger_option
@json_option
def show(name: str | None, ledger_folder: Path | None, as_json: bool) -> None:
    """Show a list with its cautions, and what was found for it last.

    \b
    buildlog checklist show first-start
    """
    from buildlog.desk.acts import ticked_lists
    from buildlog.report.as_text.checklist_text import checklist_json, checklist_lines

    with open_ledger(ledger_folder) as ledger:
        definition, check, where = ticked_lists.newest(ledger, name)
        if as_json:
            say_json("checklist-show", checklist_json(definition, check, where))
        else:
            say(checklist_lines(definition, check, where))


@command.command("list")
@ledger_option
@json_option
def list_(ledger_folder: Path | None, as_json: bool) -> None:
    """Name the lists there are, the shop's own too, and how far each was gone through.

    \b
    buildlog checklist list
    """
    from buildlog.desk.acts import ticked_lists
    from buildlog.report.as_text.checklist_text import list_json, list_lines

    with open_ledger(ledger_folder) as ledger:
        rows = ticked_lists.overview(ledger)
        if as_json:
            say_json("checklist-list", {"lists": [list_json(*row) for row in rows]})
        else:
            say(list_lines(rows))


def _walk(sheet: TickedList, by: str | None) -> None:
    """Ask for each item that has no result; Enter leaves one for later, q stops."""
    from buildlog.desk.acts import ticked_lists
    from buildlog.errors import BuildlogError

    say(
        "p pass, f fail, n not applicable, Enter later, q stop; a value alone decides by its limits"
    )
    left = [item.key for item in sheet.check.item if item.result == "not-done"]
    for number, key in enumerate(left, start=1):
        say(ticked_lists.question(sheet, key, number, len(left)))
        while True:
            answer = click.prompt("   ", default="", show_default=False, prompt_suffix="> ").strip()
            if answer == "q":
                return
            if not answer:
                break
            try:
                say(ticked_lists.words(ticked_lists.answer(sheet, key, answer, by)))
                break
            except BuildlogError as error:
                say(str(error))


def _last_line(sheet: TickedList) -> None:
    from buildlog.analysis.workshop.check_book import counted, unfinished
    from buildlog.desk.acts import ticked_lists
    from buildlog.report.lines import wrap

    done, of = counted(sheet.check)
    left = unfinished(sheet.check)
    few = ", ".join(left[:3]) + (f" and {len(left) - 3} more" if len(left) > 3 else "")
    critical = f", critical left: {few}" if left else ""
    say(wrap(f"{sheet.check.list}: {done} of {of} done{critical}", 2, 0))
    if done < of:
        say(f"next: {ticked_lists.command(sheet)}")
    else:
        title = sheet.check.title or sheet.check.list
        say(f'next: buildlog record -m "{title}" --kind check')
