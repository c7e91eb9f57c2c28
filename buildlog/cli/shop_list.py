"""`buildlog shop list`: every car of the shop, what is due, who has a part, gains, faults."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli.common import PATH, AnswerForm, formed, json_option, say, say_json, units_option

if TYPE_CHECKING:
    from buildlog.desk.questions.whole_shop import ShopAnswer

_WORTH_A_BAR = 50  # ledgers to read


@click.command("list")
@click.argument("folders", metavar="DIR...", nargs=-1, type=PATH)
@click.option("--find", metavar="PATH=VALUE", help="Who has or had this part or value.")
@click.option("--due", is_flag=True, help="What is due: break-in, tightening, lists, faults, ...")
@click.option("--gains", is_flag=True, help="What each kind of change gave, measured, with spread.")
@click.option("--faults", is_flag=True, help="Faults by part number, with distance at failure.")
@click.option("--csv", "as_csv", is_flag=True, help="Rows for a spreadsheet instead.")
@click.option(
    "--plot", type=PATH,
    help="Write a figure of the gains, and of predicted against measured (PNG, SVG, PDF).",
)  # fmt: skip
@click.option(
    "--remote", type=click.Path(path_type=Path, dir_okay=False),
    help="A file of git servers' addresses, one a line: their ledgers too.",
)  # fmt: skip
@click.option(
    "--patience", type=click.FloatRange(1, 600), default=30.0, show_default=True,
    help="Seconds a remote may take.",
)  # fmt: skip
@click.option("--full", is_flag=True, help="Nothing cut to the width of a page.")
@formed(units_option, json_option)
def command(
    form: AnswerForm,
    folders: tuple[Path, ...],
    find: str | None,
    due: bool,
    gains: bool,
    faults: bool,
    as_csv: bool,
    plot: Path | None,
    remote: Path | None,
    patience: float,
    full: bool,
) -> None:
    """One line for each car below the folders, what needs attention first.

    \b
    buildlog shop list ~/cars
    buildlog shop list ~/cars --due

    Where it stands and since when, what holds it up, its tightest limit, its last measured
    power. Only what is recorded counts; work not yet recorded is seen by `buildlog next`.
    """
    from buildlog.desk.questions.whole_shop import WholeShop
    from buildlog.errors import UsageError

    if sum((find is not None, due, gains or plot is not None, faults)) > 1:
        raise UsageError("one question at a time", hint="--find, --due, --gains or --faults")
    if as_csv and form.as_json:
        raise UsageError("--csv and --json are two forms", hint="give one of them")
    if not folders and remote is None:
        raise UsageError("no folder is named", hint="buildlog shop list DIR...")
    with WholeShop(folders, remote, patience, _bar) as shop:
        found: ShopAnswer
        if find is not None:
            found = shop.find(find)
        elif gains or plot is not None:
            found = gained = shop.gains()
            if plot is not None:
                from buildlog.desk.give.plotting import shop_figure

                shop_figure(gained).write(plot)
        elif faults:
            found = shop.faults()
        else:
            found = shop.due() if due else shop.standing()
        if as_csv:
            _say_csv(found, full)
        elif form.as_json:
            from buildlog.report.as_json.shop_json import shop_json

            say_json(*shop_json(found))
        else:
            from buildlog.report.as_text.shop_text import shop_lines
            from buildlog.report.numbers import speaking

            say(shop_lines(found, speaking(shop.units(form.units, found.odometers)), full, plot))


def _say_csv(found: ShopAnswer, full: bool) -> None:
    """The rows; what could not be read is said on the error output."""
    from buildlog.report.as_json.shop_csv import csv_text
    from buildlog.report.as_json.shop_json import shop_rows
    from buildlog.report.as_text.shop_text import not_reached_lines

    click.echo(csv_text(shop_rows(found)), nl=False)
    if lines := not_reached_lines(found, full):
        say(lines, err=True)


@contextlib.contextmanager
def _bar(label: str, steps: int, weight: int) -> Iterator[Callable[[int], None]]:
    """A progress bar on a terminal's error stream where it is worth one; nothing elsewhere."""
    if steps * weight < _WORTH_A_BAR or not sys.stderr.isatty():
        yield lambda _: None
        return
    with click.progressbar(length=steps, label=label, file=sys.stderr) as bar:
        yield bar.update
