"""What is known of the shop's dynos: how two of them read one car, how each differs over days."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from typing import Any

from buildlog.analysis.pulls.measured import Relation
from buildlog.analysis.pulls.relate import (
    ANOTHER_DAY,
    RepeatGroups,
    Side,
    day_spread,
    dyno_id,
    relate,
    repeat_visits,
)
from buildlog.desk.questions import shop_index
from buildlog.desk.questions.shop_index import Facts, ShopQuestion
from buildlog.desk.snapshot import settings
from buildlog.desk.snapshot.record_cache import shared
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError, NotFound, UsageError
from buildlog.physics.numerics.between_days import RepeatVisit, stated_days
from buildlog.physics.numerics.repeatability import DifferenceSource, Scatter
from buildlog.store.disk.index_db import Kept, folder

_REPEATS = "the shop's repeat visits"


def relation(
    book: Snapshot, first: str, second: str, standard: str | None = None
) -> Relation | None:
    """How two machines read the same car, from the sessions of this ledger."""
    days = another_day(book, first), another_day(book, second)
    return relate(book.visits, first, second, _side_of(book, standard), days)


def related(book: Snapshot, first: str, second: str, standard: str | None = None) -> Relation:
    """The same for two machines that a person names; NotFound says what there is instead."""
    _refuse_unknown(book, first, second)
    found = relation(book, first, second, standard)
    if found is None:
        raise NotFound(
            f"no configuration of this car was measured on both {first} and {second}",
            why="a part that moves power changed between every two of their sessions, so "
            "comparisons keep the default of 5 % (common practice)",
            hint="measure the car as it stands on both, or name with configuration = in "
            "session.toml what was measured",
        )
    return found


def _refuse_unknown(book: Snapshot, *names: str) -> None:
    """NotFound for a machine that no session names, UsageError for one with itself."""
    known = _ids(book)
    for name in names:
        if name not in known:
            raise NotFound(
                f'no session was on a dyno called "{name}"',
                hint=f"known: {', '.join(known) or 'none: write id in [dyno]'}",
            )
    if names[0] == names[1]:
        raise UsageError("a machine is not related to itself", hint="name two machines")


def _ids(book: Snapshot) -> list[str]:
    return sorted({one for visit in book.visits if (one := dyno_id(visit)) is not None})


def another_day(book: Snapshot, dyno: str | None) -> DifferenceSource:
    """How much a dyno differs from day to day: as priors.toml states it, else as repeat visits of
    this car and of the shop's others tell, else what is usual. One figure by every standard."""
    return book.once(("another day", dyno), lambda: _another_day(book, dyno))


def _another_day(book: Snapshot, dyno: str | None) -> DifferenceSource:
    try:
        own = book.priors["another_day"]
    except BuildlogError:  # a broken priors.toml must not hide what was measured
        return ANOTHER_DAY
    if own.own:
        return stated_days(own.quantile(0.5), own.source)
    if dyno is None:
        return ANOTHER_DAY
    here = repeat_visits(book.visits, dyno, _side_of(book, None))
    others = [
        _read_back(facts[dyno])
        for ledger, facts in shop_repeats_of(book).items()
        if ledger != book.ledger.id and dyno in facts
    ]
    known = day_spread(here, others)
    return known.source if known else ANOTHER_DAY


def _side_of(book: Snapshot, standard: str | None) -> Callable[[str, str | None], Side | None]:
    """What gives the sheet and the group of a session by its name and calibration."""

    def side(name: str, calibration: str | None) -> Side | None:
        try:
            sheet = book.sheet(name, standard)
        except BuildlogError:
            return None
        group = sheet.group(calibration)
        return (sheet, group) if group else None

    return side


# The shop's other cars


def shop_repeats_of(book: Snapshot) -> Mapping[str, Facts]:
    """The repeat visits of the shop's cars by ledger and dyno, as the settings name the shop; who
    writes is not answered from the index."""
    kept = shared(folder()) if book.ledger.recalls else Kept.nothing()
    return book.once(_REPEATS, lambda: shop_repeats(kept))


def take(book: Snapshot, repeats: Mapping[str, Facts]) -> None:
    """Use the shop's repeat visits that were read already."""
    book.once(_REPEATS, lambda: repeats)


def shop_repeats(kept: Kept) -> dict[str, Facts]:
    """The repeat visits of every car of the shop, by ledger; a car that cannot be read, and a shop
    that is not there, tell nothing."""
    shop = settings.shop_folder()
    try:
        places = shop_index.ledgers_in(shop) if shop else []
    except NotFound:
        return {}
    found = shop_index.each_once(shop_index.cars(places, REPEATS, kept))
    return {car.facts["id"]: car.facts["dynos"] for car in found if car and car.facts["dynos"]}


def _repeats(book: Snapshot, kept: Kept) -> Facts:
    side = _side_of(book, None)
    told = {dyno: repeat_visits(book.visits, dyno, side) for dyno in _ids(book)}
    return {
        "id": book.ledger.id,
        "dynos": {dyno: asdict(one) for dyno, one in told.items() if one.groups},
    }


REPEATS = ShopQuestion("repeat visits", _repeats)


def _read_back(facts: Any) -> RepeatGroups:
    """From what JSON kept of it."""
    groups = tuple(tuple(RepeatVisit(**visit) for visit in group) for group in facts["groups"])
    return RepeatGroups(groups, Scatter(**facts["scatter"]) if facts["scatter"] else None)
