"""`buildlog plot`: the dyno history across versions."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli.common import (
    display,
    ledger_option,
    read_ledger,
    say,
    standard_option,
    units_option,
)


@click.command()
@click.argument("versions", metavar="[VERSION]...", nargs=-1)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
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
@standard_option
@ledger_option
@units_option
def command(
    versions: tuple[str, ...],
    out: Path,
    what: str,
    against: str | None,
    predicted: bool,
    standard: str | None,
    ledger_folder: Path | None,
    units: str | None,
) -> None:
    """Draw the curves of the versions that were measured, with their bands.

    \b
    buildlog plot baseline stage-1 --out history.png
    buildlog plot --what margins --out margins.png

    Below them stands the difference between the first and the last, with its band.
    --what predicted draws each past stage's predicted band and its measured peak
    over the odometer, or the date with --against date;
    --what air-fuel or boost draws that channel with the declared target.
    --what margins draws what one version asks of each of its limits.
    """
    from buildlog.desk.give.plotting import draw_power
    from buildlog.desk.snapshot.snapshot import Snapshot

    with read_ledger(ledger_folder) as ledger:
        book = Snapshot(ledger)
        if predicted or what == "predicted":
            from buildlog.desk.questions.predict import draw_predicted, draw_stages

            shown = display(ledger, units)
            if predicted:
                said = draw_predicted(book, versions, out, standard, shown)
            else:
                said = draw_stages(book, out, standard, shown, against)
            say(said)
            return
        if what == "margins":
            from buildlog.desk.give.plotting import draw_margins

            draw_margins(book, versions, out, display(ledger, units))
            say(f"wrote {out}")
            return
        chosen = [book.version(name) for name in versions] or book.measured_versions
        shown = display(ledger, units)
        if against is not None or what in ("air-fuel", "boost"):
            from buildlog.desk.give.plotting_sessions import draw_channel, draw_peaks

            if against is not None:
                missing = draw_peaks(book, chosen, out, standard, shown, what, against)
            else:
                missing = draw_channel(book, chosen, out, standard, shown, what)
        else:
            missing = draw_power(book, chosen, out, standard, shown, what)
    say([*missing, f"wrote {out}"])
