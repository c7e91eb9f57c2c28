"""What an entry would hold: every file read anew, and what the program itself knows of it."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterator, Mapping, Sequence

from buildlog.analysis.car.changes import changes
from buildlog.analysis.car.written import Outlook
from buildlog.desk.acts import second_names
from buildlog.desk.acts.promises_kept import promise_built
from buildlog.desk.questions.days import ahead, refuse_ahead
from buildlog.errors import BuildlogError, InvalidInput
from buildlog.findings import Finding, worst_first
from buildlog.records.car.configuration import Configuration
from buildlog.records.car.due import Service
from buildlog.records.checks import Check
from buildlog.records.custody import Custody
from buildlog.records.day_notes import OdometerReading
from buildlog.records.fasteners import Joint, JointSheet
from buildlog.records.faults import Fault
from buildlog.records.fields.base import Record
from buildlog.records.reading import load, read
from buildlog.records.recorded_change import added_files, changed_fields
from buildlog.records.recorded_peak import RecordedPeak
from buildlog.records.schema import OF_KIND
from buildlog.records.session import Session
from buildlog.store.git import ledger_files
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger import recorded, working_places
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.proposal import EntryProposal

CAR = "car.toml"
_LEAP = dt.timedelta(days=2 * 365)  # a clock is asked about when nothing was recorded for so long
_OF_A_DAY = (Session, Check, Fault, Joint, Service, OdometerReading, JointSheet, Custody)


def looked_ahead(
    ledger: Ledger,
    proposal: EntryProposal,
    facts: EntryFacts,
    today: dt.date,
    kind: str | None,
    session_is_new: bool,
) -> tuple[Outlook, EntryFacts]:
    """What an entry would record, and its facts with what the program itself knows.

    InvalidInput lists what is wrong with its files, or says where the facts do not fit.
    """
    found, sessions = _outlook(proposal, today)
    named = bool(sessions) and all(session.configuration for session in sessions.values())
    done = _completed(
        dataclasses.replace(facts, kind=kind or found.kind), found, session_is_new or named
    )
    entries = ledger.entries()
    promise = promise_built(ledger, proposal)
    if promise is not None:
        done = dataclasses.replace(done, promised=promise.text())
    if done.work_date is None and found.day and (not entries or found.day >= entries[-1].work_date):
        done = dataclasses.replace(done, work_date=found.day)
    if facts.work_date is None and entries:
        _refuse_leap(entries[-1].recorded_at.date(), today)
    refuse_ahead(done.work_date, today)
    told = [*found.findings, *recorded.findings(ledger.repo, entries)]
    told += second_names.findings(ledger, done.stage, bool(found.sessions), CAR in found.changed)
    told += [Finding("conflict-copy", "caution", working_places.COPY.format(path), where=path)
             for path in proposal.copies]  # fmt: skip
    own = dataclasses.replace(
        found, kind=done.kind, odometer=done.odometer, subject=done.subject, findings=tuple(told)
    )
    return own, done


def _refuse_leap(before: dt.date, today: dt.date) -> None:
    """A clock years ahead is asked about before anything is recorded by it."""
    if today - before > _LEAP:
        raise InvalidInput(
            f"the clock of this computer says {today}, and the newest entry was recorded {before}",
            hint=f"set the clock right; if it is, say the day: --date {today}",
        )


def _outlook(proposal: EntryProposal, today: dt.date) -> tuple[Outlook, dict[str, Session]]:
    """Every file the entry would hold read anew, and the new sessions by name."""
    change, first = proposal.change, proposal.tip is None
    records, findings = _records(proposal)
    _refuse([*findings, *_positions(proposal)])
    new = read(Configuration, proposal.read(CAR), CAR)
    old = None if first else read(Configuration, proposal.read_old(CAR), CAR)
    read_now = {p.split("/")[1]: r for p, r in records.items() if isinstance(r, Session)}
    touched = dict(sorted(read_now.items()))
    sessions = {n: s for n, s in touched.items() if f"dyno/{n}/session.toml" in change.added}
    findings += [f for name in sessions for f in _raw_files(proposal, name, sessions[name])]
    _refuse(findings)
    measured, unread = _measured(proposal, touched, new)
    findings += [finding for finding in unread if finding.paths[0] in sessions]
    _refuse(findings)
    _refuse([found for path, record in records.items() for found in ahead(record, path, today)])
    papers = [records[path] for path in change.added if path in records]
    dated = bool(sessions) or CAR not in change.changed
    return Outlook(
        _kind(proposal, bool(sessions)),
        tuple(changes(old, new)) if old else (),
        tuple(sessions),
        change.added,
        change.changed,
        first,
        tuple(findings),
        measured,
        *_said_by_files(papers, dated),
    ), sessions


def _records(proposal: EntryProposal) -> tuple[dict[str, Record], list[Finding]]:
    """What new and changed files hold by path, and what is to be said of them."""
    findings: list[Finding] = []
    records: dict[str, Record] = {}
    for path in (*proposal.change.added, *proposal.change.changed):
        model = OF_KIND.get(ledger_files.kind_of(path) or "")
        if model is not None:
            record, found = load(model, proposal.read(path), path)
            findings += found
            records |= {path: record} if record is not None else {}
    return records, findings


def _completed(facts: EntryFacts, found: Outlook, session_is_new: bool) -> EntryFacts:
    """The facts with what the program itself knows; InvalidInput where they do not fit."""
    car_changed = CAR in found.changed
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


def _refuse(findings: Sequence[Finding]) -> None:
    errors = [finding for finding in worst_first(findings) if finding.severity == "error"]
    if errors:
        more = "; ".join(f"{e.where}: {e.text}" for e in errors[1:5])
        raise InvalidInput(
            errors[0].text,
            where=errors[0].where,
            why=f"also {more}" if more else None,
            hint=errors[0].hint,
        )


def _raw_files(proposal: EntryProposal, name: str, session: Session) -> Iterator[Finding]:
    """Raw files that a new session names but that are not there, or empty."""
    known, where = set(proposal.paths()), f"dyno/{name}/session.toml"
    for file in session.raw_files:
        path = f"dyno/{name}/{file}"
        if path not in known:
            fault, hint = "missing", "put it beside session.toml; it is the evidence"
        elif not proposal.read(path).strip():
            fault, hint = "empty", "export the pull again; what is recorded can never be replaced"
        else:
            continue
        text = f"the raw file {path} is {fault}"
        yield Finding(f"raw-file-{fault}", "error", text, where=where, hint=hint)


def _positions(proposal: EntryProposal) -> Iterator[Finding]:
    """Files that tell where they were taken: once recorded that would stay for ever."""
    from buildlog.store.exchange.told_places import tells_place

    for path in (path for path in proposal.change.added if path.startswith("attachments/")):
        text = "this picture or file tells where it was taken"
        try:
            if not tells_place(proposal.read(path)):
                continue
        except InvalidInput as error:
            text = error.what
        hint = "take it out of the folder; buildlog attach FILE copies it without, or says how"
        yield Finding("photo-position", "error", text, where=path, hint=hint)


def _kind(proposal: EntryProposal, measured: bool) -> str:
    """The kind of an entry that does not say it itself."""
    if proposal.tip is None:
        return "found"
    if measured:
        return "dyno"
    folders = {path.split("/")[0] for path in proposal.change.added}
    if CAR in proposal.change.changed:
        return "build"
    told = {"faults": "fault", "checks": "check", "due": "check", "readings": "check"}
    return next((kind for folder, kind in told.items() if folder in folders), "build")


def _measured(
    proposal: EntryProposal, sessions: Mapping[str, Session], configuration: Configuration
) -> tuple[str | None, list[Finding]]:
    """The peak of the newest session in this entry, for `history`: SI, so that it can be read;
    and a finding for each session of whose pulls none can be read."""
    from buildlog.analysis.pulls.sheet_work import sheet

    best: str | None = None
    unread: list[Finding] = []
    for name, session in sessions.items():
        files = {file: proposal.read(f"dyno/{name}/{file}") for file in session.raw_files}
        try:
            group = (result := sheet(name, session, files, configuration)).kept
        except (BuildlogError, ValueError) as error:
            if any(pull.use for pull in session.pull):
                what = getattr(error, "what", str(error))
                where = f"dyno/{name}, {getattr(error, 'where', None) or 'its pulls'}"
                hint = "fix the columns in session.toml, or set use = false with a reason"
                unread.append(Finding("session-unreadable", "error", what, (name,), where, hint))
            continue
        if group is not None and result.at != "crank":
            top = group.peak_power
            unit = "rpm" if result.axis == "engine_speed" else "km/h"
            best = RecordedPeak(
                top.value, top.at, unit, result.at, result.standard, group.pulls
            ).text()
    return best, unread


def _said_by_files(papers: Sequence[Record], dated: bool) -> tuple[str | None, dt.date | None]:
    """The highest odometer and, where `dated`, the latest day that the new files state."""
    of_a_day = [paper for paper in papers if isinstance(paper, _OF_A_DAY)]
    readings = [paper.odometer for paper in of_a_day if paper.odometer]
    highest = max(readings, key=lambda reading: reading.si, default=None)
    last = max((paper.date for paper in of_a_day), default=None)
    return highest.text if highest else None, last if dated else None
