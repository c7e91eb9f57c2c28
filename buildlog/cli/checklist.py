"""`buildlog checklist`: lists to go through before a step, and what was found."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from buildlog.cli import names
from buildlog.cli.common import (
    DAY,
    AnswerForm,
    at_terminal,
    json_form,
    ledger_option,
    open_ledger,
    say,
    units_form,
)

if TYPE_CHECKING:
    from buildlog.desk.acts.list_items import CheckedItem, ItemAsked, ListWritten
    from buildlog.errors import BuildlogError

by_option = click.option(
    "--by", help="Who looked: initials or a staff number.", shell_complete=names.staff
)
list_option = click.option(
    "--list", "name", help="Which list, where several are begun.", shell_complete=names.checklist
)
_RESULTS = {"done": "pass", "does-not-apply": "not-applicable"}


@click.group()
def command() -> None:
    """Checklists: intake, first-start, light-load-check, before-dyno, after-break-in, hand-back.

    \b
    buildlog checklist show intake
    buildlog checklist start intake

    A shop's own lists lie in the ledger as lists/NAME.toml (buildlog schema checklist).
    """


@command.command("start")
@click.argument("name", metavar="LIST", shell_complete=names.checklist)
@click.option("--odometer", help='The reading: "42310 mi" (else that of the newest entry).')
@click.option("--date", "on", type=DAY, help="The day (else today).")
@click.option("--note", help="Anything about the whole list.")
@by_option
@ledger_option
def start(name: str, ledger_folder: Path | None, **said: Any) -> None:
    """Begin a list. At a terminal it asks for one item after the other; stop when you like.

    \b
    buildlog checklist start first-start --odometer "88972 mi" --by D-07
    """
    from buildlog.desk.acts.list_items import begin
    from buildlog.report.as_text.checklist_text import begun_lines, progress_lines

    person = _AtTerminal(begun_lines) if at_terminal() else None
    with open_ledger(ledger_folder) as ledger:
        done = begin(ledger, name, person=person, **said)
    if person is None:
        say(begun_lines(done))
    say(progress_lines(done))


@command.command("tick")
@click.argument("key", required=False, shell_complete=names.item)
@click.option(
    "--result",
    type=click.Choice(["pass", "done", "fail", "not-applicable", "does-not-apply", "not-done"]),
    help="What was found (else by the value and its limits).",
)
@click.option(
    "--value",
    "values",
    multiple=True,
    help='The value: "43.5 psi", "14.5 AFR"; one for each cylinder: "172 168 171 psi".',
)
@click.option("--code", "codes", multiple=True, help="A stored trouble code: P0299. May repeat.")
@click.option("--fault", help="What is wrong: opens a fault when the list is recorded.")
@click.option("--note", help="What was seen.")
@click.option("--date", "on", type=DAY, help="The day (else today).")
@by_option
@list_option
@ledger_option
def tick(
    key: str | None,
    on: dt.date | None,
    by: str | None,
    name: str | None,
    ledger_folder: Path | None,
    **found: Any,
) -> None:
    """Write down what was found for an item; without KEY, ask for all that are left.

    \b
    buildlog checklist tick fuel-pressure --value "43.5 psi" --by D-07
    buildlog checklist tick belt --result does-not-apply --note "no belt"
    buildlog checklist tick fuel-leaks --fault "sweats at the rail"

    A list that was recorded half done is gone on with in a file of its own.
    """
    from buildlog.desk.acts.list_items import ItemFound, tick
    from buildlog.report.as_text.checklist_text import heading_lines, progress_lines

    person = _AtTerminal(lambda begun: heading_lines(begun.definition)) if at_terminal() else None
    with open_ledger(ledger_folder) as ledger:
        said = ItemFound(**found | {"result": _RESULTS.get(found["result"], found["result"])})
        done = tick(ledger, key, said, name=name, by=by, on=on, person=person)
    say(progress_lines(done))


@command.command("show")
@click.argument("name", metavar="[LIST]", required=False, shell_complete=names.checklist)
@units_form
def show(form: AnswerForm, name: str | None) -> None:
    """Show a list with its cautions, and what was found for it last.

    \b
    buildlog checklist show first-start
    """
    from buildlog.desk.questions.day_books import newest_list
    from buildlog.report.as_json.day_json import checklist_json
    from buildlog.report.as_text.checklist_text import checklist_lines

    with open_ledger(form.ledger) as ledger:
        found = newest_list(ledger, name)
    form.answer("checklist-show", found, checklist_json, checklist_lines)


@command.command("list")
@json_form
def list_(form: AnswerForm) -> None:
    """Name the lists there are, the shop's own too, and how far each is done.

    \b
    buildlog checklist list
    """
    from buildlog.desk.questions.day_books import lists
    from buildlog.report.as_json.day_json import lists_json
    from buildlog.report.as_text.checklist_text import list_lines

    with open_ledger(form.ledger) as ledger:
        found = lists(ledger)
    form.answer("checklist-list", found, lists_json, list_lines)


class _AtTerminal:
    """The person at the terminal asked for each item; Enter leaves one for later, q stops."""

    def __init__(self, heading: Callable[[ListWritten], Iterable[str]]) -> None:
        self._heading = heading

    def begun(self, written: ListWritten) -> None:
        say(self._heading(written))
        say(
            "done, fault WHAT (opens a fault), fail, n does not apply, Enter later, q stop; "
            "a value alone decides by its limits: 43.5, 300 kPa, 14.5 AFR"
        )

    def ask(self, one: ItemAsked, refused: BuildlogError | None) -> str | None:
        from buildlog.report.as_text.checklist_text import asked_lines

        say(f"{refused}" if refused else asked_lines(one))
        answer = click.prompt("   ", default="", show_default=False, prompt_suffix="> ").strip()
        return None if answer == "q" else answer

    def tell(self, item: CheckedItem) -> None:
        from buildlog.report.as_text.checklist_text import item_line

        say(item_line(item))
