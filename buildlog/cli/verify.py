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
    from buildlog.report.json_parts import finding_json
    from buildlog.report.verify_text import verify_lines
    from buildlog.store.verify import verify

    with open_ledger(folder or ledger_folder) as ledger:
        result = verify(ledger)
    checks = [(check.name, check.looked_at, check.held) for check in result.checks]
    good = result.last_good
    last_good = f"entry {good.number} ({good.short})" if good else None
    if as_json:
        body = {
            "verdict": result.verdict,
            "checks": [{"name": n, "looked_at": c, "held": h} for n, c, h in checks],
            "last_good": last_good,
            "findings": [finding_json(finding) for finding in result.findings],
            "proves": list(result.proves),
            "does_not_prove": list(result.does_not_prove),
        }
        say_json("verify", body)
    else:
        say(
            verify_lines(
                result.verdict,
                checks,
                result.findings,
                last_good,
                result.proves,
                result.does_not_prove,
            )
        )
    if result.verdict in ("altered", "cannot-tell"):
        sys.exit(5)
    if any(finding.severity != "note" for finding in result.findings):
        sys.exit(1)
