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
    from buildlog.store.verify.repacking import pack

    with open_ledger(ledger_folder) as ledger:
        done = pack(ledger)
    if as_json:
        say_json("pack", {
            "by": done.by, "bytes_before": done.bytes_before, "bytes_after": done.bytes_after,
            "files_before": done.files_before, "files_after": done.files_after,
        })  # fmt: skip
        return
    before = f"{done.files_before:,} files of {done.bytes_before / 1000:,.0f} kB"
    after = f"{done.files_after:,} of {done.bytes_after / 1000:,.0f} kB"
    say([f"packed by {done.by}: {before} are now {after}", "next: buildlog verify"])
