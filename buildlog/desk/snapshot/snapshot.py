"""A ledger read for the analysis: versions, sessions, sheets; each thing parsed once."""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Callable, Hashable
from functools import cached_property
from typing import TYPE_CHECKING, Any, Self, TypeVar

from buildlog.analysis.car.version import Version
from buildlog.desk.snapshot.record_cache import Known
from buildlog.errors import BuildlogError, DamagedLedger, NotFound
from buildlog.records.base import Record
from buildlog.records.configuration import Configuration
from buildlog.records.reading import read

if TYPE_CHECKING:
    from buildlog.analysis.car.history_files import HistoryFiles
    from buildlog.analysis.car.matching import Visit
    from buildlog.analysis.car.priors import Prior
    from buildlog.analysis.pulls.sheet import Sheet
    from buildlog.records.checks import Check
    from buildlog.records.fasteners import Joint
    from buildlog.records.faults import Fault
    from buildlog.records.session import Session
    from buildlog.store.ledger.entries import Entry
    from buildlog.store.ledger.names import NamedVersion as Named
    from buildlog.store.ledger.reader import Reader

R = TypeVar("R", bound=Record)
T = TypeVar("T")


class Snapshot:
    """Everything the commands ask of one ledger, in the analysis's own terms.

    `recorded_only`: the working files have no say, as where many ledgers are looked at.
    """

    def __init__(self, ledger: Reader, recorded_only: bool = False) -> None:
        self.ledger, self.recorded_only = ledger, recorded_only
        self._known = Known() if ledger.recalls else None
        self._configurations: dict[str, Configuration] = {}
        self._sessions: dict[str, Session] = {}
        self._sheets: dict[tuple[str, str], Sheet | Exception] = {}
        self._kept: dict[Hashable, Any] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self.ledger.close()

    # versions

    @cached_property
    def entries(self) -> list[Entry]:
        """All entries, first to last."""
        return self.ledger.entries()

    @cached_property
    def history(self) -> list[Version]:
        """All entries as versions, first to last."""
        versions = []
        seen: set[str] = set()
        before = None
        for entry in self.entries:
            added = self.ledger.news(entry, before).keys() - seen
            seen |= added
            versions.append(self._version(entry, added))
            before = entry
        return versions

    @cached_property
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
            sessions=_sessions(added),
            checks=_names(added, "checks"),
            faults=_names(added, "faults"),
            joints=_names(added, "torque"),
        )

    def version(self, name: str) -> Version:
        """The version a name means."""
        return self.of(self.ledger.resolve(name))

    def of(self, named: Named) -> Version:
        """A named version of the store in the analysis's terms."""
        if named.is_working:
            return self.working
        if named.entry is None:
            files = self.ledger.files(named)
            configuration = self._configuration(files["car.toml"], named.name, named)
            plan = named.name.removeprefix("plan:")
            return Version(0, named.commit or "", "plan", None, None, configuration, plan=plan)
        return self.history[named.entry.number - 1]

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
            sessions=_sessions(added),
            checks=_names(added, "checks"),
            faults=_names(added, "faults"),
            joints=_names(added, "torque"),
        )

    def _configuration(self, blob: str, label: str, of: Entry | Named) -> Configuration:
        if blob not in self._configurations:
            data = self.ledger.read(of, "car.toml")
            self._configurations[blob] = self._parsed(Configuration, data, f"car.toml of {label}")
        return self._configurations[blob]

    def _parsed(self, model: type[R], data: bytes, name: str) -> R:
        return self._known.read(model, data, name) if self._known else read(model, data, name)

    def newest_bytes(self, path: str) -> bytes:
        """The bytes of a file of working, or of the newest entry where only that counts."""
        if self.recorded_only:
            return self.ledger.read(self.entries[-1], path)
        return self._working_bytes(path)

    def _working_bytes(self, path: str) -> bytes:
        from buildlog.store.ledger.names import WORKING

        return self.ledger.read(WORKING, path)

    # sessions

    @cached_property
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

        if name not in self._sessions:
            data = self.session_file(name, "session.toml")
            self._sessions[name] = self._parsed(Session, data, f"dyno/{name}/session.toml")
        return self._sessions[name]

    def session_file(self, name: str, file: str) -> bytes:
        """One file of a session: recorded, or on the disk while it is not yet recorded."""
        place = self.session_places.get(name)
        if place is None:
            raise NotFound(
                f'there is no session "{name}"',
                hint=f"known: {', '.join(self.session_places) or 'none yet'}",
            )
        if place.number == 0:
            return self._working_bytes(f"dyno/{name}/{file}")
        return self.ledger.read(self.entries[-1], f"dyno/{name}/{file}")

    def session_name(self, given: str | None) -> str:
        """A session by its whole name or an unmistakable part of it; the newest without one."""
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

    @cached_property
    def visits(self) -> list[Visit]:
        """All sessions with the versions they measured."""
        from buildlog.analysis.car.matching import Visit

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

    @cached_property
    def until_now(self) -> list[Version]:
        """All entries, then the working files."""
        if self.recorded_only:
            return self.history
        return [*self.history, self.working]

    @cached_property
    def papers(self) -> HistoryFiles:
        """What the history holds beside the configurations, the working files' included."""
        from buildlog.analysis.car.history_files import HistoryFiles

        versions = self.history
        # A broken car.toml on the disk must not hide what is recorded.
        with contextlib.suppress(BuildlogError):
            versions = self.until_now
        return HistoryFiles(
            self.visits,
            {name: self.check(name) for version in versions for name in version.checks},
            {name: self.fault(name) for version in versions for name in version.faults},
            {name: self.joint(name) for version in versions for name in version.joints},
        )

    def _paper(self, model: type[R], folder: str, name: str) -> R:
        path = f"{folder}/{name}.toml"
        recorded = self.entries and path in self._newest_files
        data = self.ledger.read(self.entries[-1], path) if recorded else self._working_bytes(path)
        return self._parsed(model, data, path)

    @cached_property
    def _newest_files(self) -> dict[str, str]:
        return self.ledger.files(self.entries[-1])

    def sheet(self, name: str, standard: str | None = None) -> Sheet:
        """A session worked out, once."""
        from buildlog.analysis.pulls.sheet import DEFAULT_STANDARD

        key = (name, standard or DEFAULT_STANDARD)
        if key not in self._sheets:
            try:
                self._sheets[key] = self._worked_out(*key)
            except (BuildlogError, ValueError) as error:
                self._sheets[key] = error
        found = self._sheets[key]
        if isinstance(found, Exception):
            raise found
        return found

    def _worked_out(self, name: str, standard: str) -> Sheet:
        from buildlog.analysis.pulls.sheet_work import sheet

        session = self.session(name)
        files = {}
        for file in {f for pull in session.pull for f in (pull.file, pull.log) if f}:
            with contextlib.suppress(NotFound):  # the sheet says of each pull what it misses
                files[file] = self.session_file(name, file)
        owner = self.owner(name)
        return sheet(name, session, files, owner.configuration, standard)

    @cached_property
    def measured_versions(self) -> list[Version]:
        """Versions whose configuration was measured, in order, each once."""
        owners = {visit.owner.number: visit.owner for visit in self.visits if visit.owner.number}
        return [owners[number] for number in sorted(owners)]

    @cached_property
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

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """What was worked out from this snapshot under a key: made the first time, then kept."""
        if key not in self._kept:
            self._kept[key] = make()
        found: T = self._kept[key]
        return found


def _sessions(paths: set[str]) -> tuple[str, ...]:
    return tuple(
        sorted(
            p.split("/")[1] for p in paths if p.startswith("dyno/") and p.endswith("/session.toml")
        )
    )


def _names(paths: set[str], folder: str) -> tuple[str, ...]:
    return tuple(
        sorted(
            p.split("/")[1].removesuffix(".toml")
            for p in paths
            if p.startswith(f"{folder}/") and p.endswith(".toml")
        )
    )


def today() -> dt.date:
    """The day by the computer's clock."""
    return dt.date.today()
