"""`buildlog plot`: the dyno history across versions."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from buildlog.cli import names
from buildlog.cli.common import PATH, AnswerForm, say, standard_option, text_form


@click.command()
@click.argument("versions", metavar="[VERSION]...", nargs=-1, shell_complete=names.version)
@click.option(
    "--out",
    type=PATH,
    default=Path("history.png"),
    show_default=True,
    help="The picture; its ending says PNG, SVG or PDF.",
)
@click.option(
    "--what",
    type=click.Choice(["power", "torque", "air-fuel", "boost", "predicted", "margins"]),
    default="power",
    show_default=True,
    help="The quantity that is drawn.",
)
@click.option(
    "--against",
    type=click.Choice(["odometer", "date"]),
    help="Peaks over the car's life, in place of curves.",
)
@click.option("--predicted", is_flag=True, help="FROM TO: the predicted band beside the measured.")
@click.option(
    "--layout",
    type=click.Choice(["wide", "page", "phone"]),
    default="wide",
    show_default=True,
    help="How it is laid out: for a screen, for a page, for a phone.",
)
@click.option("--dark", is_flag=True, help="On a dark ground.")
@click.option("--pulls", is_flag=True, help="Every pull as a thin line.")
@click.option("--focus", multiple=True, metavar="VERSION", help="Keeps its color among many.")
@standard_option
@text_form
def command(
    form: AnswerForm,
    versions: tuple[str, ...],
    out: Path,
    layout: str,
    dark: bool,
    pulls: bool,
    focus: tuple[str, ...],
    **asked: Any,
) -> None:
    """Draw the curves of the versions that were measured, with their bands.

    \b
    buildlog plot baseline stage-1 --out history.png
    buildlog plot --what margins --out margins.png

    Below them stands the difference between the first and the last, with its band.
    --what predicted draws each past stage's predicted band and its measured peak
    over the odometer, or the date with --against date;
    --what air-fuel or boost draws that channel with the declared target.
    --what margins draws each load as a share of its limit.
    """
    from buildlog.desk.give.plotting import Look, plot
    from buildlog.desk.snapshot import opening

    with opening.snapshot(form.ledger) as book:
        look = Look(layout, dark, pulls, focus)
        drawn = plot(book, versions, units=form.units, look=look, **asked)
    drawn.write(out)
    say([*drawn.left_out, f"wrote {out}"])
