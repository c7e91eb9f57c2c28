"""An edit of an opened car: collected in memory, recorded as one entry or not at all."""

from __future__ import annotations

import datetime as dt
import json
import os
import warnings
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, Self, TypedDict, Unpack

from buildlog.desk.acts.attachments import attach
from buildlog.desk.acts.car_fields import add_work, set_fields
from buildlog.desk.acts.dyno.log_addition import LogsSaid, add_logs
from buildlog.desk.acts.dyno.session_addition import SessionSaid, add_session
from buildlog.desk.acts.fault_acts import Tightening, add_joint, close_fault, open_fault
from buildlog.desk.acts.list_items import ItemFound, begin, tick
from buildlog.desk.acts.record import EntrySaid, record
from buildlog.desk.acts.torque_sheets import SheetSaid, tighten, write_sheet
from buildlog.desk.views.workshop_views import PreviewView
from buildlog.errors import InvalidInput, UsageError
from buildlog.findings import how_many
from buildlog.store.ledger.draft import Draft
from buildlog.units import Quantity

if TYPE_CHECKING:
    from buildlog.analysis.car.written import EntryMade, Written
    from buildlog.desk.snapshot.snapshot import Snapshot

Scalar = str | int | float | bool | dt.date | Quantity


class Facts(TypedDict, total=False):
    """What is said of an entry besides the message, as the options of `buildlog record`."""

    notes: str
    kind: str
    stage: str
    odometer: str
    odometer_note: str
    date: dt.date
    approved_by: str
    corrects: str
    resolves: str
    session_is_new: bool


class Edit:
    """Changes to one car's working files, kept in memory until `record`.

    It holds no lock. Every act is checked as on the command line, when it is called; `record`
    takes the lock, and writes files and entry if the head and the working files are still those
    that this edit began from. Else ChangedUnderYou, and nothing changed: begin again on
    `car.fresh()`. An edit that is neither recorded nor abandoned says so when its `with` ends.
    It is for one thread.
    """

    def __init__(self, book: Snapshot, by: str | None) -> None:
        self._by = by
        self._draft = Draft(book.ledger)
        self._done: str | None = None

    # acts

    def set(self, path: str, value: Scalar | Sequence[Scalar]) -> None:
        """Set a field of car.toml: `set("exhaust.pipe_diameter", "63.5 mm")`.

        A quantity is a text with its unit. InvalidInput where path or value do not fit.
        """
        self._set(f"{path}={_text(value)}")

    def remove(self, path: str) -> None:
        """Take a field, or a whole table, out of car.toml."""
        self._set(f"{path}=")

    def work(self, item: str, note: str | None = None) -> None:
        """Add an item of work; with the name of one that is there, change its note."""
        self._noted(add_work(self._draft_to_edit, item, note))

    def attach(self, file: str | os.PathLike[str], folder: str = "") -> str:
        """Copy a file below attachments, photos without what they give away; the copy's path."""
        return self._noted(attach(self._draft_to_edit, [Path(file)], folder))

    def fault(
        self,
        symptom: str,
        *,
        part: str | None = None,
        codes: Sequence[str] = (),
        cause: str | None = None,
        holds_up: bool = True,
        odometer: str | None = None,
        note: str | None = None,
        date: dt.date | None = None,
    ) -> str:
        """Write down what was seen, heard, smelt or felt; the path of its file."""
        written = open_fault(
            self._draft_to_edit, symptom, part=part, codes=codes, odometer=odometer, cause=cause,
            holds_up=holds_up, note=note, by=self._by, on=date,
        )  # fmt: skip
        return self._noted(written)

    def close_fault(
        self,
        name: str | None = None,
        *,
        remedy: str | None = None,
        cause: str | None = None,
        odometer: str | None = None,
        note: str | None = None,
        date: dt.date | None = None,
    ) -> str:
        """Say what was done about an open fault, by enough of it to be uniques name."""
        written = close_fault(
            self._draft_to_edit, name, remedy=remedy, cause=cause, odometer=odometer, note=note,
            by=self._by, on=date,
        )  # fmt: skip
        return self._noted(written)

    def joint(
        self,
        joint: str,
        torques: Mapping[str, str | None],
        said: Tightening | None = None,
        *,
        angle: str | None = None,
        how: Literal["tool setting", "reading"] | None = None,
        new: bool = False,
        odometer: str | None = None,
        date: dt.date | None = None,
    ) -> str:
        """Write down how a joint was tightened: each fastener's place with its torque.

        `said` is a `buildlog.Tightening` with thread, grade, specification, tool and so on.
        """
        written = add_joint(
            self._draft_to_edit, joint, [*torques.items()], said or Tightening(), angle=angle,
            how=how, new=new, odometer=odometer, by=self._by, on=date,
        )  # fmt: skip
        return self._noted(written)

    def torque_sheet(
        self,
        joints: Sequence[Mapping[str, Any]],
        title: str,
        *,
        source: str | None = None,
        odometer: str | None = None,
        date: dt.date | None = None,
    ) -> str:
        """A maker's sheet of joints: for each its name, count, torque or low and high, stages..."""
        said = SheetSaid(source=source, odometer=odometer, by=self._by, on=date)
        return self._noted(write_sheet(self._draft_to_edit, joints, title, said))

    def tighten(
        self,
        sheet: str,
        joint: str,
        stage: int | None = None,
        value: str | None = None,
        *,
        number: int | None = None,
        how: Literal["tool setting", "reading"] | None = None,
        date: dt.date | None = None,
    ) -> str:
        """Write down one stage of one joint of a sheet: of one fastener, else of all it has."""
        written = tighten(
            self._draft_to_edit, sheet, joint, stage, value, number=number, how=how, by=self._by,
            on=date,
        )  # fmt: skip
        return self._noted(written)

    def begin_list(
        self,
        name: str,
        *,
        odometer: str | None = None,
        date: dt.date | None = None,
        note: str | None = None,
    ) -> str:
        """Begin a list ("before-dyno"): a file with all its items not done."""
        return self._noted(begin(self._draft_to_edit, name, odometer=odometer, on=date, note=note))

    def tick(
        self,
        item: str,
        result: str | None = None,
        *,
        values: Iterable[str] = (),
        codes: Iterable[str] = (),
        note: str | None = None,
        fault: str | None = None,
        of: str | None = None,
        date: dt.date | None = None,
    ) -> str:
        """Write down what was found for an item of the list that is begun (`of` names it).

        `result` is "pass", "fail" or "not-applicable"; without it, it follows from the values.
        `fault` says what is wrong: that opens a fault when the list is recorded.
        """
        found = ItemFound(result, tuple(values), tuple(codes), note, fault=fault)
        draft = self._draft_to_edit
        return self._noted(tick(draft, item, found, name=of, by=self._by, on=date))

    def session(
        self, files: Sequence[str | os.PathLike[str]], name: str, said: SessionSaid | None = None
    ) -> str:
        """Add raw files to a dyno session, new or not yet full; the path of its session.toml.

        `said` is a `buildlog.SessionSaid` with the conditions and what columns hold. What the files
        leave open is refused, with what to say; cautions about the pulls are warnings.
        """
        draft = self._draft_to_edit
        written = add_session(draft, [*map(Path, files)], name, said or SessionSaid())
        self._noted(written)
        return written.paths[-1]

    def log(self, files: Sequence[str | os.PathLike[str]], said: LogsSaid | None = None) -> str:
        """Lay files of other loggers over the pulls of a session; the path of its session.toml.

        `said` is a `buildlog.LogsSaid` with the session, the pull, a stated shift and what columns
        hold. A file that no shift is found for is refused, with what to say.
        """
        written = add_logs(self._draft_to_edit, [*map(Path, files)], said or LogsSaid())
        self._noted(written)
        return written.paths[-1]

    # looking, recording

    @property
    def edited(self) -> tuple[str, ...]:
        """The files that `record` would write, by path."""
        return tuple(sorted(self._draft.edited))

    def preview(self, message: str = "not yet said", **facts: Unpack[Facts]) -> PreviewView:
        """What `record` would record with these facts, judged by the same rules."""
        done = record(self._draft_to_edit, self._said(message, facts), dry_run=True)
        return PreviewView(done.outlook)

    def record(self, message: str, *, sign: bool = False, **facts: Unpack[Facts]) -> EntryMade:
        """Record it all as one entry: its number, id and kind.

        The working files that were not recorded when the car was opened go along, as with
        `buildlog record`. ChangedUnderYou where head or files are others than this edit began
        from. `sign`: with the key of the user's settings.
        """
        done = record(self._draft_to_edit, self._said(message, facts), sign=sign).entry
        assert done is not None
        self._done = f"recorded as entry {done.number}"
        return done

    def abandon(self) -> None:
        """Forget it all; nothing was written."""
        self._draft.edited.clear()
        self._done = "abandoned"

    def __enter__(self) -> Self:
        return self

    def __exit__(self, failed: object, *exc: object) -> None:
        if self._draft.edited and self._done is None and failed is None:
            told = f"an edit ended without record(): {', '.join(self.edited)} not written"
            warnings.warn(told, stacklevel=2)

    def __repr__(self) -> str:
        state = self._done or f"{how_many(len(self.edited), 'file')}, not recorded"
        return f"<edit of {self._draft.folder.name}: {state}>"

    # inside

    @property
    def _draft_to_edit(self) -> Draft:
        if self._done is not None:
            raise UsageError(f"this edit was {self._done}", hint="begin another on car.fresh()")
        return self._draft

    def _set(self, assignment: str) -> None:
        set_fields(self._draft_to_edit, [assignment])

    def _noted(self, done: Written) -> str:
        for finding in done.findings:
            if finding.severity != "note":
                warnings.warn(finding.text, stacklevel=3)
        return done.paths[0]

    def _said(self, message: str, facts: Facts) -> EntrySaid:
        said: dict[str, Any] = dict(facts)
        said["work_date"] = said.pop("date", None)
        return EntrySaid(message, done_by=self._by, **said)


def _text(value: Scalar | Sequence[Scalar]) -> str:
    """A value as it is typed on the command line."""
    if isinstance(value, Quantity):
        return value.text
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        if not value.strip():
            raise InvalidInput("an empty value", hint="remove(path) takes a field out")
        return value
    if isinstance(value, Sequence):
        return json.dumps([one if isinstance(one, int | float) else _text(one) for one in value])
    return value.isoformat() if isinstance(value, dt.date) else repr(value)
