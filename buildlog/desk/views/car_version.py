"""A version of an opened car: it goes wherever a name goes."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from buildlog.desk.views.view import Forms, ListView
from buildlog.errors import InvalidInput, UsageError
from buildlog.records.recorded_peak import recorded_peak
from buildlog.units import Quantity, parse

if TYPE_CHECKING:
    from buildlog.analysis.car.version import Version
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.desk.views.workshop_views import PartsView
    from buildlog.records.car.configuration import Configuration
    from buildlog.store.ledger.names import NamedVersion
    from buildlog.units import System


class CarVersion:
    """An entry, a plan or the working files, with the configuration as it stood there."""

    def __init__(self, book: Snapshot, named: NamedVersion, units: System) -> None:
        self._book, self._named, self._units = book, named, units
        entry = named.entry
        unrecorded = "working" if named.is_working else "plan"
        self.number = entry.number if entry else None
        """The entry's number, for talking; None for a plan and for the working files."""
        self.id = named.commit
        """The entry's or the plan's id, which names it for good; None for the working files."""
        self.kind = entry.kind if entry else unrecorded
        """ "build", "found", "dyno", "check", "fault", "correction", ...; "plan", "working"."""
        self.stage = entry.stage if entry else None
        """The stage that was named here."""
        self.name = named.name if entry is None else entry.stage or f"entry {entry.number}"
        """Its stage, else "entry 7", "plan:turbo" or "working"."""
        self.date: dt.date | None = entry.work_date if entry else None
        """The day of the work; None for what is not recorded."""
        self.subject = entry.subject if entry else ""
        """What was done, in a few words."""
        self.notes = entry.notes if entry else ""
        """More about it."""
        self.done_by = entry.done_by if entry else None
        """Who did it."""
        self.approved_by = entry.approved_by if entry else None
        """Who answers for it."""

    @property
    def odometer(self) -> Quantity | None:
        """The reading as it was written; None where it is unknown."""
        text = self._named.entry.odometer if self._named.entry else None
        try:
            return parse(text, ("length",)) if text else None
        except InvalidInput:  # of an entry made elsewhere
            return None

    @property
    def peak_wheel_power_w(self) -> float | None:
        """The measured peak [W] that was worked out when the entry was recorded."""
        found = recorded_peak(self._named.entry.measured) if self._named.entry else None
        return found.power_w if found else None

    @property
    def configuration(self) -> Configuration:
        """The car as it stood: `.engine.bore` and so on, None where nothing is stated."""
        return self._version().configuration

    @property
    def sessions(self) -> tuple[str, ...]:
        """The names of the dyno sessions that it added."""
        return self._version().sessions

    @property
    def parts(self) -> PartsView:
        """The parts in the car, with since when and the distance on each."""
        from buildlog.desk.questions.day_books import parts_at
        from buildlog.desk.views.workshop_views import PartsView

        with self._book.alone:
            version = self._version()
            return PartsView(parts_at(self._book, version), version, self._units)

    def _version(self) -> Version:
        with self._book.alone:
            return self._book.of(self._named)

    def _in(self, book: Snapshot) -> Version:
        """The same version as another snapshot of the ledger knows it."""
        if book is self._book:
            return self._version()
        if book.ledger.id != self._book.ledger.id:
            raise UsageError(f"{self.name} is a version of another car", hint="name one of this")
        return book.version(self.id if self.id and self.number else self.name)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, CarVersion):
            return NotImplemented
        return (self.id, self._working_of) == (other.id, other._working_of)

    def __hash__(self) -> int:
        return hash((self.id, self._working_of))

    @property
    def _working_of(self) -> int | None:
        return id(self._book) if self._named.is_working else None

    def __str__(self) -> str:
        return self.name

    def __repr__(self) -> str:
        entry = self._named.entry
        if entry is None:
            return f"<{self.name}>"
        said = [f"entry {entry.number}", entry.short, entry.work_date.isoformat()]
        said += [entry.odometer] if entry.odometer else []
        return f"<{self.name}: {', '.join([*said, entry.kind])}>"


class HistoryView(ListView[CarVersion]):
    """The entries, first to last: `buildlog history`."""

    def __init__(self, book: Snapshot, units: System) -> None:
        from buildlog.store.ledger.names import of

        self._entries, self._units = book.entries, units
        self._rows = tuple(CarVersion(book, of(entry), units) for entry in book.entries)

    def _forms(self) -> Forms:
        from buildlog.report.as_json.history_json import history_json
        from buildlog.report.as_text.history_text import headline, history_lines

        entries = self._entries
        said = headline(entries, self._show) if entries else "nothing is recorded yet"
        return Forms(
            lambda: history_lines(entries, self._show),
            lambda: history_json(entries),
            lambda: f"history: {said}",
            lambda: self._tables.history_html(entries, self._show),
        )
