"""`buildlog dyno coast`: the road load from coast-down files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from buildlog.cli.common import PATH, AnswerForm, figures_form


@click.command()
@click.argument("files", metavar="FILE...", nargs=-1, required=True, type=PATH)
@click.option("--mass", help='The car as it coasted, with all in it: "1385 kg".')
@click.option("--drum-inertia", help='Of an empty dyno instead of a car: "335 kg*m^2".')
@click.option("--roller-circumference", help='Of the dyno: "3.39 m".')
@click.option(
    "--map", "maps", multiple=True, metavar="CHANNEL=COLUMN:UNIT", help="What a column holds."
)
@figures_form
def command(form: AnswerForm, files: tuple[Path, ...], **said: Any) -> None:
    """Fit the drag A + B v + C v^2 to coast-down files: time and road speed, in neutral.

    \b
    buildlog dyno coast north.csv south.csv --mass "1385 kg"
    buildlog dyno coast down.csv --drum-inertia "335 kg*m^2" \\
        --roller-circumference "3.39 m"

    Use as many runs one way as the other: a steady grade cancels then, wind does not.
    Coast down only where it is lawful and nobody is near. With --drum-inertia the files are
    of an empty dyno running down, and the drag is the machine's own.
    """
    from buildlog.desk.questions.coast_files import coast_files
    from buildlog.report.as_json.dyno_json import coast_json
    from buildlog.report.as_text.coast_text import coast_lines

    found = coast_files(files, **said)
    form.answer("dyno-coast", found, coast_json, coast_lines, form.display_here())
