"""A ledger read for the analysis: versions, sessions, sheets; each thing parsed once."""

from __future__ import annotations

import contextlib
import dataclasses
import datetime as dt
from typing import TYPE_CHECKING, Any, Self, TypeVar

from buildlog.analysis.car.version import Version
from buildlog.desk.snapshot.made_once import MadeOnce, once
from buildlog.desk.snapshot.record_cache import Known
from buildlog.errors import BuildlogError, DamagedLedger, NotFound
from buildlog.records.car.configuration import Configuration
from buildlog.records.fields.base import Record
from buildlog.records.reading import read
from buildlog.store.ledger.entries import approvers
from buildlog.store.ledger.pinned import PinnedReader

if TYPE_CHECKING:
    from collections.abc import Callable

    from buildlog.analysis.car.history_files import HistoryFiles, Visit
    from buildlog.analysis.car.priors import Prior
    from buildlog.analysis.pulls.sheet import Sheet
    from buildlog.records.car.due import Service
    from buildlog.records.checks import Check
    from buildlog.records.day_notes import OdometerReading, Waiting
    from buildlog.records.fasteners import Joint, JointSheet
    from buildlog.records.faults import Fault
    from buildlog.records.plan_changes import Followed
    from buildlog.records.session import Session
    from buildlog.store.ledger.entries import Entry
    from buildlog.store.ledger.names import NamedVersion as Named
    from buildlog.store.ledger.reader import Reader

R = TypeVar("R", bound=Record)
_NEWS = {"sessions": ("dyno/", "/session.toml"), "checks": ("checks/", ".toml"),
         "faults": ("faults/", ".toml"), "joints": ("torque/", ".toml"),
         "services": ("due/", ".toml"), "readings": ("readings/", ".toml"),
         "waits": ("waiting/", ".toml")}  # fmt: skip
_Told = tuple[list[Version], set[str]]  # versions, and every path that came with them


class Snapshot(MadeOnce):
    """Everything that is asked of one ledger, in the analysis's own terms, as it stood at one head.

    Another may record, plan or edit meanwhile: names, entries, files and answers stay those of
    the head and of the working files that this saw first. `known` is an older snapshot of the
    same ledger: what it read is not read again. `recorded_only`: the working files have no say,
    as where many ledgers are looked at.

    Threads may share a snapshot and all that it answers: each thing is worked out by one of them.
    """

    def __init__(
        self, ledger: Reader, recorded_only: bool = False, known: Snapshot | None = None
    ) -> None:
        super().__init__(known)
        self.ledger: PinnedReader = PinnedReader.of(ledger, known.ledger if known else None)
        self.recorded_only = recorded_only
        self._files_known = Known() if ledger.recalls else None
        self._told_before: _Told | None = known.made(Snapshot._told) if known else None

    @property
    def book(self) -> Snapshot:
        """Itself, as of everything that answers from a snapshot."""
        return self

    @property
    def head(self) -> str | None:
        """The id of the newest entry; None before anything is recorded."""
        return self.entries[-1].id if self.entries else None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self.ledger.close()

    # versions

    @once
    def entries(self) -> list[Entry]:
        """All entries, first to last."""
        return self.ledger.entries()

    @once
    def history(self) -> list[Version]:
        """All entries as versions, first to last; approved by who did so later, too."""
        return [self._approved(version) for version in self._told[0]]

    def _approved(self, version: Version) -> Version:
        later = self._approvals.get(version.id)
        return version if not later else dataclasses.replace(version, approved_by=later)

    @once
    def _approvals(self) -> dict[str, str]:
        """By the id of an entry that was approved later: everybody who answers for it."""
        approved = {entry.approves for entry in self.entries if entry.approves}
        return {entry.id: ", ".join(approvers(self.entries, entry))
                for entry in self.entries if entry.id in approved}  # fmt: skip

    @once
    def _told(self) -> _Told:
        versions, seen = self._begun()
        before = self.entries[len(versions) - 1] if versions else None
        for entry in self.entries[len(versions) :]:
            added = self.ledger.news(entry, before).keys() - seen
            seen |= added
            versions.append(self._version(entry, added))
            before = entry
        return versions, seen

    def _begun(self) -> _Told:
        """What an older snapshot told, where the history only went on since."""
        versions, seen = self._told_before or ([], set())
        ids = [version.id for version in versions]
        if ids != [entry.id for entry in self.entries[: len(ids)]]:
            return [], set()
        return list(versions), set(seen)

    @once
    def working(self) -> Version:
        """The files on disk as a version."""
        files = set(self.ledger.working().files)
        recorded = set(self.ledger.files(self.entries[-1])) if self.entries else set()
        added = files - recorded
        newest = self.entries[-1] if self.entries else None
        return Version(
            0,
            "",
            "build",
            None,
            newest.odometer_m if newest else None,
            self._parsed(Configuration, self._working_bytes("car.toml"), "car.toml"),
            odometer_text=newest.odometer if newest else None,
            **_news(added),
        )

    def version(self, name: str | Version) -> Version:
        """The version a name means."""
        return name if isinstance(name, Version) else self.of(self.ledger.resolve(name))

    @property
    def newest(self) -> Version:
        """The newest entry, or the working files where nothing is recorded."""
        return self.history[-1] if self.history else self.working

    def of(self, named: Named) -> Version:
        """A named version of the store in the analysis's terms."""
        if named.is_working:
            return self.working
        if named.entry is None:
            configuration = self._parsed(Configuration, self.plan_on_newest(named).car, named.name)
            plan = named.name.removeprefix("plan:")
            return Version(0, named.commit or "", "plan", None, None, configuration, plan=plan)
        return self.history[named.entry.number - 1]

    def plan_on_newest(self, named: Named) -> Followed:
        """A plan's changes made to the newest entry: what it does not touch is that entry's."""
        from buildlog.records.plan_changes import followed
        from buildlog.store.ledger.names import of
        from buildlog.store.ledger.plan_branches import CAR, find

        base = find(self.ledger, named.name).base
        newest = self.entries[-1]
        ids = tuple(self.ledger.content_id(one, CAR) for one in (of(base), newest, named))

        def make() -> Followed:
            base_car, car, plan = (self.ledger.read(one, CAR) for one in (of(base), newest, named))
            return followed(base_car, car, plan)

        return self.of_content(("plan", *ids), make)

    def _version(self, entry: Entry, added: set[str]) -> Version:
        blob = self.ledger.content_id(entry, "car.toml")
        if blob is None:
            raise DamagedLedger(
                f"entry {entry.number} ({entry.short}) holds no car.toml",
                hint="buildlog verify says what else is missing",
            )
        return Version(
            entry.number,
            entry.id,
            entry.kind,
            entry.work_date,
            entry.odometer_m,
            self._configuration(blob, f"entry {entry.number}", entry),
            stage=entry.stage,
            subject=entry.subject,
            done_by=entry.done_by,
            approved_by=entry.approved_by,
            corrects=entry.corrects,
            resolves=entry.resolves,
            outside=entry.recorded_outside,
            odometer_text=entry.odometer,
            promised=entry.promised,
            **_news(added),
        )

    def _configuration(self, blob: str, label: str, of: Entry | Named) -> Configuration:
        def make() -> Configuration:
            data = self.ledger.read(of, "car.toml")
            return self._parsed(Configuration, data, f"car.toml of {label}")

        return self.of_content(blob, make)

    def _parsed(self, model: type[R], data: bytes, name: str) -> R:
        reading = self._files_known.read if self._files_known else read
        return self.of_content((model, data, name), lambda: reading(model, data, name))

    def newest_bytes(self, path: str) -> bytes:
        """The bytes of a file of working, or of the newest entry where only that counts."""
        if self.recorded_only:
            return self.ledger.read(self.entries[-1], path)
        return self._working_bytes(path)

    def _working_bytes(self, path: str) -> bytes:
        from buildlog.store.ledger.names import WORKING

        return self.ledger.read(WORKING, path)

    # sessions

    @once
    def session_places(self) -> dict[str, Version]:
        """Each session's name and the version that first contains it, oldest first."""
        places = {name: version for version in self.history for name in version.sessions}
        if self.recorded_only:
            return places
        # A broken car.toml on the disk must not hide what is recorded.
        with contextlib.suppress(BuildlogError):
            places |= dict.fromkeys(self.working.sessions, self.working)
        return places

    def session(self, name: str) -> Session:
        """A session as it stands now: corrections of session.toml are in force."""
        from buildlog.records.session import Session

        def make() -> Session:
            data = self.session_file(name, "session.toml")
            return self._parsed(Session, data, f"dyno/{name}/session.toml")

        return self.once((Session, name), make)

    def session_file(self, name: str, file: str) -> bytes:
        """One file of a session: recorded, or on the disk while it is not yet recorded."""
        return self.ledger.read(self._holder(name), f"dyno/{name}/{file}")

    def _holder(self, name: str) -> Entry | Named:
        """Whose files a session's are: the newest entry's, or the working ones."""
        from buildlog.store.ledger.names import WORKING

        place = self.session_places.get(name)
        if place is None:
            raise NotFound(
                f'there is no session "{name}"',
                hint=f"known: {', '.join(self.session_places) or 'none yet'}",
            )
        return self.entries[-1] if place.number else WORKING

    def session_name(self, given: str | None) -> str:
        """A session by its whole name or enough of it to be unique; the newest without one."""
        known = list(self.session_places)
        if not known:
            raise NotFound(
                "there is no dyno session in this ledger yet",
                hint="buildlog dyno add FILE... --session NAME",
            )
        if given is None:
            return max(known, key=lambda name: (self.session(name).date, known.index(name)))
        dated = [name for name in known if name[len("2026-03-14-") :] == given]
        hits = [given] if given in known else dated or [name for name in known if given in name]
        if len(hits) != 1:
            import difflib

            near = hits or difflib.get_close_matches(given, known, n=3, cutoff=0.4) or known
            raise NotFound(
                f'"{given}" names {"no" if not hits else "more than one"} session',
                hint=f"did you mean {' or '.join(near[:4])}?",
            )
        return hits[0]

    def owner(self, name: str) -> Version:
        """The version whose configuration was measured in a session."""
        stated = self.session(name).configuration
        if stated:
            return self.version(stated)
        return self.session_places[name]

    @once
    def visits(self) -> list[Visit]:
        """All sessions with the versions they measured."""
        from buildlog.analysis.car.history_files import Visit

        return [Visit(name, self.session(name), self.owner(name)) for name in self.session_places]

    # checks, faults, tightening records

    def check(self, name: str) -> Check:
        """A carried-out list by the name of its file."""
        from buildlog.records.checks import Check

        return self._paper(Check, "checks", name)

    def fault(self, name: str) -> Fault:
        """A fault, or the closing of one, by the name of its file."""
        from buildlog.records.faults import Fault

        return self._paper(Fault, "faults", name)

    def joint(self, name: str) -> Joint:
        """A tightening record by the name of its file."""
        from buildlog.records.fasteners import Joint

        return self._paper(Joint, "torque", name)

    def joint_sheet(self, name: str) -> JointSheet:
        """A sheet of joints by the name of its file."""
        from buildlog.records.fasteners import JointSheet

        return self._paper(JointSheet, "torque", name)

    @once
    def until_now(self) -> list[Version]:
        """All entries, then the working files."""
        if self.recorded_only:
            return self.history
        return [*self.history, self.working]

    @once
    def tightened(self) -> tuple[dict[str, Joint], dict[str, JointSheet]]:
        """Every tightened joint by name, and every sheet; the joints of sheets stand among both."""
        from buildlog.analysis.car import sheet_book

        versions = self.history
        # A broken car.toml on the disk must not hide what is recorded.
        with contextlib.suppress(BuildlogError):
            versions = self.until_now
        named = [name for version in versions for name in version.joints]
        sheets = {n: self.joint_sheet(n) for n in named if n.endswith(sheet_book.ENDING)}
        joints = {name: self.joint(name) for name in named if name not in sheets}
        return joints | sheet_book.records(sheets), sheets

    @once
    def papers(self) -> HistoryFiles:
        """What the history holds beside the configurations, the working files' included."""
        from buildlog.analysis.car.history_files import HistoryFiles, as_one

        versions = self.history
        # A broken car.toml on the disk must not hide what is recorded.
        with contextlib.suppress(BuildlogError):
            versions = self.until_now
        joints, sheets = self.tightened
        return HistoryFiles(
            self.visits,
            as_one({name: self.check(name) for v in versions for name in v.checks}),
            {name: self.fault(name) for version in versions for name in version.faults},
            joints,
            sheets,
            {name: self.service(name) for version in versions for name in version.services},
            {name: self.reading(name) for version in versions for name in version.readings},
            {name: self.waiting(name) for version in versions for name in version.waits},
        )

    def service(self, name: str) -> Service:
        """That a due thing was done, by the name of its file."""
        from buildlog.records.car.due import Service

        return self._paper(Service, "due", name)

    def reading(self, name: str) -> OdometerReading:
        """An odometer read without an entry, by the name of its file."""
        from buildlog.records.day_notes import OdometerReading

        return self._paper(OdometerReading, "readings", name)

    def waiting(self, name: str) -> Waiting:
        """What the car waits for, or that it came, by the name of its file."""
        from buildlog.records.day_notes import Waiting

        return self._paper(Waiting, "waiting", name)

    def _paper(self, model: type[R], folder: str, name: str) -> R:
        path = f"{folder}/{name}.toml"
        recorded = self.entries and path in self._newest_files
        data = self.ledger.read(self.entries[-1], path) if recorded else self._working_bytes(path)
        return self._parsed(model, data, path)

    @once
    def _newest_files(self) -> dict[str, str]:
        return self.ledger.files(self.entries[-1])

    def sheet(self, name: str, standard: str | None = None) -> Sheet:
        """A session worked out, once."""
        from buildlog.analysis.pulls.sheet import DEFAULT_STANDARD

        by = standard or DEFAULT_STANDARD
        found = self.once(("sheet", name, by), lambda: self._sheet(name, by))
        if isinstance(found, Exception):
            raise found.with_traceback(None)
        return found

    def _sheet(self, name: str, standard: str) -> Sheet | Exception:
        """The sheet or what is wrong with it; an older snapshot's, if all that it hangs on is
        the same."""
        try:
            session, car = self.session(name), self.owner(name).configuration
            files = set(session.raw_files)
            ids = self._raw_ids(name)
        except (BuildlogError, ValueError) as error:
            return error
        # The car stands in what is kept, too, so that its id is nobody else's.
        content = (name, standard, id(session), id(car), *ids)
        made = self.of_content(
            content, lambda: (session, car, self._worked_out(name, session, car, files, standard))
        )
        return made[2]

    def _raw_ids(self, name: str) -> list[tuple[str, str | None]]:
        """The raw files of a session with the ids of their bytes."""
        held, files = self._holder(name), sorted(set(self.session(name).raw_files))
        return [(f, self.ledger.content_id(held, f"dyno/{name}/{f}")) for f in files]

    def recalled(self, kind: str, name: str, more: object, make: Callable[[], Any]) -> Any:
        """A plain figure of a session's sheet: from the index, where that may answer, by the bytes
        of everything that it hangs on."""
        if self._files_known is None:
            return make()
        from buildlog.desk.snapshot.result_cache import recalled
        from buildlog.store.ledger.names import WORKING

        owner = self.owner(name)
        of = self.entries[owner.number - 1] if owner.number else WORKING
        session = self.ledger.content_id(self._holder(name), f"dyno/{name}/session.toml")
        car = self.ledger.content_id(of, "car.toml")
        return recalled(kind, (name, session, car, *self._raw_ids(name), more), make)

    def _worked_out(
        self, name: str, session: Session, car: Configuration, named: set[str], standard: str
    ) -> Sheet | Exception:
        from buildlog.analysis.pulls.sheet_work import sheet

        files = {}
        try:
            for file in named:
                with contextlib.suppress(NotFound):  # the sheet says of each pull what it misses
                    files[file] = self.session_file(name, file)
            return sheet(name, session, files, car, standard)
        except (BuildlogError, ValueError) as error:
            return error

    @once
    def measured_versions(self) -> list[Version]:
        """Versions whose configuration was measured, in order, each once."""
        owners = {visit.owner.number: visit.owner for visit in self.visits if visit.owner.number}
        return [owners[number] for number in sorted(owners)]

    @once
    def priors(self) -> dict[str, Prior]:
        """The priors, with those of the ledger's priors.toml in place of the defaults."""
        from buildlog.analysis.car.priors import load
        from buildlog.errors import InvalidInput

        try:
            own = self.newest_bytes("priors.toml").decode("utf-8")
        except NotFound:
            return load()
        except UnicodeDecodeError:
            raise InvalidInput("this is not UTF-8 text", where="priors.toml") from None
        return load(own)


def _news(paths: set[str]) -> dict[str, Any]:
    """What came with a version, by name: sessions, lists, faults, tightened joints."""
    return {
        news: tuple(sorted(p.split("/")[1].removesuffix(end) for p in paths
                           if p.startswith(start) and p.endswith(end)))
        for news, (start, end) in _NEWS.items()
    }  # fmt: skip


def today() -> dt.date:
    """The day by the computer's clock."""
    return dt.date.today()
