"""`buildlog handover`: the history, the booklet and the evidence, for the next owner."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from buildlog.cli.common import (
    display,
    json_option,
    ledger_option,
    open_ledger,
    say,
    say_json,
    units_option,
)

if TYPE_CHECKING:
    from buildlog.desk.give.what_leaves import Leaving


@click.command()
@click.argument("out", metavar="OUT", type=click.Path(path_type=Path))
@click.option("--to", "to", help='To whom, in words that name no person: "the next owner".')
@click.option("--odometer", help='The reading: "42310 mi" (else that of the newest entry).')
@click.option("--note", help="Anything else for the custody record; nothing about persons.")
@click.option("--with-plans", is_flag=True, help="Proposals leave too, with their prices.")
@click.option("--no-pdf", is_flag=True, help="The booklet as HTML only.")
@click.option(
    "--paper",
    type=click.Choice(["letter", "a4"]),
    help="The PDF's page: else letter with US units, a4 with metric ones.",
)
@click.option("--dry-run", is_flag=True, help="Say what would leave and what stays; write nothing.")
@ledger_option
@units_option
@json_option
def command(
    out: Path,
    to: str | None,
    odometer: str | None,
    note: str | None,
    with_plans: bool,
    no_pdf: bool,
    paper: str | None,
    dry_run: bool,
    ledger_folder: Path | None,
    units: str | None,
    as_json: bool,
) -> None:
    """Give the car's history on: a folder OUT, and the same as OUT.zip.

    \b
    buildlog handover tern-2026 --dry-run
    buildlog handover tern-2026 --to "the next owner" --odometer "90210 mi"

    Records who held the history until when (an entry of kind handover), then writes the
    history as a git bundle, the booklet as HTML and PDF, the raw dyno files, the parts
    list, the plots, and how to check all of it without this program.
    """
    from buildlog.cli.signing import asking
    from buildlog.desk.give.booklet_content import RecordedBook
    from buildlog.desk.give.handing_over import give
    from buildlog.desk.give.what_leaves import leaving
    from buildlog.desk.snapshot import settings
    from buildlog.errors import NotFound
    from buildlog.report.as_text.handover_text import given_lines, leaving_json, leaving_lines
    from buildlog.store.exchange import bag
    from buildlog.store.ledger.fingerprint import fingerprint

    with open_ledger(ledger_folder) as ledger:
        if not ledger.entries():
            raise NotFound("nothing is recorded yet", hint="record the car as it came first")
        if dry_run:
            found = leaving(RecordedBook(ledger), plans=with_plans)
            state = fingerprint(ledger)
            if as_json:
                say_json("handover", {"written": None, **leaving_json(_facts(found), state)})
            else:
                say(leaving_lines(_facts(found), state, found.findings))
            return
        bag.refuse_taken(out)
        if not no_pdf:
            from buildlog.report.booklet.pdf import engine

            engine()  # refuses before anything is recorded
        shown = display(ledger, units)
        now = dt.datetime.now(dt.UTC)
        shop = settings.load().shop or "shop without a name"
        done, book = give(
            ledger, out, shop, now, shown, to=to, odometer=odometer, note=note,
            plans=with_plans, pdf=not no_pdf, paper=paper, ask=asking(),
        )  # fmt: skip
        found = leaving(book, plans=with_plans)  # the custody entry leaves, too
    if as_json:
        say_json("handover", {"written": done, **leaving_json(_facts(found), done["fingerprint"])})
    else:
        say(given_lines(done, _facts(found), found.findings))


def _facts(found: Leaving) -> dict[str, Any]:
    """What the report needs of a look at what leaves."""
    return {
        "entries": found.entries,
        "sessions": found.sessions,
        "attachments": found.attachments,
        "photos": found.photos,
        "files": list(found.files),
        "references": list(found.references),
        "earlier_versions": found.earlier,
        "gone": list(found.gone),
        "identifies": list(found.identifies),
        "unread": list(found.unread),
        "stays": list(found.stays),
        "looked_for": [{"what": one.name, "found_in": list(one.found)} for one in found.probes],
    }
