"""`buildlog pack`: the repository packed on request."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli.common import json_option, ledger_option, open_ledger, say, say_json


@click.command()
@ledger_option
@json_option
def command(ledger_folder: Path | None, as_json: bool) -> None:
    """Pack the repository: the same history in fewer, smaller files.

    \b
    buildlog pack

    Never done by itself. Uses git where there is one, and checks the pack afterwards.
    """
    from buildlog.desk.acts.upkeep import pack
    from buildlog.report.as_text.pack_text import packed_json, packed_lines

    with open_ledger(ledger_folder) as ledger:
        done = pack(ledger)
    if as_json:
        say_json("pack", packed_json(done))
    else:
        say(packed_lines(done))
