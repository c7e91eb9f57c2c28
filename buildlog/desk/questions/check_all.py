"""Every file of the working folder read: what is wrong or doubtful in it, and what to do now."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import replace

from buildlog.analysis.answers.due_steps import due_actions
from buildlog.analysis.answers.look_answers import CheckReading
from buildlog.analysis.answers.next_steps import Next, next_steps
from buildlog.analysis.car import legal, sheet_book
from buildlog.analysis.car.missing import missing
from buildlog.analysis.margins.all_margins import states
from buildlog.analysis.workshop import calibration_match, doubts, privacy
from buildlog.analysis.workshop.check_book import outside_limits
from buildlog.analysis.workshop.due_book import due_states
from buildlog.analysis.workshop.fastener_book import joints
from buildlog.analysis.workshop.gates import closed, gates, pull_findings
from buildlog.desk.questions.days import ahead
from buildlog.desk.questions.limits import limits_of
from buildlog.desk.questions.two_powers import two_powers
from buildlog.desk.snapshot.opening import beside, how_kept
from buildlog.desk.snapshot.snapshot import Snapshot, today
from buildlog.errors import InvalidInput
from buildlog.findings import Finding, worst_first
from buildlog.records.car.configuration import Configuration
from buildlog.records.reading import load
from buildlog.records.schema import OF_KIND
from buildlog.store.git import ledger_files
from buildlog.store.ledger import working_places
from buildlog.store.ledger.names import WORKING

_LONGEST_RAW_HEAD = 8192  # bytes of a raw file that are looked at for names of people


def look(book: Snapshot) -> CheckReading:
    """The whole check, calibration first."""
    files = sorted(book.ledger.working().files)
    broken = [*_files(book, files)]
    if any(finding.severity == "error" for finding in broken):
        return CheckReading(len(files), tuple(worst_first(broken)))
    history, papers = book.until_now, book.papers
    first = calibration_match.mismatches(history, papers)
    found = [*broken, *_doubts(book)]
    found += [f for state in joints(history, papers) for f in state.findings]
    found += [f for state in sheet_book.sheets(papers.sheets) for f in sheet_book.findings(state)]
    found += [*_flagged(book), *legal.facts(history), *_persons(book, files)]
    passed = gates(history, papers)
    known = {finding.text for finding in (*first, *found)}
    held = [g.finding for g in passed if g.finding and g.finding.text not in known]
    ordered = (*first, *worst_first(dict.fromkeys([*found, *held])))
    return CheckReading(
        len(files), ordered, tuple(closed(passed)), tuple(missing(history[-1].configuration))
    )


def what_next(book: Snapshot) -> Next:
    """What is due, what is held up and why. Nothing here depends on a dyno."""
    margins = states(limits_of(book).rows(book.working))
    found = next_steps(book.until_now, book.papers, margins)
    due = due_actions(due_states(book.until_now, book.papers), today())
    found = replace(found, actions=(*due, *found.actions))
    told = [*beside(book.ledger), *working_places.synchronised(book.ledger.folder)]
    return replace(found, findings=(*told, *found.findings, *how_kept(book.ledger)))


def _files(book: Snapshot, files: list[str]) -> Iterator[Finding]:
    """Syntax, units, names: each TOML file by its model."""
    for path in files:
        model = OF_KIND.get(ledger_files.kind_of(path) or "")
        if model is None:
            continue
        try:
            record, found = load(model, book.ledger.read(WORKING, path), path)
        except InvalidInput as error:
            yield Finding("unreadable", "error", error.what, (), error.where, error.hint)
            continue
        yield from (*found, *ahead(record, path, today()))
    scan = book.ledger.working()
    for path, reason in scan.refused.items():
        yield Finding("file-refused", "error", f"the file {path!r} {reason}", where=path)
    for path in scan.files:
        if working_places.is_conflict_copy(path, scan.files):
            yield Finding("conflict-copy", "caution", working_places.COPY.format(path), where=path)
    if scan.left_alone:
        named = ", ".join(scan.left_alone[:5]) + (", ..." if len(scan.left_alone) > 5 else "")
        yield Finding("left-alone", "note", f"not part of the ledger, never recorded: {named}")


def _doubts(book: Snapshot) -> Iterator[Finding]:
    history, papers = book.until_now, book.papers
    now = history[-1].configuration
    yield from doubts.configuration(now, today())
    yield from doubts.papers(history, papers)
    yield from doubts.calibration_file(now, _digests(book, now))
    earlier = papers.gone_on_with()
    for name, check in papers.checks.items():
        for item in outside_limits(check) if name not in earlier else ():
            text = f"{check.list}, {item.key}: passed with a value outside its limits"
            yield Finding("check-outside-limits", "caution", text, where=f"checks/{name}.toml")
    yield from two_powers(book)
    yield from _raw_files(book)


def _digests(book: Snapshot, now: Configuration) -> dict[str, str]:
    file = now.calibration.file if now.calibration else None
    if file is None or file not in book.ledger.working().files:
        return {}
    return {file: hashlib.sha256(book.ledger.read(WORKING, file)).hexdigest()}


def _raw_files(book: Snapshot) -> Iterator[Finding]:
    """Sessions that name raw files which are not there."""
    held = book.ledger.working().files
    for visit in book.visits:
        for file in visit.session.raw_files:
            if f"dyno/{visit.name}/{file}" not in held:
                where = f"dyno/{visit.name}/session.toml"
                yield Finding("raw-missing", "error", f"{file} is not in the folder", where=where)


def _flagged(book: Snapshot) -> Iterator[Finding]:
    """Pulls made before their gate: recorded ones are kept and only named."""
    for finding in pull_findings(book.until_now, book.papers):
        name = (finding.where or "").removeprefix("dyno/")
        new = name in book.working.sessions
        yield finding if new else replace(finding, severity="note")


def _persons(book: Snapshot, files: list[str]) -> Iterator[Finding]:
    for path in files:
        kind = ledger_files.kind_of(path)
        data = book.ledger.read(WORKING, path) if kind in (*OF_KIND, "raw", "plan") else b""
        if kind == "raw":
            head = data[:_LONGEST_RAW_HEAD].decode("utf-8", "replace").replace("\x00", "")
            yield from privacy.look_in_raw(head, path)
        elif data:
            yield from privacy.look(data.decode("utf-8", "replace"), path)
