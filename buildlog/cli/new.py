"""`buildlog new`: start a ledger for a car."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path

import click

from buildlog.cli.common import say


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--from", "source", type=click.Path(path_type=Path), help="A car.toml to start from.")
@click.option("--name", help="What the car is called.")
@click.option("--year", type=int, help="Its model year.")
@click.option("--vin", help="Its vehicle identification number.")
@click.option(
    "--power-source",
    type=click.Choice(["spark-ignition", "compression-ignition", "hybrid", "electric"]),
    help="What drives it.",
)
@click.option(
    "--units", type=click.Choice(["us", "metric"]), help="Units of the commented starting values."
)
@click.option("--shop", help="The shop's name, kept in your settings and put on each entry.")
def command(
    folder: Path,
    source: Path | None,
    name: str | None,
    year: int | None,
    vin: str | None,
    power_source: str | None,
    units: str | None,
    shop: str | None,
) -> None:
    """Start a ledger in DIR: a git repository with a commented car.toml to fill in.

    \b
    buildlog new my-car
    buildlog new tern --name "Tern 2.6" --year 1994

    Nothing is recorded yet. Fill in what you know, leave out what you do not, then
    record the car as it came.
    """
    from buildlog.desk.acts.template import template
    from buildlog.desk.snapshot import settings
    from buildlog.errors import InvalidInput, NotFound, UsageError
    from buildlog.records.configuration import Configuration
    from buildlog.records.reading import read
    from buildlog.store.disk.atomic import disk_errors
    from buildlog.store.ledger.ledger import Ledger

    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InvalidInput(f"{folder} is not an empty folder", hint="name a new one")
    asked = sys.stdin.isatty()
    if source is not None:
        if not source.is_file():
            raise NotFound(f"there is no file {source}", hint="look at --from")
        data = source.read_bytes()
    else:
        if name is None and not asked:
            raise UsageError("the car has no name", hint='--name "Marrow Tern 2.6"')
        name = name or click.prompt("What is the car called (make, model, version)")
        if asked and power_source is None:
            power_source = click.prompt(
                "What drives it",
                type=click.Choice(["spark-ignition", "compression-ignition", "hybrid", "electric"]),
                default="spark-ignition",
            )
        own = units or settings.load().units or "metric"
        data = template(name, year, vin, power_source, own).encode()
    read(Configuration, data, source.name if source else "car.toml")
    if shop:
        settings.save(settings.Settings(shop=shop))
    with disk_errors("making the ledger"):
        folder.mkdir(parents=True, exist_ok=True)
    with Ledger.create(folder) as ledger:
        ledger.write_working("car.toml", data)
    say(
        [
            f"started a ledger in {folder}",
            f"  fill in   {folder / 'car.toml'}",
            "  what is not known is left out; it will be said to be missing where it counts",
            f"next: cd {shlex.quote(str(folder))} && buildlog check",
        ]
    )
