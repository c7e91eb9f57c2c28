"""`buildlog dyno add`: raw files into a session of the working files, all of them or none."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from buildlog.cli import common
from buildlog.cli.common import AnswerForm, say, units_form

if TYPE_CHECKING:
    from buildlog.analysis.pulls.session_draft import Found, RawFile
    from buildlog.analysis.pulls.sheet import Sheet
    from buildlog.desk.acts.dyno_conditions import Conditions
    from buildlog.desk.acts.dyno_intake import Given, Said, Understood
    from buildlog.desk.acts.sessions import Place
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.findings import Finding
    from buildlog.records.configuration import Configuration
    from buildlog.records.session import Session
    from buildlog.store.ledger.ledger import Ledger

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


def conditions(function: F) -> F:
    """The options that state a condition."""
    for name, (_, words) in reversed(CONDITIONS.items()):
        function = click.option(name, help=words)(function)
    return function


@click.command()
@click.argument("files", metavar="FILE...", nargs=-1, type=click.Path(path_type=Path))
@click.option("--session", "name", help='Its name: "baseline", or "2026-03-14-baseline".')
@click.option(
    "--map", "maps", multiple=True, metavar="CHANNEL=COLUMN:UNIT", help="What a column is."
)
@click.option("--leave-out", multiple=True, metavar="COLUMN", help="Do not read this column.")
@click.option("--one-run", is_flag=True, help="A file is one run, whatever it looks like.")
@click.option("--take-conditions", is_flag=True, help="Take the conditions the files state.")
@click.option("--calibration", metavar="ID", help="The calibration of these pulls: their group.")
@click.option("--keep", is_flag=True, help="Its configuration is the one that stays in the car.")
@click.option(
    "--stated",
    multiple=True,
    metavar="TEXT",
    help='A number without a file: "power=148 hp@5600 rpm,standard=...,at=wheel,source=...".',
)
@click.option("--configuration", metavar="ENTRY", help="What was measured, where a file came late.")
@conditions
@units_form
def command(form: AnswerForm, files: tuple[Path, ...], name: str | None, **options: Any) -> None:
    """Add raw FILES to a session, byte for byte, and say what was understood.

    \b
    buildlog dyno add run-*.csv --session baseline --gear 4 --odometer "88412 mi"
    buildlog dyno add log.txt --session stage-1 --map power=Leistung:kW

    Columns, units and runs are read from the header; what cannot be decided is asked at a
    terminal, and refused in a script. Nothing is written until every pull can be read.
    """
    from buildlog.desk.acts import dyno_intake, sessions
    from buildlog.desk.acts.dyno_conditions import refuse_wrong, stated
    from buildlog.desk.snapshot.snapshot import Snapshot

    sessions.refuse_nothing(files, options["stated"])
    fields = _given(options)
    refuse_wrong(fields)
    declared = [stated(text) for text in options["stated"]]
    with common.open_ledger(form.ledger) as ledger:
        name = _name(name)
        if options["configuration"]:
            fields["configuration"] = _entry(ledger, options["configuration"])
        given = dyno_intake.take_all(files)
        dyno_intake.refuse_twice(given)
        said = dyno_intake.Said(
            list(options["maps"]),
            tuple(options["leave_out"]),
            standard=fields.get("standard_applied"),
        )
        known = _known(given, said, form.as_json)
        if said.standard:
            fields["standard_applied"] = said.standard
        Addition(ledger, Snapshot(ledger), known, fields, declared, options, form.as_json).run(
            name, form.units
        )


def _given(options: dict[str, Any]) -> dict[str, str]:
    """The conditions stated by options, by field."""
    by_option = {option.removeprefix("--").replace("-", "_"): option for option in CONDITIONS}
    return {
        CONDITIONS[option][0]: options[key]
        for key, option in by_option.items()
        if options[key] is not None
    }


def _entry(ledger: Ledger, name: str) -> str:
    """The id of the entry whose configuration was measured."""
    from buildlog.errors import UsageError

    entry = ledger.resolve(name).entry
    if entry is None:
        raise UsageError(f"{name} is not an entry", hint="buildlog history lists them")
    return entry.id


def _name(given: str | None) -> str:
    from buildlog.errors import UsageError

    if given is None and common.at_terminal():
        given = click.prompt("Name of the session (baseline, stage-1)")
    if not given:
        raise UsageError("the session has no name", hint="--session baseline")
    return given


def _ask(text: str) -> str:
    return str(click.prompt(text, default="", show_default=False)).strip()


def _interactive(as_json: bool) -> bool:
    return common.at_terminal() and not as_json


def _known(given: Sequence[Given], said: Said, as_json: bool) -> list[Understood]:
    """What the files hold; what is open is asked at a terminal and refused in a script."""
    from buildlog.desk.acts import dyno_intake

    if _interactive(as_json):
        known = dyno_intake.ask_open(given, said, _ask, say)
    else:
        known = dyno_intake.understand(given, said)
        dyno_intake.refuse_open(known, said)
    dyno_intake.refuse_unknown(known)
    return known


class Addition:
    """One call of the command, once its files are understood."""

    def __init__(
        self,
        ledger: Ledger,
        book: Snapshot,
        known: list[Understood],
        fields: dict[str, str],
        declared: list[dict[str, str]],
        options: dict[str, Any],
        as_json: bool,
    ) -> None:
        self.ledger, self.book, self.known = ledger, book, known
        self.fields, self.declared, self.options = fields, declared, options
        self.as_json = as_json

    def run(self, name: str, units: str | None) -> None:
        """Draft, validate, write, and say what was done."""
        from buildlog.desk.acts.sessions import existing, place_of, raw_files, split_name
        from buildlog.store.ledger.session_files import write_session

        self._confirm_cut()
        day, rest = split_name(name)
        there = existing(self.ledger, day or self.fields.get("date"), rest)
        conditions, place = self._conditions(day, rest, there)
        place = place or place_of(self.ledger, str(there))
        files, contents = raw_files(self.known, place, self._split())
        text = self._text(place, files, conditions)
        sheet, findings = self._validated(place, text, contents)
        write_session(self.ledger, place.name, contents, text, place.text)
        self._tell(place, files, sheet, conditions, findings, units)

    def _confirm_cut(self) -> None:
        """A cut-off last line is left out only with consent, where there is somebody to give it."""
        for one in self.known:
            if one.cut_line is None or not _interactive(self.as_json):
                continue
            words = f"{one.given.label}: its last line, {one.cut_line}, is cut off"
            say(words)
            click.confirm("Read the rows above it?", default=True, abort=True)

    def _split(self) -> bool:
        """Whether the runs that were found in the files are taken as pulls of their own."""
        if self.options["one_run"]:
            return False
        several = [one for one in self.known if len(one.proposal.runs) > 1]
        if not several or not _interactive(self.as_json):
            return True
        for one in several:
            labels = ", ".join(run.label for run in one.proposal.runs)
            say(f"{one.given.label}: {labels}: {one.proposal.runs[0].why}")
        return click.confirm("Take them as pulls of their own?", default=True)

    def _conditions(
        self, day: str | None, rest: str, there: str | None
    ) -> tuple[Conditions, Place | None]:
        """The conditions and, of a new session, its place; of one that exists, only the former."""
        from buildlog.analysis.pulls.session_draft import found_conditions
        from buildlog.desk.acts import dyno_conditions as of
        from buildlog.desk.acts.sessions import place_of
        from buildlog.desk.snapshot.snapshot import today

        found = found_conditions([(one.given.label, one.proposal) for one in self.known])
        if there:
            return self._more_conditions(found), None
        conditions = of.gather(self.fields, found, self._take)
        of.refuse_undecided(found, conditions.fields)
        date = of.date_of(self.fields, day, conditions, today())
        place = place_of(self.ledger, f"{date}-{rest}" if rest else f"{date}")
        if place.exists:
            return self._more_conditions(found), place
        conditions.fields["date"] = date.isoformat()
        if _interactive(self.as_json) and self.known:
            per_pull = [name for own in conditions.by_file.values() for name in _dotted(own)]
            of.ask_missing(conditions.fields, _ask, say, per_pull)
        return conditions, place

    def _more_conditions(self, found: Sequence[Found]) -> Conditions:
        """What may be said of pulls that join a session: their air, gear and note."""
        from buildlog.analysis.pulls.session_draft import PER_PULL, put
        from buildlog.desk.acts.dyno_conditions import Conditions, gather, option
        from buildlog.errors import UsageError

        others = [f for f in self.fields if f not in (*PER_PULL, "note", "date")]
        if others:
            raise UsageError(
                f"{option(others[0])} belongs to the whole session, which exists already",
                hint="edit its session.toml",
            )
        own = gather(self.fields, [f for f in found if f.field in PER_PULL], self._take)
        table: dict[str, Any] = {}
        for name, text in own.fields.items():
            if name != "date":
                put(table, name, text)
        by_file = {
            one.given.label: {**table, **own.by_file.get(one.given.label, {})} for one in self.known
        }
        return Conditions({}, by_file, own.not_taken, own.taken)

    def _take(self, found: Sequence[Found]) -> bool:
        """Whether to take what the files state: asked at a terminal, else only as told."""
        if self.options["take_conditions"]:
            return True
        if not _interactive(self.as_json):
            return False
        for one in found:
            value = one.value or ", ".join(f"{v} ({n})" for n, v in one.by_file.items())
            say(f"  {one.field:<24} {value}   ({one.where})")
        return click.confirm("These conditions stand in the files. Take them?", default=True)

    def _text(self, place: Place, files: list[RawFile], conditions: Conditions) -> bytes:
        from buildlog.desk.acts.dyno_conditions import day
        from buildlog.desk.acts.sessions import longer_text, new_text

        group = {"calibration": self.options["calibration"]} if self.options["calibration"] else {}
        group |= {"keep": True} if self.options["keep"] else {}
        own: dict[str, dict[str, Any]] = {}
        for one, file in zip(self.known, files, strict=True):
            own[file.name] = {**group, **conditions.by_file.get(one.given.label, {})}
            if file.note and "note" in own[file.name]:
                own[file.name]["note"] = f"{own[file.name]['note']} ({file.note})"
        if place.exists:
            return longer_text(place, files, own, self.declared)
        date = day(conditions.fields["date"])
        return new_text(date, conditions.fields, self.declared, files, own)

    def _validated(
        self, place: Place, text: bytes, contents: dict[str, bytes]
    ) -> tuple[Sheet, list[Finding]]:
        """The session worked out from what is about to be written, with all there is to say."""
        from buildlog.analysis.pulls.session_checks import check_session
        from buildlog.analysis.pulls.sheet_work import sheet
        from buildlog.desk.acts.sessions import read_session, refuse_unreadable, same_elsewhere
        from buildlog.desk.snapshot.snapshot import today

        session = read_session(place.name, text)
        raw = {**place.raw, **contents}
        configuration = self._measured(place, session)
        result = sheet(place.name, session, raw, configuration)
        if any(finding.code == "pull-unreadable" for finding in result.findings):
            refuse_unreadable(session, raw, contents)
        findings = list(check_session(session, self.book.history, configuration, today()))
        findings += [finding for one in self.known for finding in one.proposal.findings]
        findings += same_elsewhere(self.ledger, place, contents)
        said = result.standard == "unknown"  # and then said in full already
        own = [f for f in result.findings if not (said and f.code == "standard-not-reached")]
        return result, [*findings, *own, *self._cut_findings(), *self._car_findings(place)]

    def _measured(self, place: Place, session: Session) -> Configuration:
        """The configuration that was measured, so far as it is known before recording."""
        if session.configuration:
            return self.book.version(session.configuration).configuration
        if place.recorded:
            return self.book.history[place.recorded - 1].configuration
        return self.book.working.configuration

    def _cut_findings(self) -> list[Finding]:
        from buildlog.findings import Finding

        return [
            Finding(
                "last-line-cut",
                "caution",
                f"the last line, {one.cut_line}, is cut off; the rows above it are read",
                where=one.given.label,
                hint="export the run again if its end is missing",
            )
            for one in self.known
            if one.cut_line is not None
        ]

    def _car_findings(self, place: Place) -> list[Finding]:
        """A caution where it is open which configuration was measured."""
        from buildlog.desk.acts.sessions import car_changed
        from buildlog.findings import Finding

        known = place.recorded or "configuration" in self.fields
        if known or not car_changed(self.book):
            return []
        text = "car.toml has changes that are not recorded: were they in the car on that day?"
        hint = "if so, record with --session-is-new-configuration; else record the session first"
        return [Finding("configuration-open", "caution", text, hint=hint)]

    def _tell(
        self,
        place: Place,
        files: list[RawFile],
        sheet: Sheet,
        conditions: Conditions,
        findings: list[Finding],
        units: str | None,
    ) -> None:
        from buildlog.report.as_text.dyno_add_text import added_json, added_lines
        from buildlog.report.lines import finding_lines

        findings = [*conditions.not_taken, *findings]
        record = self._record(place)
        if self.as_json:
            body = added_json(sheet, f"dyno/{place.name}", files, findings, record)
            common.say_json("dyno-add", body)
            return
        names = {f.name: one.given.label for f, one in zip(files, self.known, strict=True)}
        shown = common.display(self.ledger, units)
        say(added_lines(sheet, files, names, conditions.taken, shown))
        if findings:
            say(["", *finding_lines(findings)])
        say("")
        if place.recorded:
            say(
                f"  the session is recorded in entry {place.recorded}: "
                "its session.toml changes only in a correction"
            )
        say(f"written to dyno/{place.name}, not yet recorded")
        say(f"next: {record}")

    def _record(self, place: Place) -> str:
        """The line that records the session."""
        what = place.name[11:] or place.name
        if place.recorded:
            corrects = f"--kind correction --corrects {place.recorded}"
            return f'buildlog record -m "more pulls: {what}" {corrects}'
        return f'buildlog record -m "{what}"'


def _dotted(table: dict[str, Any]) -> list[str]:
    """The dotted names in a pull's own fields."""
    return [
        f"{name}.{inner}" if isinstance(value, dict) else name
        for name, value in table.items()
        for inner in (value if isinstance(value, dict) else [""])
    ]
