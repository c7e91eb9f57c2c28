"""`buildlog verify`: is the history complete and unaltered."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from buildlog.cli.common import PATH, AnswerForm, end, json_form


@click.command()
@click.argument("target", metavar="[LEDGER|HANDOVER]", required=False, type=PATH)
@click.option("--paper", metavar="FINGERPRINT", help="The fingerprint printed at a handover.")
@click.option(
    "--signers",
    multiple=True,
    type=PATH,
    help="Public keys you got from the shop itself: a .pub or allowed_signers file.",
)
@json_form
def command(
    form: AnswerForm, target: Path | None, paper: str | None, signers: tuple[Path, ...]
) -> None:
    """Check a ledger, or a handover as it came: its folder, its zip, or the bundle alone.

    \b
    buildlog verify
    buildlog verify tern.zip --paper 7KQ4-M2ZX-90DT-HC3V-81RA-5W
    buildlog verify tern.zip --signers shop.pub

    Reads every entry and every file, checks each against the one before, and checks
    signatures and checksums. Says what that proves and what it does not: without a key you
    know or a fingerprint on paper, nobody can tell a history that was rewritten from start
    to end.
    """
    from buildlog.desk.questions.verifying import free_folder, verified
    from buildlog.report.as_json.verify_json import verify_json
    from buildlog.report.as_text.verify_text import verify_lines

    named = target or form.ledger
    result = verified(named, signers=signers, paper=paper)
    form.answer("verify", result, verify_json, lambda one: verify_lines(one, named, free_folder()))
    if result.empty:
        sys.exit(3)
    if result.verdict in ("altered", "cannot-tell"):
        sys.exit(5)
    end(result.findings)
