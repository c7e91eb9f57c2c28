"""What can be opened: a ledger, a handover as it came, all the cars of a shop."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from buildlog.desk.opened_car import OpenedCar
from buildlog.desk.views.view import Forms, View
from buildlog.errors import BuildlogError, NotFound
from buildlog.findings import Finding, how_many

if TYPE_CHECKING:
    from buildlog.desk.questions.whole_shop import ShopAnswer, WholeShop
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.desk.views.workshop_views import ShopView
    from buildlog.units import System

T = TypeVar("T")


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


class Shop(View):
    """The ledgers below some folders, by path; nothing is opened before it is asked for.

    `for car in shop` opens one car after the other and closes each before the next, so that a
    shop of any size fits in memory. A car that cannot be read is a finding, not the end: after
    the loop `findings` names each with the reason.
    """

    def __init__(self, folders: tuple[Path, ...], units: System | None) -> None:
        from buildlog.desk.questions.whole_shop import WholeShop

        with WholeShop(folders) as shop:
            self.places = tuple(shop.places)
            """The folders of the ledgers."""
        self._folders = folders
        self._asked_units = units
        self._findings: dict[Path, Finding] = {}

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Cars that could not be read, or not answer, when they were last asked."""
        return tuple(self._findings[place] for place in self.places if place in self._findings)

    def __len__(self) -> int:
        return len(self.places)

    def __iter__(self) -> Iterator[OpenedCar]:
        for place in self.places:
            self._findings.pop(place, None)
            car = self._opened(place)
            if car is not None:
                with car:
                    yield car

    def ask(self, question: Callable[[OpenedCar], T]) -> Iterator[tuple[str, T]]:
        """One question to every car: its name and the answer; one that cannot answer is a finding.

        An answer that outlives its car must hold what it needs: figures, frames, texts.
        """
        for car in self:
            try:
                answer = car.name, question(car)
            except BuildlogError as error:
                self._note(car.place, error)
            else:
                yield answer

    def _opened(self, place: Path) -> OpenedCar | None:
        car = None
        try:
            car = open_place(place, units=self._asked_units)
            _ = car.name  # its whole history, and the newest configuration
        except BuildlogError as error:
            self._note(place, error)
            if car is not None:
                car.close()
            return None
        return car

    def _note(self, place: Path, error: BuildlogError) -> None:
        text = f"{place.name} could not be read: {error.what}"
        self._findings[place] = Finding("unread", "error", text, (), str(place), error.hint)

    # questions to all of them at once

    def due(self) -> ShopView:
        """What is due in each car: `buildlog shop list --due`."""
        return self._answered(lambda shop: shop.due())

    def find(self, argument: str) -> ShopView:
        """Who has, or ever had, a part or a value: `find("engine.camshaft.number=C-270")`."""
        return self._answered(lambda shop: shop.find(argument))

    def gains(self) -> ShopView:
        """What each kind of change gave, measured, with its spread."""
        return self._answered(lambda shop: shop.gains())

    def faults(self) -> ShopView:
        """Faults by part number, with the distance at failure."""
        return self._answered(lambda shop: shop.faults())

    def _answered(self, question: Callable[[WholeShop], ShopAnswer]) -> ShopView:
        from buildlog.desk.questions.whole_shop import WholeShop
        from buildlog.desk.views.workshop_views import ShopView

        with WholeShop(self._folders) as shop:
            found = question(shop)
            return ShopView(found, shop.units(self._asked_units, found.odometers))

    def _forms(self) -> Forms:
        return self._answered(lambda shop: shop.standing())._forms()

    def __repr__(self) -> str:
        unread = f", {len(self._findings)} could not be read" if self._findings else ""
        return f"<shop of {how_many(len(self), 'car')}{unread}>"


def open_shop(*folders: str | os.PathLike[str], units: System | None = None) -> Shop:
    """All the cars below these folders. NotFound where there is none."""
    return Shop(tuple(map(Path, folders)), units)
