"""`buildlog sync`: two copies of one ledger brought to the same state."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from buildlog.cli.common import at_terminal, json_option, ledger_option, open_ledger, say, say_json

if TYPE_CHECKING:
    from buildlog.records.merge import Side
    from buildlog.store.entries import Entry
    from buildlog.store.sync import Question, Saying, Synced

SIDES: dict[str, Side] = {"ours": "ours", "theirs": "theirs"}


@click.command()
@click.argument("remote")
@click.option(
    "--take",
    multiple=True,
    metavar="ours|theirs|PATH=ours",
    help="Decide what both sides changed: everything, or one field or file.",
)
@click.option("--dry-run", is_flag=True, help="Say what would happen; write nothing anywhere.")
@ledger_option
@json_option
def command(
    remote: str, take: tuple[str, ...], dry_run: bool, ledger_folder: Path | None, as_json: bool
) -> None:
    """Fetch what the other side recorded, join it with ours, and send ours.

    REMOTE is a folder (another copy, a stick; an empty one becomes a copy) or a git server:
    ssh://..., https://..., user@host:path. Sessions, checks and other records of both
    sides stay; car.toml is joined field by field. What both changed differently is asked,
    or refused where nobody can be asked. Nothing is overwritten on either side.

    \b
    buildlog sync /media/stick/tern
    buildlog sync git@server.example:tern.git --take engine.bore=theirs
    """
    from buildlog.store import copies
    from buildlog.store.remote import remote as other_side
    from buildlog.store.sync import sync

    everything, single = _taken(take)

    def decide(questions: Sequence[Question]) -> Mapping[str, Side]:
        decided = {q.name: single.get(q.name) or everything for q in questions}
        open_ = [q for q in questions if decided[q.name] is None]
        for question in open_:
            say(_question_lines(question))
            if at_terminal():
                decided[question.name] = _ask(question)
        return {name: side for name, side in decided.items() if side is not None}

    with open_ledger(ledger_folder) as ledger:
        done = sync(ledger, other_side(remote), decide, dry_run=dry_run)
        if done.tip and not dry_run:
            copies.note(ledger.repo, _place(remote), done.tip)
    if as_json:
        say_json("sync", _json(done, dry_run))
        return
    say(_lines(done, dry_run))


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


def _ask(question: Question) -> Side | None:
    choice = click.Choice(["ours", "theirs", "neither"])
    answer = click.prompt("  which one is right", type=choice, default="neither")
    return SIDES.get(answer)


def _question_lines(question: Question) -> list[str]:
    lines = [f"{question.name} was changed on both sides"]
    if not question.is_file:
        lines.append(f"  was     {_shown(question.was)}")
    for word, said in (("ours", question.ours), ("theirs", question.theirs)):
        value = "" if question.is_file else f"{_shown(said.value)}, "
        lines.append(f"  {word:<7} {value}{_who(said)}")
    return lines


def _who(said: Saying) -> str:
    entry = said.entry
    if entry is None:
        return "by whom is not known"
    by = f" by {entry.done_by}" if entry.done_by else ""
    return f"{entry.short}{by} on {entry.work_date}: {entry.subject}"


def _shown(value: object) -> str:
    return "not given" if value is None else str(value)


def _lines(done: Synced, dry_run: bool) -> list[str]:
    from buildlog.report.lines import wrap

    would = "would be " if dry_run else ""
    first = {
        "equal": "equal: both sides hold the same entries",
        "sent": f"{would}sent: {_count(done.sent)}; the other side is now equal to ours",
        "received": f"{would}received: {_count(done.received)}; ours is now equal to the other",
        "joined": f"{would}joined: {_count(done.received)} came, {_count(done.sent)} went; "
        "both sides are now equal",
    }[done.state]
    lines = wrap(first, 2, 0)
    for word, listed in (("came", done.received), ("went", done.sent)):
        lines += [f"  {word}  {_entry(entry)}" for entry in listed[-8:]]
    for old, new in done.renamed.items():
        lines += wrap(f"both sides had a {old}: one of them is now {new}", 4, 2)
    lines += [f"  decided {name}: {side}" for name, side in done.decided.items()]
    if dry_run:
        lines.append("nothing was written (--dry-run)")
    return [*lines, "next: buildlog history"]


def _count(listed: Sequence[Entry]) -> str:
    return "1 entry" if len(listed) == 1 else f"{len(listed)} entries"


def _entry(entry: Entry) -> str:
    return f"{entry.short}  {entry.work_date}  {entry.subject}"


def _json(done: Synced, dry_run: bool) -> dict[str, Any]:
    return {
        "state": done.state,
        "dry_run": dry_run,
        "received": [entry.id for entry in done.received],
        "sent": [entry.id for entry in done.sent],
        "tip": done.tip,
        "renamed": dict(done.renamed),
        "decided": dict(done.decided),
    }
