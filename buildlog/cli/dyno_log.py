"""`buildlog dyno log`: files of other loggers, laid over the pulls of a session."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli import common, names
from buildlog.cli.common import PATH, AnswerForm, units_form
from buildlog.cli.dyno_add import Terminal


@click.command()
@click.argument("files", metavar="FILE...", nargs=-1, type=PATH)
@click.option("--pull", metavar="FILE", help="The pull that they belong to.")
@click.option("--session", help="The session, by its name.", shell_complete=names.session)
@click.option("--shift", metavar="TIME", help='What is added to the log\'s time: "3.7 s".')
@click.option("--source", metavar="NAME", help="What the logger is called: wideband.")
@click.option(
    "--map",
    "maps",
    multiple=True,
    metavar="CHANNEL=COLUMN:UNIT",
    help="What a column is; kept for the next file with the same columns.",
)
@click.option("--leave-out", multiple=True, metavar="COLUMN", help="Do not read this column.")
@units_form
def command(
    form: AnswerForm,
    files: tuple[Path, ...],
    pull: str | None,
    session: str | None,
    shift: str | None,
    source: str | None,
    maps: tuple[str, ...],
    leave_out: tuple[str, ...],
) -> None:
    """Lay FILES of other loggers over the pulls of a session, and keep them byte for byte.

    \b
    buildlog dyno log wideband-1.csv wideband-2.csv --session baseline
    buildlog dyno log diagnostics.csv --pull run-1.csv --shift "3.7 s"

    Any rate will do. The shift is found from the engine speed where both have it, else from road
    speed, throttle or boost, else from the time of day; where none of them tells, it is asked
    for. The sheet says by what, how sure it is and how much of the pull the log covers. What two
    files hold of one quantity is kept by its source and compared. Only rows inside the pull count.
    Of a file too large to enter (25 MB) the minutes of the pulls enter at full rate, and the whole
    is kept outside by its digest.
    """
    from buildlog.desk.acts.dyno.log_addition import LogsSaid, add_logs
    from buildlog.report.as_json.dyno_json import logs_json
    from buildlog.report.as_text.dyno_log_text import logs_lines

    said = LogsSaid(session, pull, shift, source, maps, leave_out)
    operator = Terminal() if common.at_terminal() and not form.as_json else None
    with common.open_ledger(form.ledger) as ledger:
        done = add_logs(ledger, files, said, operator)
        form.answer("dyno-log", done, logs_json, logs_lines, ledger=ledger)
