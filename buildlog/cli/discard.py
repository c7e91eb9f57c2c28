"""`buildlog discard`: what is not recorded yet, out of the folder again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from buildlog.cli import names
from buildlog.cli.common import AnswerForm, at_terminal, json_form, open_ledger, say, say_json

if TYPE_CHECKING:
    from collections.abc import Sequence

    from buildlog.desk.acts.discarding import NewThing, PutBack


@click.command()
@click.argument("files", metavar="[NAME...]", nargs=-1, shell_complete=names.unrecorded)
@click.option("--all", "everything", is_flag=True, help="All that is not recorded; shown first.")
@click.option("--yes", is_flag=True, help="With --all: do not ask.")
@click.option("--back", is_flag=True, help="Put back what NAME was kept under; without, list it.")
@json_form
def command(
    form: AnswerForm, files: tuple[str, ...], everything: bool, yes: bool, back: bool
) -> None:
    """Take an unrecorded session, list, joint, fault or attachment out of the folder.

    \b
    buildlog discard 2026-05-09-stage-2
    buildlog discard --all
    buildlog discard --back 2026-05-10-1

    NAME is its name or its file. It is kept for a week and can be put back. What is recorded is
    never taken out.
    """
    from buildlog.desk.acts.discarding import discard, meant, put_back
    from buildlog.report.as_text.discard_text import discarded_lines, would_lines

    with open_ledger(form.ledger) as ledger:
        if back:
            _said_back(form, put_back(ledger, files))
            return
        things = meant(ledger, files, everything=everything)
        if everything and not (yes or _agreed(form, things)):
            _told(form, things, None) if form.as_json else say(would_lines(_rows(things)))
            return
        done = discard(ledger, files, everything=everything)
    assert done.kept is not None
    if form.as_json:
        _told(form, done.things, done.kept.name)
    else:
        say(discarded_lines(_rows(done.things), done.kept.name))


def _agreed(form: AnswerForm, things: Sequence[NewThing]) -> bool:
    """Whether the person at the terminal, who sees it all first, says so."""
    from buildlog.report.as_text.discard_text import thing_lines

    if form.as_json or not at_terminal():
        return False
    say(thing_lines(_rows(things)))
    return click.confirm("Take all of it out?", default=False)


def _said_back(form: AnswerForm, done: PutBack) -> None:
    from buildlog.report.as_text.discard_text import back_lines

    if form.as_json:
        kept = [{"name": one.name, "when": one.when.isoformat(), "paths": list(one.paths)}
                for one in done.kept]  # fmt: skip
        say_json("discard", {"things": [], "kept_as": None, "put_back": list(done.paths),
                             "kept": kept})  # fmt: skip
    else:
        say(back_lines(done.paths, [(one.name, one.paths) for one in done.kept]))


def _told(form: AnswerForm, things: Sequence[NewThing], kept_as: str | None) -> None:
    told = [{"name": one.name, "kind": one.kind, "title": one.title, "paths": list(one.paths)}
            for one in things]  # fmt: skip
    say_json("discard", {"things": told, "kept_as": kept_as, "put_back": [], "kept": []})


def _rows(things: Sequence[NewThing]) -> list[tuple[str, str]]:
    return [(one.name, one.words) for one in things]
