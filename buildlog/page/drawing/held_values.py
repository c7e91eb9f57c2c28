"""What a place of a working file holds, as the act that changes it has to know it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.desk.acts.acting_once import held_at
from buildlog.desk.acts.car_fields import CAR, place_of

if TYPE_CHECKING:
    from buildlog.desk.acts.acting_once import Place
    from buildlog.desk.snapshot.snapshot import Snapshot


def held(book: Snapshot, path: str, *places: Place) -> str:
    """ "" where the file is not there yet, or holds nothing at the place."""
    return held_at(book.ledger, path, *places)


def field_held(book: Snapshot, path: str) -> str:
    """The same of a field of the car."""
    return held(book, CAR, place_of(path))
