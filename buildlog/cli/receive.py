"""`buildlog receive`: take a history over, after checking it."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli.common import json_option, say, say_json
from buildlog.cli.signing import asking


@click.command()
@click.argument("package", metavar="FILE", type=click.Path(path_type=Path))
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--sign", "sign", is_flag=True, help="Record that you took it over.")
@click.option("--odometer", help='With --sign: the reading, "42310 mi".')
@json_option
def command(package: Path, folder: Path, sign: bool, odometer: str | None, as_json: bool) -> None:
    """Check a handover (its folder, its zip, or the bundle alone) and go on with it in DIR.

    \b
    buildlog receive tern-2026.zip tern

    Verifies first. Nothing is left behind of a file that is damaged or not what it says.
    The entries keep their ids.
    """
    from buildlog.desk.give.receiving import receive
    from buildlog.report.as_json.acts_json import received_json
    from buildlog.report.as_text.receive_text import received_lines

    done = receive(package, folder, sign=sign, odometer=odometer, ask=asking())
    if as_json:
        say_json("receive", received_json(done))
    else:
        say(received_lines(done))
