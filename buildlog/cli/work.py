"""`buildlog work`: work without physics, without opening car.toml."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli.common import ledger_option, open_ledger, say


@click.group()
def command() -> None:
    """Work without physics: paint, seats, detailing, suspension.

    \b
    buildlog work add paint --note "front wing"
    """


@command.command("add")
@click.argument("item")
@click.option("--note", help="What was done.")
@ledger_option
def add(item: str, note: str | None, ledger_folder: Path | None) -> None:
    """Add ITEM to the car's [[work]]; with the name of an item that is there, change its note.

    \b
    buildlog work add "seats" --note "driver's seat re-covered"
    """
    from buildlog.desk.acts.filing import refuse_invalid
    from buildlog.records.configuration import Configuration
    from buildlog.records.reading import read
    from buildlog.records.toml import toml_edit
    from buildlog.store.ledger.names import WORKING

    with open_ledger(ledger_folder) as ledger:
        before = ledger.read(WORKING, "car.toml")
        known = [work.item for work in read(Configuration, before, "car.toml").work]
        if item in known:
            path = f"work.{known.index(item)}.note"
            after = toml_edit.set_values(before, {path: note}) if note else before
        else:
            fields = {"item": item, **({"note": note} if note else {})}
            after = toml_edit.append_item(before, "work", fields)
        refuse_invalid(Configuration, after, "car.toml")
        ledger.write_working("car.toml", after, expect=before)
    say(f"work: {item}" + (f" - {note}" if note else ""))
    if any(word in f"{item} {note or ''}".casefold() for word in ("seat", "airbag", "steering")):
        say("caution: airbags and belt tensioners are for trained people, battery disconnected")
    say(f'next: buildlog record -m "{item}"')
