"""`buildlog plan`: proposals on branches of their own, side by side, adopted field by field."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli import common, names

if TYPE_CHECKING:
    import datetime as dt

    from buildlog.desk.acts.plans_made import Conflict, Side

SIDES: dict[str, Side] = {"working": "ours", "plan": "theirs"}


@click.group()
def command() -> None:
    """Plans: what could be built next. A plan is no entry and does not leave with the car.

    \b
    buildlog plan new turbo --from latest
    buildlog plan set turbo fuel.injectors.flow="550 cc/min" price=5200.00
    buildlog plan compare turbo headers
    buildlog plan quote turbo --pdf quote.pdf
    buildlog plan adopt turbo
    """


@command.command("new")
@click.argument("name")
@click.option(
    "--from",
    "origin",
    default="latest",
    show_default=True,
    metavar="VERSION",
    help="The version it starts from.",
)
@common.ledger_option
def new(name: str, origin: str, ledger_folder: Path | None) -> None:
    """Start a plan from a version: an entry, another plan, or the working files.

    \b
    buildlog plan new turbo
    buildlog plan new turbo --from latest
    """
    from buildlog.desk.acts.plans_made import new_plan
    from buildlog.report.as_text.plan_text import made_lines

    with common.open_ledger(ledger_folder) as ledger:
        done = new_plan(ledger, name, origin)
    common.say(made_lines(done))


@command.command("set")
@click.argument("name", shell_complete=names.plan)
@click.argument(
    "assignments",
    metavar="PATH=VALUE...",
    nargs=-1,
    required=True,
    shell_complete=names.assignment,
)
@common.ledger_option
def set_(name: str, assignments: tuple[str, ...], ledger_folder: Path | None) -> None:
    """Set fields of the planned car, or price, charges, time and note of the plan.

    \b
    buildlog plan set turbo induction.boost.target_gauge="8 psi"
    buildlog plan set turbo price=5200.00 currency=EUR
    buildlog plan set turbo "charge[clutch]=1690.00" "charge[clutch].why=worn"

    Of the plan are price, currency, note, time, valid_until and charge[WHAT], of which a line
    of the quote is made; without price their sum is the price. An empty value removes.
    """
    from buildlog.desk.acts.plans_made import set_plan
    from buildlog.report.as_text.plan_text import set_lines

    with common.open_ledger(ledger_folder) as ledger:
        done = set_plan(ledger, name, assignments)
    common.say(set_lines(done))


@command.command("list")
@common.json_form
def list_(form: common.AnswerForm) -> None:
    """List the plans, with what each would cost and how much it changes.

    \b
    buildlog plan list
    """
    from buildlog.desk.questions.plans import Planner
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_json.plan_json import list_json
    from buildlog.report.as_text.plan_text import list_lines

    with opening.snapshot(form.ledger) as book:
        offers = Planner(book).unpredicted()
    form.answer("plan-list", offers, list_json, list_lines)


@command.command("show")
@click.argument("name", shell_complete=names.plan)
@click.option("--full", is_flag=True, help="Values in full, nothing cut.")
@common.shop_option
@common.units_form
def show(form: common.AnswerForm, name: str, full: bool, shop: Path | None) -> None:
    """One plan: what it would give, what it changes, what must change too.

    \b
    buildlog plan show turbo
    """
    from buildlog.desk.questions.plans import Planner
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_json.plan_json import offer_json
    from buildlog.report.as_text.plan_text import offer_lines

    with opening.snapshot(form.ledger) as book:
        found = Planner(book, shop).offer(name)
        form.answer("plan-show", found, offer_json, offer_lines, full, ledger=book.ledger)


@command.command("compare")
@click.argument("names", metavar="NAME...", nargs=-1, shell_complete=names.plan)
@common.shop_option
@common.units_form
def compare(form: common.AnswerForm, names: tuple[str, ...], shop: Path | None) -> None:
    """Put plans side by side: gain, price, price for the gain, what else must change.

    \b
    buildlog plan compare
    buildlog plan compare turbo headers

    Without names, all plans.
    """
    from buildlog.desk.questions.plans import Planner
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_json.plan_json import compare_json
    from buildlog.report.as_text.plan_text import compare_lines

    with opening.snapshot(form.ledger) as book:
        offers = Planner(book, shop).offers(names)
        form.answer("plan-compare", offers, compare_json, compare_lines, ledger=book.ledger)


@command.command("quote")
@click.argument("names", metavar="NAME...", nargs=-1, required=True, shell_complete=names.plan)
@click.option("--html", "html", type=common.PATH, help="Write the page as HTML.")
@click.option("--pdf", "pdf", type=common.PATH, help="Write the page as PDF.")
@common.paper_option
@click.option("--date", type=common.DAY, help="The day of the quote; else today.")
@click.option("--anew", is_flag=True, help="Promise anew, in place of what was quoted before.")
@common.shop_option
@common.units_form
def quote(
    form: common.AnswerForm, names: tuple[str, ...], html: Path | None, pdf: Path | None,
    paper: str | None, date: dt.date | None, anew: bool, shop: Path | None,
) -> None:  # fmt: skip
    """One page for the customer before the work; its promise is stored and stays as it is.

    \b
    buildlog plan quote turbo --pdf quote.pdf
    buildlog plan quote turbo headers

    Price, time and validity are those of the plan: plan set turbo 'charge[clutch]=1690.00'
    currency=USD time="9 working days after parts arrive" valid_until=2026-05-10. After the
    work, buildlog report sets what was measured beside the promise.
    """
    from buildlog.desk.acts.promises_kept import make_quote
    from buildlog.desk.give.quoting import write_quotes
    from buildlog.report.as_text.handover_text import written_lines
    from buildlog.report.booklet.quote_out import quotes_json
    from buildlog.report.booklet.quote_page import quote_text

    with common.open_ledger(form.ledger) as ledger:
        shown = form.display(ledger)
        made = [make_quote(ledger, one, date=date, shop=shop, anew=anew)
                for one in dict.fromkeys(names)]  # fmt: skip
    written = write_quotes(made, [html, pdf], shown, paper)
    if form.as_json:
        common.say_json("plan-quote", quotes_json(made, shown))
    elif written:
        common.say([line for one in written for line in written_lines(one.path, one.no_pdf)])
    else:
        common.say(quote_text(made, shown))


@command.command("accept")
@click.argument("name", shell_complete=names.plan)
@click.option("--how", required=True, help='In which way: "by phone", "signed in the shop".')
@click.option(
    "--by",
    help="Who noted it: a staff code; else done_by of the settings.",
    shell_complete=names.staff,
)
@click.option("--date", type=common.DAY, help="The day; else today.")
@common.json_form
def accept(
    form: common.AnswerForm, name: str, how: str, by: str | None, date: dt.date | None
) -> None:
    """Note that the customer accepted a quote: when and how. No names of people.

    \b
    buildlog plan accept turbo --how "by phone"
    """
    from buildlog.desk.acts.promises_kept import accept_plan
    from buildlog.report.booklet.quote_out import accepted_json, accepted_lines

    with common.open_ledger(form.ledger) as ledger:
        done = accept_plan(ledger, name, how, by=by, date=date)
    form.answer("plan-accept", done, accepted_json, accepted_lines)


@command.command("adopt")
@click.argument("name", shell_complete=names.plan)
@click.option(
    "--take",
    type=click.Choice(["plan", "working"]),
    help="Which side wins where plan and working changed one field differently.",
)
@common.json_form
def adopt(form: common.AnswerForm, name: str, take: str | None) -> None:
    """Merge a plan into the working files, field by field; price and note stay on the plan.

    \b
    buildlog plan adopt turbo

    Where both changed a field differently it asks at a terminal, and refuses elsewhere
    unless --take says which side wins.
    """
    from buildlog.desk.acts.plans_made import adopt_plan
    from buildlog.report.as_text.plan_text import adopted_json, adopted_lines

    decide = partial(_decided, take=take, attended=common.at_terminal() and not form.as_json)
    with common.open_ledger(form.ledger) as ledger:
        done = adopt_plan(ledger, name, decide)
    form.answer("plan-adopt", done, adopted_json, adopted_lines)


@command.command("drop")
@click.argument("name", shell_complete=names.plan)
@common.ledger_option
def drop(name: str, ledger_folder: Path | None) -> None:
    """Take a plan away. Entries and working files stay as they are.

    \b
    buildlog plan drop turbo
    """
    from buildlog.desk.acts.plans_made import drop_plan
    from buildlog.report.as_text.plan_text import dropped_lines

    with common.open_ledger(ledger_folder) as ledger:
        done = drop_plan(ledger, name)
    common.say(dropped_lines(done))


def _decided(conflicts: Sequence[Conflict], take: str | None, attended: bool) -> dict[str, Side]:
    """Which side wins, field by field: as --take says, else as the person at the terminal says."""
    from buildlog.report.as_text.plan_text import undecided

    if take is None and not attended:
        raise undecided(conflicts)
    return {one.path: SIDES[take or _asked(one)] for one in conflicts}


def _asked(conflict: Conflict) -> str:
    from buildlog.report.as_text.plan_text import conflict_lines
    from buildlog.report.lines import clean

    *said, question = conflict_lines(conflict)
    common.say(said)
    return str(click.prompt(clean(question), type=click.Choice(list(SIDES))))
