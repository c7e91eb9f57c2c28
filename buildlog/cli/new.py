"""`buildlog new`: start a ledger for a car."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from buildlog.cli.common import PATH, say

if TYPE_CHECKING:
    from buildlog.desk.acts.new_car import NewCar

POWER_SOURCES = ("spark-ignition", "compression-ignition", "hybrid", "electric")


@click.command()
@click.argument("folder", metavar="DIR", type=PATH, required=False)
@click.option("--from", "source", type=PATH, help="A car.toml, or another car's ledger.")
@click.option("--name", help="What the car is called.")
@click.option("--year", type=int, help="Its model year.")
@click.option("--vin", help="Its vehicle identification number.")
@click.option("--power-source", type=click.Choice(POWER_SOURCES), help="What drives it.")
@click.option(
    "--units", type=click.Choice(["us", "metric"]), help="Units of the commented starting values."
)
@click.option("--shop", help="The shop's name, kept in your settings and put on each entry.")
def command(
    folder: Path | None, source: Path | None, units: str | None, shop: str | None, **car: Any
) -> None:
    """Start a ledger in DIR: a git repository with a commented car.toml to fill in.

    \b
    buildlog new my-car
    buildlog new tern --name "Tern 2.6" --year 1994
    buildlog new tern-10 --from ../tern-9 --vin ...

    Nothing is recorded yet. Fill in what you know, leave out what you do not, then
    record the car as it came. --from a car's ledger takes its description without its
    history: no VIN, no serials, no calibration, no notes; stated limits with their sources.
    Without DIR, --shop alone keeps the shop's name for the entries of every car.
    """
    from buildlog.desk.acts.new_car import NewCar, kept_in_step, start
    from buildlog.report.as_text.acts_text import started_lines
    from buildlog.report.lines import finding_lines

    if folder is None:
        say(_named(shop, source or units or any(car.values())))
        return
    ask = _asked if sys.stdin.isatty() else None
    said = NewCar(**car)
    begun = start(folder, source or said, units=units, shop=shop, ask=ask, known=said)
    say(started_lines(begun))
    if found := kept_in_step(folder):
        say(finding_lines(found), err=True)


def _named(shop: str | None, more: object) -> str:
    """The shop's name alone, for who has a ledger already."""
    from buildlog.desk.acts.new_car import name_shop
    from buildlog.errors import UsageError

    if not shop or more:
        raise UsageError("missing argument 'DIR'", hint="buildlog new my-car")
    name_shop(shop)
    return f"kept in your settings: the shop is {shop}"


def _asked(car: NewCar) -> NewCar:
    """What only the person at the terminal can say."""
    name = car.name or click.prompt("What is the car called (make, model, version)")
    drive = car.power_source or click.prompt(
        "What drives it", type=click.Choice(POWER_SOURCES), default=POWER_SOURCES[0]
    )
    return replace(car, name=name, power_source=drive)
