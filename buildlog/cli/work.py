"""`buildlog work`: work without physics, without opening car.toml."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli.common import ledger_option, open_ledger, say


@click.group()
def command() -> None:
    """Work without physics: paint, seats, detailing, suspension.

    \b
    buildlog work add paint --note "front fender"
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
    from buildlog.desk.acts.car_fields import add_work
    from buildlog.report.as_text.acts_text import work_lines

    with open_ledger(ledger_folder) as ledger:
        done = add_work(ledger, item, note)
    say(work_lines(done))
