"""Raw files into a session of the working files: all of them, byte for byte, or none."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, Protocol

from buildlog.analysis.car.written import RecordWith
from buildlog.analysis.pulls.pull_data import POWER, read_pull
from buildlog.analysis.pulls.session_added import SessionAdded
from buildlog.analysis.pulls.session_checks import check_session
from buildlog.analysis.pulls.session_draft import PER_PULL, RawFile, found_conditions, put
from buildlog.analysis.pulls.session_draft import Found as Found
from buildlog.analysis.pulls.sheet import Sheet
from buildlog.analysis.pulls.sheet_report import of_this_car
from buildlog.analysis.pulls.sheet_work import sheet
from buildlog.desk.acts import working_files
from buildlog.desk.acts.dyno import dyno_conditions as conditions_of
from buildlog.desk.acts.dyno import dyno_intake, dyno_memory, sessions
from buildlog.desk.acts.dyno.dyno_conditions import Conditions
from buildlog.desk.acts.dyno.dyno_intake import ColumnAnswers
from buildlog.desk.acts.dyno.dyno_intake import Understood as Understood
from buildlog.desk.acts.dyno.sessions import Place
from buildlog.desk.acts.filing import entry_named
from buildlog.desk.questions.days import refuse_ahead
from buildlog.desk.questions.visits import pooled
from buildlog.desk.snapshot.snapshot import Snapshot, today
from buildlog.errors import InvalidInput, NotFound, UsageError
from buildlog.findings import Finding
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import session_field
from buildlog.records.session import Session
from buildlog.store.ledger.draft import Draft
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.session_files import SESSION

_KIND = session_field("dyno.kind")


@dataclass(frozen=True)
class SessionSaid:
    """What a person says of raw files; UsageError or InvalidInput says what does not fit.

    `conditions` are texts by field of session.toml; `maps` say what columns hold
    ("power=P:kW"); `configuration` names the entry that was measured, where a file came late.
    """

    conditions: Mapping[str, str] = field(default_factory=dict)
    maps: Sequence[str] = ()
    leave_out: Sequence[str] = ()
    one_run: bool = False
    take_conditions: bool = False
    calibration: str | None = None
    keep: bool = False
    stated: Sequence[str] = ()
    configuration: str | None = None

    def __post_init__(self) -> None:
        conditions_of.refuse_wrong(self.conditions)
        self.declared()

    def declared(self) -> list[dict[str, str]]:
        """The [[stated]] tables of session.toml."""
        return [conditions_of.stated(text) for text in self.stated]


class Operator(Protocol):
    """A person who can be asked while files are added."""

    def session_name(self, first: bool = False) -> str:
        """The session's name, where none was given; `first`: the car has none yet."""

    def ask(self, question: str, default: str = "") -> str:
        """One line, with an answer that is offered; "" leaves it out."""

    def tell(self, text: str) -> None:
        """What an answer led to."""

    def allow_cut(self, one: Understood) -> None:
        """Let a file be read whose last line is cut off; raises to stop."""

    def take_runs(self, several: Sequence[Understood]) -> bool:
        """Whether the runs that were found in files are pulls of their own."""

    def take_conditions(self, found: Sequence[Found]) -> bool:
        """Whether the conditions that the files state are right."""


def refuse_nothing(files: Sequence[Path], stated: Sequence[str]) -> None:
    """NotFound if neither a file nor a stated value is given."""
    if not files and not stated:
        raise NotFound(
            "no raw file is named",
            hint='buildlog dyno add FILE... --session NAME, or --stated "power=..." without one',
        )


def add_session(
    ledger: Ledger,
    files: Sequence[Path],
    name: str | None,
    said: SessionSaid,
    operator: Operator | None = None,
) -> SessionAdded:
    """Add raw files to a session, new or not yet full, and say what was understood.

    What the files leave open is asked of the operator, and refused where there is none. Nothing
    is written before every pull can be read.
    """
    refuse_nothing(files, said.stated)
    fields = dict(said.conditions)
    name = name or (_asked_name(ledger, operator) if operator else None)
    if not name:
        raise UsageError("the session has no name", hint="--session baseline")
    if said.configuration:
        fields["configuration"] = entry_named(ledger, said.configuration).id
    known, answers = _understood(files, said, fields.get("standard_applied"), operator)
    if answers.standard:
        fields["standard_applied"] = answers.standard
    done = _Addition(ledger, known, fields, said, operator).run(name)
    dyno_intake.remember(known, answers)
    return done


def _asked_name(ledger: Ledger, operator: Operator) -> str:
    first = not any(path.startswith("dyno/") for path in ledger.working().files)
    return operator.session_name(first)


def _understood(
    files: Sequence[Path], said: SessionSaid, standard: str | None, operator: Operator | None
) -> tuple[list[Understood], ColumnAnswers]:
    """What the files hold, and what was said of them."""
    given = dyno_intake.take_all(files)
    dyno_intake.refuse_twice(given)
    answers = ColumnAnswers(list(said.maps), tuple(said.leave_out), standard=standard)
    return dyno_intake.understood(given, answers, operator), answers


@dataclass
class _Addition:
    """Files on their way into a session, once they are understood."""

    ledger: Ledger
    known: list[Understood]
    fields: dict[str, str]
    said: SessionSaid
    operator: Operator | None

    @cached_property
    def book(self) -> Snapshot:
        return Snapshot(self.ledger)

    def run(self, name: str) -> SessionAdded:
        """Draft, validate, write."""
        self._allow_cut()
        day, rest = sessions.split_name(name)
        there = sessions.existing(self.ledger, day or self.fields.get("date"), rest)
        conditions, place = self._conditions(day, rest, there)
        place = place or sessions.place_of(self.ledger, str(there))
        refuse_logs(self.known, conditions.fields.get(_KIND) or _kind_of(place), place)
        files, contents = sessions.raw_files(self.known, place, self._take_runs())
        text = self._text(place, files, conditions)
        result, findings = self._validated(place, text, contents)
        working_files.put_session(self.ledger, place.name, contents, text, place.text)
        if not isinstance(self.ledger, Draft):
            dyno_memory.remember(conditions.fields)
        paths = tuple(f"dyno/{place.name}/{one}" for one in (*contents, SESSION))
        given = {f.name: one.given.label for f, one in zip(files, self.known, strict=True)}
        return SessionAdded(
            paths, _record(place), pooled(self.book, result), tuple(files), given,
            tuple(conditions.taken),
            place.recorded, findings=(*conditions.not_taken, *findings),
        )  # fmt: skip

    def _allow_cut(self) -> None:
        """A cut-off last line is left out only with consent, where there is somebody to give it."""
        for one in self.known:
            if one.cut_line is not None and self.operator:
                self.operator.allow_cut(one)

    def _take_runs(self) -> bool:
        """Whether the runs that were found in the files are taken as pulls of their own."""
        several = [one for one in self.known if len(one.proposal.runs) > 1]
        if self.said.one_run or not several or not self.operator:
            return not self.said.one_run
        return self.operator.take_runs(several)

    def _conditions(
        self, day: str | None, rest: str, there: str | None
    ) -> tuple[Conditions, Place | None]:
        """The conditions and, of a new session, its place; of one that exists, only the former."""
        found = found_conditions([(one.given.label, one.proposal) for one in self.known])
        if there:
            return self._more_conditions(found), None
        conditions = conditions_of.gather(self.fields, found, self._take)
        conditions_of.refuse_undecided(found, conditions.fields)
        date = conditions_of.date_of(self.fields, day, conditions, today())
        refuse_ahead(date, today())
        place = sessions.place_of(self.ledger, f"{date}-{rest}" if rest else f"{date}")
        if place.exists:
            return self._more_conditions(found), place
        conditions.fields["date"] = date.isoformat()
        if self.operator and self.known:
            per_pull = [name for own in conditions.by_file.values() for name in _dotted(own)]
            if self.book.working.configuration.car.power_source == "electric":
                per_pull += conditions_of.NOT_ELECTRIC
            ask, tell = self.operator.ask, self.operator.tell
            conditions_of.ask_missing(
                conditions.fields, ask, tell, per_pull, dyno_memory.offered(self.book),
                dyno_memory.remembered(),
            )  # fmt: skip
        return conditions, place

    def _more_conditions(self, found: Sequence[Found]) -> Conditions:
        """What may be said of pulls that join a session: their air, gear and note."""
        others = [f for f in self.fields if f not in (*PER_PULL, "note", "date")]
        if others:
            raise UsageError(
                f"{conditions_of.option(others[0])} belongs to the whole session, "
                "which exists already",
                hint="edit its session.toml",
            )
        per_pull = [one for one in found if one.field in PER_PULL]
        own = conditions_of.gather(self.fields, per_pull, self._take)
        table: dict[str, Any] = {}
        for name, text in own.fields.items():
            if name != "date":
                put(table, name, text)
        by_file = {
            one.given.label: {**table, **own.by_file.get(one.given.label, {})} for one in self.known
        }
        return Conditions({}, by_file, own.not_taken, own.taken)

    def _take(self, found: Sequence[Found]) -> bool:
        """Whether to take what the files state: as told, else as the operator says."""
        if self.said.take_conditions or not self.operator:
            return self.said.take_conditions
        return self.operator.take_conditions(found)

    def _text(self, place: Place, files: list[RawFile], conditions: Conditions) -> bytes:
        said = {"calibration": self.said.calibration, "keep": self.said.keep}
        group = {name: value for name, value in said.items() if value}
        own: dict[str, dict[str, Any]] = {}
        for one, file in zip(self.known, files, strict=True):
            own[file.name] = {**group, **conditions.by_file.get(one.given.label, {})}
            if file.note and "note" in own[file.name]:
                own[file.name]["note"] = f"{own[file.name]['note']} ({file.note})"
        return sessions.session_text(place, conditions.fields, self.said.declared(), files, own)

    def _validated(
        self, place: Place, text: bytes, contents: dict[str, bytes]
    ) -> tuple[Sheet, list[Finding]]:
        """The session worked out from what is about to be written, with all there is to say."""
        session = sessions.read_session(place.name, text)
        raw = {**place.raw, **contents}
        configuration = self._measured(place, session)
        result = sheet(place.name, session, raw, configuration)
        if any(finding.code == "pull-unreadable" for finding in result.findings):
            for pull in session.pull:
                if pull.file in contents:
                    read_pull(session, pull, raw)  # raises what is wrong with it
        findings = list(check_session(session, self.book.history, configuration, today()))
        of_files = [finding for one in self.known for finding in one.proposal.findings]
        findings += of_this_car(of_files, configuration)
        findings += sessions.same_elsewhere(self.ledger, place, contents)
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
        return [
            Finding(
                "last-line-cut",
                "caution",
                f"the last line, {one.cut_line}, is cut off; the rows above it are read",
                where=one.given.label,
                hint="export the pull again if its end is missing",
            )
            for one in self.known
            if one.cut_line is not None
        ]

    def _car_findings(self, place: Place) -> list[Finding]:
        """A caution where it is open which configuration was measured."""
        known = place.recorded or "configuration" in self.fields
        if known or not sessions.car_changed(self.book):
            return []
        text = "car.toml has changes that are not recorded: were they in the car on that day?"
        hint = "if so, record with --session-is-new-configuration; else record the session first"
        return [Finding("configuration-open", "caution", text, hint=hint)]


def _kind_of(place: Place) -> str | None:
    """The kind of the machine that a session there is says."""
    dyno = sessions.read_session(place.name, place.text).dyno if place.text else None
    return dyno.kind if dyno else None


def refuse_logs(known: Sequence[Understood], kind: str | None, place: Place) -> None:
    """InvalidInput for a file that no power can be had from: another logger's, and no pull. `kind`
    is that of the machine."""
    logs = [one for one in known if _is_log(one, kind)]
    if not logs:
        return
    files = " ".join(shlex.quote(str(one.given.path)) for one in logs)
    pulls = " ".join(shlex.quote(str(o.given.path)) for o in known if o not in logs) or "PULL..."
    line = f"buildlog dyno log {files} --session {place.name}"
    first = f"buildlog dyno add {pulls} --session {place.name}, then " if not place.exists else ""
    several = len(logs) > 1
    raise InvalidInput(
        f"{'these are logs' if several else 'this is a log'}, not a pull: neither power nor torque "
        f"is among {'their' if several else 'its'} columns",
        where=", ".join(one.given.label for one in logs),
        why="nothing was written",
        hint=f"{first}{line}; if a column is power: --map power=COLUMN:kW; power from the road's "
        "speed: --dyno-kind road",
    )


def _is_log(one: Understood, kind: str | None) -> bool:
    """Whether a file holds no power, and nothing from which the machine's kind gives it."""
    read = {column.channel for column in one.proposal.columns if column.spec}
    sources = set(POWER) | ({"roller_speed"} if kind in {None, "inertia"} else set())
    return not read & sources and kind not in {"road", "inertia"}


def _record(place: Place) -> RecordWith:
    """How the session is recorded: one that is recorded already changes in a correction only."""
    what = place.name[11:] or place.name
    if place.recorded:
        return RecordWith(f"more pulls: {what}", kind="correction", corrects=place.recorded)
    return RecordWith(what)


def _dotted(table: dict[str, Any]) -> list[str]:
    """The dotted names in a pull's own fields."""
    return [
        f"{name}.{inner}" if isinstance(value, dict) else name
        for name, value in table.items()
        for inner in (value if isinstance(value, dict) else [""])
    ]
