"""From a ledger to the content of its booklet, or of the sheet of some of its stages."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import replace
from functools import lru_cache

from buildlog.analysis.answers.comparison import Diff, standing
from buildlog.analysis.car import legal
from buildlog.analysis.car.changes import Change, changes, origins
from buildlog.analysis.car.version import Version, place_of
from buildlog.analysis.margins.all_margins import states
from buildlog.analysis.margins.figures.margin_rows import Row
from buildlog.analysis.prediction.learned import MeasuredPoint
from buildlog.analysis.pulls.sheet import PullGroup, Sheet
from buildlog.analysis.workshop import fastener_book, fault_book, partlife
from buildlog.analysis.workshop.check_book import newest_lists, unfinished
from buildlog.analysis.workshop.due_book import due_states
from buildlog.analysis.workshop.gates import gates
from buildlog.desk.questions.compare import difference
from buildlog.desk.questions.jobs import job_of
from buildlog.desk.questions.limits import limits_of
from buildlog.desk.questions.predict import predictor_of
from buildlog.desk.questions.two_powers import two_powers
from buildlog.desk.questions.visits import pooled
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError
from buildlog.findings import worst_first
from buildlog.records.caption import PhotoCaption
from buildlog.records.custody import Custody
from buildlog.records.paths import differences, leaves
from buildlog.records.reading import load, read
from buildlog.records.recorded_promise import RecordedPromise, recorded_promise
from buildlog.records.session import Session
from buildlog.report.booklet import content as story
from buildlog.report.booklet.content import BookletContent, DoneList
from buildlog.store.git.ledger_files import CAPTION, kind_of
from buildlog.store.ledger.entries import Entry

_LISTS = ("intake", "first-start", "light-load-check", "before-dyno", "after-break-in", "hand-back")
_FUEL_LISTS = {"first-start", "light-load-check"}  # an electric car has no use for them


Tell = Callable[[float], None]  # how far a long work has come, from 0 to 1


def silent(share: float) -> None:
    """Nobody is told."""


def content(
    book: Snapshot, shop: str | None, stages: Sequence[str] = (), tell: Tell = silent
) -> BookletContent:
    """Everything the booklet tells. With `stages`, the sheet of these alone."""
    told = list(_stages(book, stages, tell))
    history, papers = book.history, book.papers
    now = told[-1].after if stages else history[-1]
    until = history[: now.number]
    readings = tuple(_readings(book, told if stages else None))
    limits = limits_of(book).rows(now)
    return BookletContent(
        shop=shop,
        first=history[0],
        now=now,
        stages=tuple(told),
        readings=readings,
        gain=told[0].diff if len(stages) == 1 else _gain(book, readings),
        parts=tuple(partlife.part_at(history, now)),
        gone=tuple(one for one in partlife.lives(until) if one.ended is not None),
        fields=tuple(_fields(until)),
        calibrations=tuple(_calibrations(book, until)),
        joints=tuple(fastener_book.joints(until, papers)),
        lists=tuple(
            DoneList(n, c, history[i])
            for i, n, c in papers.checks_in(until)
            if n not in papers.gone_on_with()
        ),
        gates=tuple(gates(until, papers, states(limits))),
        faults=tuple(fault_book.faults(until, papers)),
        facts=tuple(legal.facts(until)),
        to_look_at=tuple(
            worst_first(
                [
                    *standing(until, papers, history[0], now),
                    *two_powers(book, [visit.name for _, visit in papers.visits_in(until)]),
                ]
            )
        ),
        attachments=tuple(_attachments(book, now)),
        custody=tuple(custody(book)),
        not_checked=tuple(_not_checked(book, until, now)),
        proof=_proof(book),
        margins=tuple(limits),
        dues=tuple(due_states(until, papers)),
        displacement=_displacement(now),
        sheet_of=tuple(stages),
        read=_last_read(until),
        drawn=tuple(one.name for one in book.measured_versions),
    )


def _last_read(until: Sequence[Version]) -> Version | None:
    """The entry of the newest reading of the odometer: the first that has it."""
    known = [one for one in until if one.odometer is not None]
    return next((one for one in known if one.odometer == known[-1].odometer), None)


# stages


def _stages(book: Snapshot, named: Sequence[str], tell: Tell) -> Iterator[story.StageStory]:
    """The steps from stage to stage, the first from nothing to how the car came."""
    jobs = [job_of(book, book.version(name)) for name in named]
    turns = [version for version in book.history
             if version.stage and not any(job.holds(version) for job in jobs)]  # fmt: skip
    newest = book.history[-1]
    later = [one for one in book.history if turns and one.number > turns[-1].number]
    if not turns or any(one.kind != "handover" for one in later):
        turns += [newest] if not any(job.holds(newest) for job in jobs) else []
    ends = {job.end.number: job.end for job in jobs}
    wanted = ends.keys()
    turns += ends.values()
    turns.sort(key=lambda one: one.number)
    for index, after in enumerate(turns):
        tell(index / len(turns))
        if not wanted or after.number in wanted:
            before = turns[index - 1] if index else None
            if wanted:
                before = _measured_before(book, turns[:index], after, wanted)
            over = [one for one in turns[:index] if before and one.number > before.number]
            unmeasured = (one.name for one in over if _point(book, one) is None)
            yield _stage(book, before, after, tuple(unmeasured))


def _measured_before(
    book: Snapshot, earlier: Sequence[Version], after: Version, wanted: Collection[int]
) -> Version | None:
    """What a sheet sets a measured stage against: the newest stage that was measured, too, else
    what was measured without being a stage, else the stage before or the car as it came; but
    nothing before a stage that is told as well."""
    own, first = _point(book, after), book.history[0]
    came = first if first.kind == "found" and first.number < after.number else None
    if came and own and (then := _point(book, came)) and then.sheet.name == own.sheet.name:
        came = None  # measured as it came: there is nothing to set it against
    last = earlier[-1] if earlier else came
    if own is None:
        return last
    for one in reversed(earlier):
        point = _point(book, one)
        if point is not None and point.sheet.name != own.sheet.name:
            return one
        if one.number in wanted:
            return earlier[-1]
    others = [one for one in book.measured_versions if one.number < after.number]
    points = ((one, _point(book, one)) for one in reversed(others))
    return next((one for one, at in points if at and at.sheet.name != own.sheet.name), last)


def _point(book: Snapshot, version: Version) -> MeasuredPoint | None:
    """The curve of a version; None where nobody measured it or its files cannot be read."""
    try:
        return predictor_of(book).point(version)
    except (BuildlogError, ValueError):
        return None


def _stage(
    book: Snapshot, before: Version | None, after: Version, passed_over: tuple[str, ...] = ()
) -> story.StageStory:
    start = before.number if before else 0
    between = book.history[start : after.number]
    if all(one.kind == "handover" for one in book.history[after.number :]):  # they belong here
        between = book.history[start:]
    numbers = {version.number for version in between}
    papers = book.papers
    found = difference(book, before, after, None) if before else None
    return story.StageStory(
        before,
        after,
        tuple(_entry(book, version) for version in between),
        found,
        tuple(DoneList(name, papers.checks[name], v) for v in between for name in v.checks),
        tuple(
            joint
            for joint in fastener_book.joints(book.history, papers)
            if joint.version.number in numbers
        ),
        tuple(
            fault
            for fault in fault_book.faults(book.history, papers)
            if fault.version.number in numbers
            or (fault.closed is not None and fault.closed.number in numbers)
        ),
        tuple(_righted(book, between, start)),
        tuple(_margins(book, before, after)) if before else (),
        passed_over,
        _promise(between),
    )


def _promise(between: Sequence[Version]) -> RecordedPromise | None:
    """What the quote of the newest plan that was built in these entries promised."""
    told = (recorded_promise(one.promised) for one in reversed(between))
    return next((one for one in told if one is not None), None)


def _righted(book: Snapshot, between: Sequence[Version], start: int) -> Iterator[Change]:
    """What these entries put right in the records of entries up to `start`."""
    earlier = {version.id for version in book.history[:start]}
    for version in between:
        if version.kind == "correction" and version.corrects in earlier:
            for correction in _corrections(book, version):
                if correction.where == "car.toml":
                    yield from correction.changes


def _entry(book: Snapshot, version: Version) -> story.EntryStory:
    entry = book.entries[version.number - 1]
    corrections = tuple(
        correction
        for other in book.history
        if other.corrects == version.id and other.kind == "correction"
        for correction in _corrections(book, other)
    )
    return story.EntryStory(
        version, entry.notes, entry.recorded_at.date(), corrections, signers(book).get(version.id)
    )


def _corrections(book: Snapshot, version: Version) -> Iterator[story.Correction]:
    """What a correction changed: against the entry it follows, field by field."""
    entry = book.entries[version.number - 1]
    at = place_of(book.history, entry.parents[0]) if entry.parents else None
    if at is None:
        return
    parent, before = book.entries[at], book.history[at]
    found = changes(before.configuration, version.configuration)
    if found:
        yield story.Correction(version, tuple(found))
    old, new = book.ledger.files(parent), book.ledger.files(entry)
    for path in sorted(new.keys() & old.keys()):
        if path.endswith("/session.toml") and new[path] != old[path]:
            one, other = (
                read(Session, book.ledger.read(where, path), path) for where in (parent, entry)
            )
            yield story.Correction(version, tuple(_session_changes(one, other)), path.split("/")[1])


def _session_changes(old: Session, new: Session) -> Iterator[Change]:
    for path, before, after in differences(old, new):
        kind = "added" if before is None else "removed" if after is None else "changed"
        yield Change(path, kind, before, after)  # type: ignore[arg-type]


# dyno


def _readings(book: Snapshot, told: Sequence[story.StageStory] | None) -> Iterator[story.DynoVisit]:
    chosen = None
    if told is not None:
        chosen = {name for stage in told for one in stage.entries for name in one.version.sessions}
        chosen |= {sheet.name for s in told if s.diff and s.diff.measured
                   for sheet in s.diff.measured.sheets}  # fmt: skip
        first = told[0].before if len(told) > 1 else None
        start = _point(book, first) if first is not None else None
        chosen |= {start.sheet.name} if start is not None else set()
    for visit in sorted(book.visits, key=lambda one: (one.session.date, one.name)):
        if chosen is not None and visit.name not in chosen:
            continue
        try:
            sheet = pooled(book, book.sheet(visit.name))
        except (BuildlogError, ValueError) as error:
            said = error.what if isinstance(error, BuildlogError) else str(error)
            yield story.DynoVisit(visit.name, visit.owner, None, None, said)
            continue
        yield story.DynoVisit(visit.name, visit.owner, sheet, _group(visit.owner, sheet))


def _group(version: Version, sheet: Sheet) -> PullGroup | None:
    """The pulls that stand for the version: of its own calibration, else those kept."""
    table = version.configuration.calibration
    named = [g for g in sheet.groups if table and g.curves[0].data.pull.calibration == table.id]
    return named[-1] if named else sheet.kept


def _gain(book: Snapshot, readings: Sequence[story.DynoVisit]) -> Diff | None:
    """From the first measured version to the newest that can honestly be set against it."""
    measured = [one.version for one in readings if one.group is not None]
    versions = list({version.number: version for version in measured}.values())
    for version in reversed(versions[1:]):
        found = difference(book, versions[0], version, None)
        if found.measured is not None and found.measured.comparable:
            return found
    return None


# the car now


def _fields(history: Sequence[Version]) -> Iterator[story.FieldRow]:
    since = origins(history)
    for path, value in leaves(history[-1].configuration).items():
        if path != "format":
            yield story.FieldRow(path, value, since.get(path))


def _calibrations(book: Snapshot, history: Sequence[Version]) -> Iterator[story.CalibrationStory]:
    stories: dict[str, story.CalibrationStory] = {}
    for version in history:
        table = version.configuration.calibration
        if table is None or table.id is None:
            continue
        known = stories.get(table.id) or _no_calibration(table.id, version)
        stories[table.id] = replace(
            known,
            file=table.file or known.file,
            sha256=table.file_sha256 or known.sha256,
            author=table.author or known.author,
            verification_number=table.verification_number or known.verification_number,
            last=version,
        )
    tried: dict[str, list[str]] = {}
    for visit in book.visits:
        for name in visit.calibrations:
            if name is not None and visit.owner.number <= history[-1].number:
                tried.setdefault(name, []).append(visit.name)
    for name in {**stories, **tried}:
        known = stories.get(name) or _no_calibration(name)
        yield replace(known, sessions=tuple(tried.get(name, ())))


def _no_calibration(name: str, first: Version | None = None) -> story.CalibrationStory:
    return story.CalibrationStory(name, None, None, None, None, first, first, ())


def _displacement(version: Version) -> float | None:
    from buildlog.physics.engines.crank import displacement

    engine = version.configuration.engine
    if engine is None or not (engine.bore and engine.stroke and engine.cylinders):
        return None
    return float(displacement(engine.bore.si, engine.stroke.si, engine.cylinders))


def _attachments(book: Snapshot, now: Version) -> Iterator[story.Attachment]:
    from buildlog.errors import InvalidInput
    from buildlog.store.exchange import photo

    seen: set[str] = set()
    for version in book.history[: now.number]:
        entry = book.entries[version.number - 1]
        for path in book.ledger.files(entry):
            if path in seen or kind_of(path) not in ("attachment", "outside"):
                continue
            seen.add(path)
            data = book.ledger.read(entry, path)
            try:
                original = photo.original_of(data)
            except InvalidInput:
                original = None
            digest = hashlib.sha256(data).hexdigest()
            yield story.Attachment(path, len(data), digest, version, original, _picture(data),
                                   _caption(book, entry, path))  # fmt: skip


def _caption(book: Snapshot, entry: Entry, path: str) -> str | None:
    """What the file beside a photo says that it shows."""
    told = f"{path}{CAPTION}"
    if told not in book.ledger.files(entry):
        return None
    found, _ = load(PhotoCaption, book.ledger.read(entry, told), told)
    return found.caption if found else None


def _picture(data: bytes) -> bytes | None:
    """A photo without the place where it was taken; None for any other file, or a torn one."""
    from buildlog.errors import InvalidInput
    from buildlog.store.exchange import photo

    try:
        return photo.strip(data).data if photo.is_photo(data) else None
    except InvalidInput:
        return None


def _margins(
    book: Snapshot, before: Version | None, after: Version
) -> Iterator[tuple[Row | None, Row]]:
    """Each limit after a stage, with what it was before."""
    old = {row.name: row for row in limits_of(book).rows(before)} if before else {}
    for row in limits_of(book).rows(after):
        yield old.get(row.name), row


def _not_checked(book: Snapshot, history: Sequence[Version], now: Version) -> Iterator[str]:
    """What nobody looked at, in words a customer understands."""
    papers = book.papers
    done = {one.check.list: one for one in newest_lists(history, papers)}
    no_fuel = now.configuration.car.power_source == "electric"
    asked = [name for name in _LISTS if not (no_fuel and name in _FUEL_LISTS)]
    never = [name for name in asked if name not in done]
    if never:
        yield f"these lists were never used: {', '.join(never)}"
    for name, one in done.items():
        left = [item.text or item.key for item in one.check.item if item.result == "not-done"]
        if left:
            more = f" and {len(left) - 3} more" if len(left) > 3 else ""
            yield f"left open on the {name} list: {'; '.join(left[:3])}{more}"
        elif unfinished(one.check):
            yield f"not passed on the {name} list: {'; '.join(unfinished(one.check)[:3])}"
    unknown = [life for life in partlife.part_at(book.history, now) if life.distance is None]
    if unknown:
        many = "part" if len(unknown) == 1 else "parts"
        yield f"how far {len(unknown)} {many} had run before this history began is unknown"
    if not any(visit.owner.number == now.number for visit in book.visits):
        from buildlog.analysis.car.history_files import match

        found = match(now, book.visits)
        if found is None:
            yield "the car as it is now was not measured on a dyno"


# custody and proof


def custody(book: Snapshot) -> Iterator[story.CustodyStory]:
    """The custody records, in the order of their entries."""
    seen: set[str] = set()
    for version in book.history:
        entry = book.entries[version.number - 1]
        for path in sorted(p for p in book.ledger.files(entry) if p.startswith("handover/")):
            if path not in seen:
                seen.add(path)
                number = int(path.removeprefix("handover/").removesuffix(".toml"))
                record = read(Custody, book.ledger.read(entry, path), path)
                yield story.CustodyStory(number, record, version, signers(book).get(version.id))


@lru_cache(maxsize=4)
def signers(book: Snapshot) -> dict[str, str]:
    """Who signed each signed entry, in words, by its id."""
    from buildlog.store.ledger.key_events import judged

    found = judged(book.ledger).commits
    return {name: one.words for name, one in found.items() if one.state != "not signed"}


def _proof(book: Snapshot) -> story.Proof:
    from buildlog.store.ledger.fingerprint import fingerprint
    from buildlog.store.verify.verdict import verify

    found = verify(book.ledger)
    return story.Proof(
        book.entries[0].id,
        len(book.entries),
        book.entries[-1].id,
        fingerprint(book.ledger),
        found.verdict,
        found.proves,
        found.does_not_prove,
    )


def newest_stage(book: Snapshot) -> str:
    """The newest stage by name; without stages, the newest entry."""
    stages = [version.stage for version in book.history if version.stage]
    return stages[-1] if stages else "latest"
