"""What an entry would hold: every file read anew, and what the program itself knows of it."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from buildlog.analysis.car.changes import changes
from buildlog.analysis.car.written import Outlook
from buildlog.errors import BuildlogError, InvalidInput
from buildlog.findings import Finding, worst_first
from buildlog.records.base import Record
from buildlog.records.checks import Check
from buildlog.records.configuration import Configuration
from buildlog.records.custody import Custody
from buildlog.records.fasteners import Joint
from buildlog.records.faults import Fault
from buildlog.records.reading import load, read
from buildlog.records.recorded_change import added_files, changed_fields
from buildlog.records.recorded_peak import RecordedPeak
from buildlog.records.schema import OF_KIND
from buildlog.records.session import Session

if TYPE_CHECKING:
    from buildlog.store.git.message import EntryFacts
    from buildlog.store.ledger.ledger import Ledger
    from buildlog.store.ledger.proposal import EntryProposal

_OF_A_DAY = (Session, Check, Fault, Joint, Custody)


def outlook(proposal: EntryProposal) -> Outlook:
    """Read every file the entry would hold anew; InvalidInput lists what is wrong."""
    from buildlog.store.git import ledger_files

    findings: list[Finding] = []
    records: dict[str, Record] = {}
    for path in (*proposal.change.added, *proposal.change.changed):
        model = OF_KIND.get(ledger_files.kind_of(path) or "")
        if model is None:
            continue
        record, found = load(model, proposal.read(path), path)
        findings += found
        if record is not None:
            records[path] = record
    findings += _positions(proposal)
    _refuse(findings)
    new = read(Configuration, proposal.read("car.toml"), "car.toml")
    first = proposal.tip is None
    old = None if first else read(Configuration, proposal.read_old("car.toml"), "car.toml")
    sessions = tuple(
        sorted({path.split("/")[1] for path in records if isinstance(records[path], Session)})
    )
    added = {path for path in proposal.change.added if path.endswith("/session.toml")}
    new_sessions = tuple(sorted(path.split("/")[1] for path in added))
    for name in new_sessions:
        findings += list(_raw_files(proposal, name))
    _refuse(findings)
    papers = [records[path] for path in proposal.change.added if path in records]
    car_changed = "car.toml" in proposal.change.changed
    measured, unread = _measured(proposal, sessions, new)
    findings += [finding for finding in unread if finding.paths[0] in new_sessions]
    _refuse(findings)
    return Outlook(
        _kind(proposal, new_sessions, first),
        tuple(changes(old, new)) if old else (),
        new_sessions,
        proposal.change.added,
        proposal.change.changed,
        first,
        tuple(findings),
        measured,
        *_said_by_files(papers, dated=bool(new_sessions) or not car_changed),
    )


def looked_ahead(
    ledger: Ledger,
    proposal: EntryProposal,
    facts: EntryFacts,
    today: dt.date,
    kind: str | None,
    session_is_new: bool,
) -> tuple[Outlook, EntryFacts]:
    """What an entry would record, and its facts with what the program itself knows."""
    found = outlook(proposal)
    named = _session_named(proposal, found)
    facts = dataclasses.replace(facts, kind=kind or found.kind)
    done = completed(facts, found, session_is_new or named)
    entries = ledger.entries()
    if done.work_date is None and found.day and (not entries or found.day >= entries[-1].work_date):
        done = dataclasses.replace(done, work_date=found.day)
    if done.work_date and done.work_date > today + dt.timedelta(days=1):  # it is later elsewhere
        raise InvalidInput(
            f"the date {done.work_date} lies ahead: today is {today}",
            hint="correct it, or the clock of this computer; what is recorded is never changed",
        )
    own = dataclasses.replace(found, kind=done.kind, odometer=done.odometer, subject=done.subject)
    return own, done


def completed(facts: EntryFacts, found: Outlook, session_is_new: bool) -> EntryFacts:
    """The facts with what the program itself knows; InvalidInput where they do not fit."""
    car_changed = "car.toml" in found.changed
    if found.sessions and car_changed and not session_is_new and not found.first:
        raise InvalidInput(
            f"a new session ({', '.join(found.sessions)}) comes with a changed car.toml, so it is "
            "not clear which configuration was measured",
            why="a session belongs to the configuration it is recorded with",
            hint="--session-is-new-configuration if the new one was measured; else record the "
            'session first, or write configuration = "<entry id>" in session.toml',
        )
    fields = changed_fields([change.path for change in found.changes])
    return dataclasses.replace(
        facts,
        changed=fields or added_files(found.added) or None,
        measured=found.measured,
        odometer=facts.odometer or found.odometer or "unknown",
        session_configuration="new" if found.sessions and car_changed else None,
    )


def _session_named(proposal: EntryProposal, found: Outlook) -> bool:
    """Whether every new session says itself which entry's configuration it measured."""
    sessions = [
        read(Session, proposal.read(f"dyno/{name}/session.toml"), name) for name in found.sessions
    ]
    return bool(sessions) and all(session.configuration for session in sessions)


def _refuse(findings: list[Finding]) -> None:
    errors = [finding for finding in worst_first(findings) if finding.severity == "error"]
    if errors:
        more = "; ".join(f"{e.where}: {e.text}" for e in errors[1:5])
        raise InvalidInput(
            errors[0].text,
            where=errors[0].where,
            why=f"also {more}" if more else None,
            hint=errors[0].hint,
        )


def _raw_files(proposal: EntryProposal, name: str) -> Iterator[Finding]:
    """Raw files that a new session names but that are not there."""
    session = read(Session, proposal.read(f"dyno/{name}/session.toml"), name)
    known = set(proposal.paths())
    for file in dict.fromkeys(f for p in session.pull for f in (p.file, p.log) if f):
        path = f"dyno/{name}/{file}"
        if path not in known:
            yield Finding(
                "raw-file-missing",
                "error",
                f"the raw file {path} is missing",
                where=f"dyno/{name}/session.toml",
                hint="put it beside session.toml; it is the evidence",
            )
        elif path in known and not proposal.read(path).strip():
            yield Finding(
                "raw-file-empty",
                "error",
                f"the raw file {path} is empty",
                where=f"dyno/{name}/session.toml",
                hint="export the pull again; what is recorded can never be replaced",
            )


def _positions(proposal: EntryProposal) -> Iterator[Finding]:
    """Pictures that tell where they were taken: once recorded that would stay for ever."""
    from buildlog.store.exchange import photo

    for path in proposal.change.added:
        try:
            told = path.startswith("attachments/") and photo.tells_place(proposal.read(path))
        except InvalidInput:
            continue  # a torn picture tells nothing
        if told:
            yield Finding(
                "photo-position",
                "error",
                "this picture tells where it was taken",
                where=path,
                hint="take it out of the folder; buildlog attach FILE copies it without",
            )


def _kind(proposal: EntryProposal, sessions: tuple[str, ...], first: bool) -> str:
    """The kind of an entry that does not say it itself."""
    if first:
        return "found"
    folders = {path.split("/")[0] for path in proposal.change.added}
    if sessions:
        return "dyno"
    car = "car.toml" in proposal.change.changed
    if "faults" in folders and not car:
        return "fault"
    if "checks" in folders and not car:
        return "check"
    return "build"


def _measured(
    proposal: EntryProposal, sessions: tuple[str, ...], configuration: Configuration
) -> tuple[str | None, list[Finding]]:
    """The peak of the newest session in this entry, for `history`: SI, so that it can be read;
    and a finding for each session of whose pulls none can be read."""
    from buildlog.analysis.pulls.sheet_work import sheet

    best: str | None = None
    unread: list[Finding] = []
    for name in sessions:
        session = read(Session, proposal.read(f"dyno/{name}/session.toml"), name)
        names = {f for pull in session.pull for f in (pull.file, pull.log) if f}
        files = {file: proposal.read(f"dyno/{name}/{file}") for file in names}
        try:
            group = (result := sheet(name, session, files, configuration)).kept
        except (BuildlogError, ValueError) as error:
            if any(pull.use for pull in session.pull):
                what = getattr(error, "what", str(error))
                where = f"dyno/{name}, {getattr(error, 'where', None) or 'its pulls'}"
                hint = "mend the columns in session.toml, or set use = false with a reason"
                unread.append(Finding("session-unreadable", "error", what, (name,), where, hint))
            continue
        if group is not None and result.at != "crank":
            top = group.peak_power
            unit = "rpm" if result.axis == "engine_speed" else "km/h"
            best = RecordedPeak(
                top.value, top.at, unit, result.at, result.standard, group.pulls
            ).text()
    return best, unread


def _said_by_files(papers: Sequence[Record], *, dated: bool) -> tuple[str | None, dt.date | None]:
    """The highest odometer and, where `dated`, the latest day that the new files state."""
    of_a_day = [paper for paper in papers if isinstance(paper, _OF_A_DAY)]
    readings = [paper.odometer for paper in of_a_day if paper.odometer]
    highest = max(readings, key=lambda reading: reading.si, default=None)
    last = max((paper.date for paper in of_a_day), default=None)
    return highest.text if highest else None, last if dated else None
