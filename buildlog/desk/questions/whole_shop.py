"""One question to all ledgers of a shop: those below folders, and mirrors of those on servers."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext, suppress
from pathlib import Path
from typing import Any, Self

from buildlog.analysis.answers import shop_tables as answers
from buildlog.analysis.answers.shop_tables import NotReached
from buildlog.analysis.answers.shop_tables import ShopAnswer as ShopAnswer
from buildlog.analysis.workshop.due_book import SOON
from buildlog.desk.questions import dynos, shop_index, shop_readers
from buildlog.desk.questions.shop_index import ShopCar, ShopQuestion
from buildlog.desk.snapshot import settings
from buildlog.desk.snapshot.snapshot import today
from buildlog.errors import BuildlogError, NotFound, in_words
from buildlog.store.disk.index_db import Kept
from buildlog.store.exchange import fleet
from buildlog.units import System

# What is done, in how many steps, and how heavy one is; gives what is to be called as they pass.
Progress = Callable[[str, int, int], AbstractContextManager[Callable[[int], None]]]

Named = tuple[str, dict[str, Any]]  # a car's short name, and its facts

_LIGHT, _HEAVY, _SLOW = 1, 10, 50  # a step: a ledger, a ledger's sheets, a server
_BEHIND = "sync", "the newest entry is on no other computer"
_NO_COPY = "copy", "no copy known"


def ledgers_below(folder: Path) -> list[Path]:
    """The ledgers in or below a folder, by path."""
    return fleet.below([folder])


class WholeShop:
    """All ledgers in or below folders and of a file of git servers' addresses. Close it, or use it
    in a `with`.

    A server has `patience` seconds. NotFound where there is no ledger at all.
    """

    def __init__(
        self,
        folders: Sequence[Path],
        remotes: Path | None = None,
        patience: float = 30.0,
        progress: Progress | None = None,
    ) -> None:
        self.folders = tuple(folders)
        self._progress: Progress = progress or (lambda *_: nullcontext(lambda _: None))
        places, self._unreached = self._places(remotes, patience)
        self.names = [name for name, _ in places]
        self.places = [place for _, place in places]
        self._kept = Kept()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self._kept.close()

    # questions

    def standing(self) -> answers.ShopStanding:
        """Where each car stands, what needs attention first."""
        found, _ = self._standing()
        return answers.ShopStanding(cars=found, **self._beside([]))

    def standing_as_known(self) -> tuple[answers.ShopStanding, list[str]]:
        """The same of the cars that are kept, and the names of those that must be read first."""
        here = dict(zip(self.places, self.names, strict=True))
        cars = shop_index.known(self.places, shop_readers.STANDING, self._kept)
        found = [(here.pop(car.place), self._with_copies(car)) for car in cars]
        return answers.ShopStanding(cars=_by_attention(found), **self._beside([])), [*here.values()]

    def due(self) -> answers.ShopDue:
        """What is due in each car."""
        found, cars = self._standing()
        here = dict(zip(self.names, self.places, strict=True))
        late = (
            here[name]
            for name, facts in found
            if not facts.get("problem") and answers.pressing(facts)
        )
        first = next((place for place in late if (place / "car.toml").exists()), None)
        return answers.ShopDue(cars=found, late=first, **self._beside(cars))

    def find(self, argument: str) -> answers.ShopFound:
        """Who has, or ever had, a part or a value: "PATH=VALUE"."""
        from buildlog.analysis.answers.shop_facts import sought

        wanted = sought(argument)
        hits, read, cars = [], 0, self._cars(shop_readers.SPANS)
        for folder, car in zip(self.names, cars, strict=True):
            if car.facts is None:
                continue
            read += 1
            name = next((s["text"] for s in reversed(car.facts) if s["path"] == "car.name"), folder)
            hits += [(folder, name, span) for span in car.facts if wanted.fits(span)]
        return answers.ShopFound(
            argument=argument, hits=tuple(hits), searched=read, **self._beside(cars)
        )

    def gains(self) -> answers.ShopGains:
        """What each kind of change gave, measured, each ledger counted once."""
        asked = shop_readers.gains(dynos.shop_repeats(self._kept))
        stages, left_out, cars = [], [], self._cars(asked, _HEAVY)
        for folder, car in self._each_once(cars):
            stages += [(folder, stage) for stage in car.facts["gains"]]
            gone = car.facts["left_out"]
            left_out += [f"{folder}, {one['name']}: {one['problem']}" for one in gone]
        return answers.ShopGains(
            table=tuple(answers.gains_table(stages)),
            stages=tuple(stages),
            left_out=tuple(left_out),
            **self._beside(cars),
        )

    def faults(self) -> answers.ShopFaults:
        """Faults by part number, each ledger counted once."""
        cars = self._cars(shop_readers.FAULTS)
        table = answers.faults_table(
            (folder, fault)
            for folder, car in self._each_once(cars)
            for fault in car.facts["faults"]
        )
        return answers.ShopFaults(table=tuple(table), **self._beside(cars))

    def units(self, asked: str | None = None, odometers: Sequence[str | None] = ()) -> System:
        """The units of an answer: as asked for, as the user set, else as these cars' odometers, or
        those of the shop's first cars, were written."""
        return settings.shown_in(asked, odometers or self._kept_odometers())

    # inside

    def _standing(self) -> tuple[tuple[Named, ...], list[ShopCar]]:
        cars = self._cars(shop_readers.STANDING)
        found = [(name, self._with_copies(car)) for name, car in zip(self.names, cars, strict=True)]
        return _by_attention(found), cars

    def _cars(self, what: ShopQuestion, weight: int = _LIGHT) -> list[ShopCar]:
        with self._progress("reading the ledgers", len(self.places), weight) as told:
            found = shop_index.cars(self.places, what, self._kept, told)
        for car in found:
            if car.problem:
                fleet.forget(car.place)
        return found

    def _each_once(self, cars: Sequence[ShopCar]) -> Iterator[tuple[str, ShopCar]]:
        for folder, car in zip(self.names, shop_index.each_once(cars), strict=True):
            if car is not None:
                yield folder, car

    def _with_copies(self, car: ShopCar) -> dict[str, Any]:
        """A car's facts, with what is due because no other copy holds its newest entry."""
        if car.facts is None:
            return {"problem": car.problem, "name": None, "due": [], "holds_up": []}
        facts: dict[str, Any] = dict(car.facts)
        facts["due"] = [one for one in facts["due"] if _is_now(one)]
        held = fleet.is_mirror(car.place) or shop_index.on_another_copy(car, self._kept)
        if not held:
            code, what = _NO_COPY if held is None else _BEHIND
            item = {"code": code, "what": what, "left": None, "since": facts["date"]}
            facts["due"] = [*facts["due"], item]
        return facts

    def _beside(self, cars: Sequence[ShopCar]) -> dict[str, Any]:
        """What stands beside an answer; cars that could not be read have told so where they are
        named one by one."""
        named = zip(self.names, cars, strict=False)
        unread = tuple((name, car.problem) for name, car in named if car.problem)
        return {"folders": self.folders, "unread": unread, "unreached": self._unreached}

    def _kept_odometers(self) -> Iterator[str | None]:
        """Of the first of three ledgers that can be read, newest first."""
        from buildlog.store.ledger.ledger import Ledger

        found: list[str | None] = []
        for place in self.places[:3]:
            with suppress(BuildlogError), Ledger.open(place) as ledger:
                found = [entry.odometer for entry in reversed(ledger.entries())]
                break
        yield from found

    def _places(
        self, remotes: Path | None, patience: float
    ) -> tuple[list[tuple[str, Path]], tuple[NotReached, ...]]:
        """Every ledger with a short name for it, and the servers that were not reached."""
        found = fleet.below(self.folders)
        named = list(zip(_short(found), found, strict=True))
        fetched = self._fetched(remotes, patience) if remotes is not None else []
        named += [(one.remote.name, one.mirror) for one in fetched if one.mirror]
        unreached = tuple(
            NotReached(one.remote.name, one.problem, one.mirror is not None)
            for one in fetched
            if one.problem
        )
        if not named and not unreached:
            where = ", ".join(map(str, self.folders))
            raise NotFound(f"no ledger lies in {where}", hint="name the folder that holds the cars")
        return named, unreached

    def _fetched(self, remotes: Path, patience: float) -> list[fleet.Fetched]:
        try:
            wanted = fleet.remotes(remotes.read_text("utf-8"), str(remotes))
        except (OSError, UnicodeDecodeError) as error:
            why = in_words(error)
            raise NotFound(f"{remotes} cannot be read: {why}", hint="look at --remote") from None
        with self._progress("fetching", len(wanted), _SLOW) as told:
            return fleet.fetch_all(wanted, patience, lambda _: told(1))


def _by_attention(found: Sequence[Named]) -> tuple[Named, ...]:
    return tuple(sorted(found, key=lambda one: (answers.attention(one[1]), one[0])))


def _is_now(item: dict[str, Any]) -> bool:
    """Whether a thing that comes again is due within a month; whatever else is due, is."""
    if item["code"] != "due":
        return True
    ahead = (today() + dt.timedelta(days=SOON)).isoformat()
    late = item["left"] is not None and item["left"] <= 0
    return bool(late or item["over"] or (item["on"] is not None and item["on"] <= ahead))


def _short(places: Sequence[Path]) -> list[str]:
    """Paths below the folder that they share, so that two of one name are told apart."""
    if len(places) < 2:
        return [place.name for place in places]
    base = os.path.commonpath([str(place) for place in places])
    return [os.path.relpath(place, base) for place in places]
