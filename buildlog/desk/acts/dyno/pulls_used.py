"""A session corrected: which pulls count and why not, what its columns hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from buildlog.analysis.car.written import RecordWith, Written
from buildlog.desk.acts import working_files
from buildlog.desk.acts.filing import refuse_invalid
from buildlog.errors import InvalidInput, NotFound
from buildlog.findings import how_many
from buildlog.rawfiles.spec import ColumnSpec
from buildlog.records.checked_paths import table
from buildlog.records.reading import read
from buildlog.records.session import Session
from buildlog.records.toml import toml_edit
from buildlog.records.toml.toml_place import Place
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import WORKING

_PULL = table("pull[]", Session).removesuffix("[]")


def use_pull(ledger: Ledger, session: str, pull: str, reason: str | None) -> Written:
    """Say why a pull does not count; without a reason it counts again.

    A pull is named by its file, or by its key where one file holds several.
    """

    def edit(data: bytes) -> bytes:
        at = _pull(data, session, pull)
        if reason is not None:
            return toml_edit.set_values(
                data, {f"{_PULL}.{at}.use": False, f"{_PULL}.{at}.reason": reason}
            )
        for name in ("use", "reason"):
            if name in read(Session, data, _path(session)).pull[at].model_fields_set:
                data = toml_edit.delete(data, f"{_PULL}.{at}.{name}")
        return data

    by = "key" if _by_key(ledger, session, pull) else "file"
    places = [("pull", {by: pull})]
    meant = f"{pull} {'does not count' if reason else 'counts again'}"
    return _corrected(ledger, session, edit, places, meant)


def map_columns(
    ledger: Ledger, session: str, channels: Mapping[int, str], units: Mapping[int, str]
) -> Written:
    """Say what columns of a session hold, by their number in session.toml, from 0; one without a
    channel is left out. A unit that does not fit its channel is refused, since no pull of the
    session could be read with it."""

    def edit(data: bytes) -> bytes:
        known = read(Session, data, _path(session)).column
        for at in channels.keys() | units.keys():
            if at >= len(known):
                raise InvalidInput(
                    f"the session has {how_many(len(known), 'column')}", where=_path(session)
                )
        out = sorted((at for at, name in channels.items() if not name), reverse=True)
        if len(out) == len(known):
            raise InvalidInput("no column would be left", where=_path(session))
        values = {f"column.{at}.channel": name for at, name in channels.items() if name}
        values |= {f"column.{at}.unit": unit for at, unit in units.items() if unit}
        data = toml_edit.set_values(data, values)
        for at in out:
            data = toml_edit.delete(data, f"column.{at}")
        for column in read(Session, data, _path(session)).column:
            ColumnSpec(column.channel, column.name, column.unit or "").unit_row()
        return data

    return _corrected(ledger, session, edit, [("column",)], "columns set right")


def _corrected(
    ledger: Ledger, session: str, edit: working_files.Edit, places: Sequence[Place], meant: str
) -> Written:
    path = _path(session)
    if path not in ledger.working().files:
        raise NotFound(f'there is no session "{session}"', hint="look at its name")

    def checked(data: bytes) -> bytes:
        after = edit(data)
        refuse_invalid(Session, after, path)
        return after

    working_files.change(ledger, path, checked, places=places)
    return Written((path,), RecordWith(meant, kind="correction"))


def _by_key(ledger: Ledger, session: str, pull: str) -> bool:
    path = _path(session)
    if path not in ledger.working().files:
        return False
    return any(one.key == pull for one in read(Session, ledger.read(WORKING, path), path).pull)


def _pull(data: bytes, session: str, pull: str) -> int:
    known = read(Session, data, _path(session)).pull
    hits = [at for at, one in enumerate(known) if pull in (one.file, one.key)]
    if len(hits) != 1:
        names = ", ".join(one.key or one.file for one in known)
        raise NotFound(f'"{pull}" names no pull of {session}, or several', hint=names)
    return hits[0]


def _path(session: str) -> str:
    return f"dyno/{session}/session.toml"
