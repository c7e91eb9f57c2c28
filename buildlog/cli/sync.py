"""`buildlog sync`: two copies of one ledger brought to the same state."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli.common import at_terminal, json_option, ledger_option, open_ledger, say, say_json

if TYPE_CHECKING:
    from buildlog.records.merge import Side
    from buildlog.store.exchange.two_copies import SyncQuestion
    from buildlog.store.git.transport import Ask
    from buildlog.store.ledger.ledger import Ledger

PASSWORD = "BUILDLOG_SYNC_PASSWORD"
SIDES: dict[str, Side] = {"ours": "ours", "theirs": "theirs"}


@click.command()
@click.argument("remote")
@click.option(
    "--take",
    multiple=True,
    metavar="ours|theirs|PATH=ours",
    help="Decide what both sides changed: everything, or one field or file.",
)
@click.option("--with-plans", is_flag=True, help="Exchange plans, too; they carry prices.")
@click.option("--dry-run", is_flag=True, help="Say what would happen; write nothing anywhere.")
@ledger_option
@json_option
def command(
    remote: str,
    take: tuple[str, ...],
    with_plans: bool,
    dry_run: bool,
    ledger_folder: Path | None,
    as_json: bool,
) -> None:
    """Fetch what the other side recorded, join it with ours, and send ours.

    \b
    buildlog sync /media/stick/tern
    buildlog sync git@server.example:tern.git --take engine.bore=theirs

    REMOTE is a folder (another copy, a stick; an empty one becomes a copy) or a git server:
    ssh://..., https://..., user@host:path. Sessions, checks and other records of both
    sides stay; car.toml is joined field by field. What both changed differently is asked,
    or refused where nobody can be asked. Nothing is overwritten on either side.

    The tags of stages and handovers go along; plans only with --with-plans, for they carry
    prices: do not use it towards a copy that leaves the shop. A server's password is asked,
    or read from BUILDLOG_SYNC_PASSWORD; a certificate of your own from SSL_CERT_FILE.
    """
    from buildlog.report.as_text import sync_text
    from buildlog.store.exchange.remote import remote as other_side
    from buildlog.store.exchange.two_copies import sync
    from buildlog.store.ledger import copies

    attended = at_terminal() and not as_json
    everything, single = _taken(take)

    def decide(questions: Sequence[SyncQuestion]) -> Mapping[str, Side]:
        decided = {q.name: single.get(q.name) or everything for q in questions}
        for question in (q for q in questions if decided[q.name] is None):
            say(sync_text.question(question), err=as_json)
            if attended:
                decided[question.name] = _ask()
        return {name: side for name, side in decided.items() if side is not None}

    with open_ledger(ledger_folder) as ledger:
        other = other_side(remote, _asker(attended), attended=attended)
        done = sync(ledger, other, decide, dry_run=dry_run, plans=with_plans)
        if done.tip and not dry_run:
            copies.note(ledger.repo, _place(remote), done.tip)
        plans_here = [] if with_plans else _plans(ledger)
    if as_json:
        say_json("sync", sync_text.document(done, dry_run))
        return
    say(sync_text.outcome(done, dry_run, plans_here))


def _plans(ledger: Ledger) -> list[str]:
    from buildlog.store.ledger.names import PLANS

    return list(ledger.repo.references(PLANS))


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


def _place(remote: str) -> str:
    """The other side by one name wherever the command is typed."""
    folder = Path(remote.removeprefix("file://"))
    return str(folder.resolve()) if folder.is_dir() else remote


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
