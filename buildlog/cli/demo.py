"""`buildlog demo`: the main job on an invented car."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from buildlog.cli.common import PATH, say


@click.command()
@click.argument("folder", metavar="[DIR]", default="demo-ledger", type=PATH)
def command(folder: Path) -> None:
    """Build the demo car's ledger in DIR and show the main job on it.

    \b
    buildlog demo
    buildlog demo my-demo

    Car, shop, parts and measurements are invented. Dates, author and nonce are fixed, so
    the entry ids are the same on every machine.
    """
    from buildlog.desk.acts.replay import build_demo, demo_steps

    steps = demo_steps(folder)
    with click.progressbar(length=steps, label="recording the demo car", file=sys.stderr) as bar:
        build_demo(folder, lambda _: bar.update(1))
    picture = folder.parent / f"{folder.name}-history.png"
    page = folder.parent / f"{folder.name}-stage-2.html"
    for arguments in (
        ["history"],
        ["diff", "stage-1", "stage-2"],
        ["margins"],
        ["plot", "baseline", "stage-1", "stage-2", "--out", str(picture)],
        ["report", "stage-2", "--out", str(page)],
    ):
        say(["", f"$ buildlog {' '.join(arguments)}", ""])
        _command(arguments, folder)
    say(
        [
            "",
            f"the ledger is in {folder}, the picture in {picture}, the customer's sheet in {page}",
            f"next: cd {folder} && buildlog handover ../{folder.name}-handover",
        ]
    )


def _command(arguments: list[str], folder: Path) -> None:
    from buildlog.cli.main import cli

    cli.main([*arguments, "--ledger", str(folder)], "buildlog", standalone_mode=False)
