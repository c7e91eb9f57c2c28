"""What can be opened: a ledger's folder, or a handover as it came."""

from __future__ import annotations

import os
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.desk.opened_car import OpenedCar
from buildlog.errors import NotFound

if TYPE_CHECKING:
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.units import System


def open_place(place: str | os.PathLike[str], *, units: System | None = None) -> OpenedCar:
    """Open a car to ask it: a ledger's folder, a bundle, a handover package (zip or folder).

    A bundle or a package is verified as it is opened, in a temporary folder that is gone when
    the car is closed: its `.verdict` says what came out. `units` ("us", "metric") are those of
    texts and figures; without it, the user's or the author's. NotFound where there is nothing,
    DamagedLedger where nothing can be read.
    """
    from buildlog.desk.questions.verifying import is_handover

    path = Path(place)
    if not path.exists():
        raise NotFound(f"{path} does not exist", hint="name a ledger's folder or a handover")
    return _handover(path.absolute(), units) if is_handover(path) else _folder(path, units)


def _folder(path: Path, units: System | None, known: Snapshot | None = None) -> OpenedCar:
    from buildlog.desk.snapshot import opening
    from buildlog.desk.snapshot.snapshot import Snapshot

    reader = opening.reader(path)
    again = partial(_folder, reader.folder, units)
    return OpenedCar(Snapshot(reader, known=known), reader.folder, units, again)


def _handover(path: Path, units: System | None, known: Snapshot | None = None) -> OpenedCar:
    from buildlog.desk.questions.verifying import Unpacked
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.store.ledger.reader import Reader

    unpacked = Unpacked(path)
    book = Snapshot(Reader.open(unpacked.folder), known=known)
    return OpenedCar(book, path, units, partial(_handover, path, units), unpacked)
