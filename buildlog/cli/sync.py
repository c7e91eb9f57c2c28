"""`buildlog sync`: two copies of one ledger brought to the same state."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import click

from buildlog.cli.common import AnswerForm, at_terminal, json_form, open_ledger, say, say_json

if TYPE_CHECKING:
    from buildlog.desk.acts.syncing import Ask, Side, SyncQuestion

PASSWORD = "BUILDLOG_SYNC_PASSWORD"
SIDES: dict[str, Side] = {"ours": "ours", "theirs": "theirs"}


@click.command()
@click.argument("remote", required=False)
@click.option(
    "--beside", is_flag=True, help="Join what was recorded and stands beside this history here."
)
@click.option(
    "--take",
    multiple=True,
    metavar="ours|theirs|PATH=ours",
    help="Decide what both sides changed: everything, or one field or file.",
)
@click.option("--with-plans", is_flag=True, help="Exchange plans, too; they carry prices.")
@click.option("--dry-run", is_flag=True, help="Say what would happen; write nothing anywhere.")
@json_form
def command(
    form: AnswerForm, remote: str | None, beside: bool, take: tuple[str, ...], with_plans: bool,
    dry_run: bool,
) -> None:  # fmt: skip
    """Fetch what the other side recorded, join it with ours, and send ours.

    \b
    buildlog sync /media/stick/tern
    buildlog sync git@server.example:tern.git --take engine.bore=theirs

    REMOTE is a folder (another copy, a stick; an empty one becomes a copy) or a git server:
    ssh://..., https://..., user@host:path. Sessions, checks and other records of both
    sides stay; car.toml is joined field by field. What both changed differently is asked,
    or refused where nobody can be asked. Nothing is overwritten on either side.

    Instead of a REMOTE, --beside joins what another computer recorded in this same folder, and
    whose objects a file service brought without its branch.

    The tags of stages and handovers go along; plans only with --with-plans, for they carry
    prices: do not use it toward a copy that leaves the shop. A server's password is asked,
    or read from BUILDLOG_SYNC_PASSWORD; a certificate of your own from SSL_CERT_FILE.
    """
    from buildlog.desk.acts.syncing import join_beside, sync
    from buildlog.errors import UsageError
    from buildlog.report.as_json.acts_json import synced_json
    from buildlog.report.as_text import sync_text

    if beside == bool(remote):
        raise UsageError("name the other side, or --beside", hint="buildlog sync /media/stick/tern")
    attended = at_terminal() and not form.as_json
    everything, single = _taken(take)

    def decide(questions: Sequence[SyncQuestion]) -> Mapping[str, Side]:
        decided = {q.name: single.get(q.name) or everything for q in questions}
        for question in (q for q in questions if decided[q.name] is None):
            say(sync_text.question(question), err=form.as_json)
            if attended:
                decided[question.name] = _ask()
        return {name: side for name, side in decided.items() if side is not None}

    with open_ledger(form.ledger) as ledger:
        if remote is None:
            done = join_beside(ledger, decide, dry_run=dry_run)
        else:
            done = sync(
                ledger, remote, decide, plans=with_plans, dry_run=dry_run,
                password=_asker(attended), attended=attended,
            )  # fmt: skip
    if form.as_json:
        say_json("sync", synced_json(done, dry_run))
    else:
        say(sync_text.outcome(done, dry_run))


def _asker(attended: bool) -> Ask | None:
    """Who gives a server's password: the environment, else the person at the terminal."""
    held = os.environ.get(PASSWORD)
    if held is None and not attended:
        return None

    def ask(host: str, user: str | None) -> tuple[str, str]:
        name = user or (str(click.prompt(f"Name at {host}", err=True)) if attended else "")
        if held is not None:
            return name, held
        return name, str(click.prompt(f"Password of {name} at {host}", hide_input=True, err=True))

    return ask


def _taken(take: tuple[str, ...]) -> tuple[Side | None, dict[str, Side]]:
    from buildlog.errors import UsageError

    everything: Side | None = None
    single: dict[str, Side] = {}
    for text in take:
        name, _, side = text.rpartition("=")
        if side not in SIDES:
            raise UsageError(
                f'--take {text} is not "ours", "theirs" or PATH=ours',
                hint="--take engine.bore=ours",
            )
        if name:
            single[name] = SIDES[side]
        else:
            everything = SIDES[side]
    return everything, single


def _ask() -> Side | None:
    choice = click.Choice(["ours", "theirs", "neither"])
    answer = click.prompt("  which one is right", type=choice, default="neither")
    return SIDES.get(answer)
