"""`buildlog dyno add`: raw files into a session of the working files, all of them or none."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from buildlog.cli import common, names
from buildlog.cli.common import PATH, AnswerForm, say, units_form

if TYPE_CHECKING:
    from buildlog.desk.acts.dyno.session_addition import Found, Understood

F = TypeVar("F", bound=Callable[..., Any])

# option -> (field of session.toml, what it says)
CONDITIONS: dict[str, tuple[str, str]] = {
    "--date": ("date", "The day, YYYY-MM-DD."),
    "--place": ("place", "Where it was."),
    "--altitude": ("altitude", 'The place above sea level: "120 m".'),
    "--odometer": ("odometer", 'The reading: "88412 mi".'),
    "--gear": ("gear", "The gear of the pulls."),
    "--lockup": ("lockup", "Automatics: locked, slipping or unknown."),
    "--air-temperature": ("air.temperature", 'At the inlet: "20 degC".'),
    "--air-pressure": ("air.pressure", 'At the place, not at sea level: "990 hPa".'),
    "--humidity": ("air.humidity", 'Relative: "45 percent".'),
    "--dyno": ("dyno.id", "The shop's own name for the machine."),
    "--dyno-kind": ("dyno.kind", "inertia, eddy-brake, hub or road."),
    "--driven": ("dyno.driven", '"two rollers", "four rollers" or "hubs".'),
    "--drum-inertia": ("dyno.drum_inertia", 'Of all drums of an inertia dyno: "40 kg*m^2".'),
    "--roller-circumference": ("dyno.roller_circumference", 'Of its roller: "2.51 m".'),
    "--standard-applied": (
        "standard_applied",
        "The correction already inside the file's numbers: a standard, none or unknown.",
    ),
    "--boost-control": (
        "boost_control",
        "none, spring, closed-loop-absolute or closed-loop-gauge.",
    ),
    "--tyre-pressure": ("tyre_pressure", 'Of the driven wheels: "32 psi".'),
    "--strapping": ("strapping", "How the car was strapped down."),
    "--fuel-kind": ("fuel.kind", "What was in the tank."),
    "--ethanol-content": ("fuel.ethanol_content", 'By volume: "10 percent".'),
    "--note": ("note", "Anything else; of the pulls, where the session exists."),
}
# Options that say something else of the files, as in `SessionSaid`.
OTHERS = (
    "maps", "leave_out", "one_run", "take_conditions", "calibration", "keep", "stated",
    "configuration",
)  # fmt: skip


def conditions(function: F) -> F:
    """The options that state a condition."""
    for name, (_, words) in reversed(CONDITIONS.items()):
        function = click.option(name, help=words)(function)
    return function


@click.command()
@click.argument("files", metavar="FILE...", nargs=-1, type=PATH)
@click.option(
    "--session",
    help='Its name: "baseline", or "2026-03-14-baseline".',
    shell_complete=names.session,
)
@click.option(
    "--map",
    "maps",
    multiple=True,
    metavar="CHANNEL=COLUMN:UNIT",
    help="What a column is; kept for the next file with the same columns.",
)
@click.option("--leave-out", multiple=True, metavar="COLUMN", help="Do not read this column.")
@click.option("--one-run", is_flag=True, help="A file is one pull, whatever it looks like.")
@click.option("--take-conditions", is_flag=True, help="Take the conditions the files state.")
@click.option("--calibration", metavar="ID", help="The calibration of these pulls: their group.")
@click.option("--keep", is_flag=True, help="Its configuration is the one that stays in the car.")
@click.option(
    "--stated",
    multiple=True,
    metavar="TEXT",
    help='A number without a file: "power=148 hp@5600 rpm,standard=...,at=wheel,source=...".',
)
@click.option(
    "--configuration",
    metavar="ENTRY",
    help="What was measured, where a file came late.",
    shell_complete=names.version,
)
@conditions
@units_form
def command(form: AnswerForm, files: tuple[Path, ...], session: str | None, **options: Any) -> None:
    """Add raw FILES to a session, byte for byte, and say what was understood.

    \b
    buildlog dyno add run-*.csv --session baseline --gear 4 --odometer "88412 mi"
    buildlog dyno add log.txt --session stage-1 --map power=Leistung:kW

    Columns, units and pulls are read from the header; what cannot be decided is asked at a
    terminal, and refused in a script. Nothing is written until every pull can be read.
    """
    from buildlog.desk.acts.dyno.session_addition import SessionSaid, add_session, refuse_nothing
    from buildlog.report.as_json.dyno_json import added_json
    from buildlog.report.as_text.dyno_add_text import added_lines

    refuse_nothing(files, options["stated"])
    said = SessionSaid(_given(options), **{name: options[name] for name in OTHERS})
    operator = Terminal() if common.at_terminal() and not form.as_json else None
    with common.open_ledger(form.ledger) as ledger:
        done = add_session(ledger, files, session, said, operator)
        form.answer("dyno-add", done, added_json, added_lines, ledger=ledger)


def _given(options: dict[str, Any]) -> dict[str, str]:
    """The conditions stated by options, by field."""
    stated = ((f, options[option[2:].replace("-", "_")]) for option, (f, _) in CONDITIONS.items())
    return {name: text for name, text in stated if text is not None}


class Terminal:
    """The person at the terminal, asked for what the files leave open."""

    def session_name(self, first: bool = False) -> str:
        offered = "baseline" if first else None
        return str(click.prompt("Name of the session (baseline, stage-1)", default=offered))

    def ask(self, question: str, default: str = "") -> str:
        return str(click.prompt(question, default=default, show_default=bool(default))).strip()

    def tell(self, text: str) -> None:
        say(text)

    def allow_cut(self, one: Understood) -> None:
        say(f"{one.given.label}: its last line, {one.cut_line}, is cut off")
        click.confirm("Read the rows above it?", default=True, abort=True)

    def take_runs(self, several: Sequence[Understood]) -> bool:
        for one in several:
            labels = ", ".join(run.label for run in one.proposal.runs)
            say(f"{one.given.label}: {labels}: {one.proposal.runs[0].why}")
        return click.confirm("Take them as pulls of their own?", default=True)

    def take_conditions(self, found: Sequence[Found]) -> bool:
        from buildlog.report.as_text.dyno_add_text import condition_lines

        say(condition_lines(found))
        return click.confirm("These conditions stand in the files. Take them?", default=True)
