"""`buildlog verify`: is the history complete and unaltered."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from buildlog.cli.common import json_option, ledger_option, say, say_json


@click.command()
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@ledger_option
@json_option
def command(folder: Path | None, ledger_folder: Path | None, as_json: bool) -> None:
    """Check every object, the chain of digests and the rules of what may change.

    Says in plain words what is proved and what is not.
    """
    from buildlog.cli.common import open_ledger
    from buildlog.report.verify_text import verify_lines
    from buildlog.store.verify import verify

    with open_ledger(folder or ledger_folder) as ledger:
        result = verify(ledger)
    if as_json:
        from dataclasses import asdict

        say_json("verify", asdict(result))
    else:
        say(verify_lines(result))
    if result.verdict in ("altered", "cannot-tell"):
        sys.exit(5)
    if any(finding.severity != "note" for finding in result.findings):
        sys.exit(1)
