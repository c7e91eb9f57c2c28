"""`buildlog shop`: all cars of one business."""

from __future__ import annotations

import click

from buildlog.cli.lazy import LazyGroup, Table

SUBCOMMANDS: Table = {
    "list": ("shop_list", "Where each car stands, and what holds it up."),
    "calendar": ("shop_calendar", "What comes due, as a calendar file."),
    "copy": ("shop_copy", "Copy the shop's own things to a place of yours."),
}


@click.command(cls=LazyGroup, table=SUBCOMMANDS)
def command() -> None:
    """All ledgers of a shop: where each car stands, who has a part, what changes gave.

    \b
    buildlog shop list ~/cars
    """
