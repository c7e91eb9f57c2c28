"""Parts, faults, tightened joints and lists of a ledger, as they stand in its working files."""

from __future__ import annotations

from buildlog.analysis.car.changes import life, origins
from buildlog.analysis.car.history_files import as_one
from buildlog.analysis.car.sheet_book import SheetState
from buildlog.analysis.car.version import Version
from buildlog.analysis.workshop.check_book import (
    ListState,
    left_open,
    newest_lists,
    to_go_on_with,
    worked_since,
)
from buildlog.analysis.workshop.fastener_book import JointState
from buildlog.analysis.workshop.fault_book import FaultState
from buildlog.analysis.workshop.list_fit import fitted, in_us_units
from buildlog.analysis.workshop.partlife import PartLife
from buildlog.desk.snapshot.opening import units_of
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError, NotFound, UsageError
from buildlog.records.car.configuration import Configuration
from buildlog.records.checks import Check, Checklist, ListItem
from buildlog.records.key_words import key_words
from buildlog.records.lists import SHIPPED, shipped
from buildlog.records.paths import Value, field_at, nearest
from buildlog.records.reading import read
from buildlog.store.ledger.names import WORKING
from buildlog.store.ledger.reader import Reader


def faults(book: Snapshot, *, only_open: bool = False) -> list[FaultState]:
    """Every fault, oldest first."""
    from buildlog.analysis.workshop import fault_book

    found = fault_book.faults(book.until_now, book.papers)
    return [one for one in found if one.open or not only_open]


def joints(book: Snapshot) -> list[JointState]:
    """Every tightened joint, oldest first."""
    from buildlog.analysis.workshop import fastener_book

    return fastener_book.joints(book.until_now, book.papers)


def sheets(ledger: Reader) -> list[SheetState]:
    """Every maker's sheet with what was done of it, oldest first."""
    from buildlog.analysis.car import sheet_book
    from buildlog.records.fasteners import JointSheet

    held = {
        path.removeprefix("torque/").removesuffix(".toml"): path
        for path in sorted(ledger.working().files)
        if path.startswith("torque/") and path.endswith(f"{sheet_book.ENDING}.toml")
    }
    known = {n: read(JointSheet, ledger.read(WORKING, path), path) for n, path in held.items()}
    return sorted(sheet_book.sheets(known), key=lambda one: (one.sheet.date, one.name))


def sheet_named(known: list[SheetState], name: str | None) -> SheetState:
    """A sheet by its name, by that of an earlier file of it, or enough to be unique; without a name
    the only one that is not finished."""
    if not known:
        raise NotFound("there is no torque sheet yet", hint="buildlog torque sheet FILE.csv")
    if name is None:
        hits = [one for one in known if not one.done]
    else:
        plain = name.removesuffix(".toml").removesuffix(".sheet")
        named = {plain, plain + ".sheet"}
        exact = [one for one in known if named & set(one.files)]
        dated = [one for one in known if any(f[len("2026-03-14-") :] in named for f in one.files)]
        hits = exact or dated or [one for one in known if plain in one.name]
    if len(hits) != 1:
        names = ", ".join(one.name.removesuffix(".sheet") for one in hits or known[-6:])
        what = "which sheet?" if name is None else f'"{name}" names no sheet or several'
        raise NotFound(what, hint=f"known: {names}")
    return hits[0]


def shown_for_lambda_one(book: Snapshot) -> float | None:
    """What the shop's instrument shows as air-fuel ratio for lambda 1, as the newest session that
    logged one says."""
    for visit in sorted(book.visits, key=lambda one: one.session.date, reverse=True):
        for column in visit.session.column:
            if column.channel == "air_fuel_ratio" and column.display_stoichiometric:
                return column.display_stoichiometric
    return None


def definitions(ledger: Reader) -> dict[str, Checklist]:
    """The lists that fit the car, with the items that do: those of the program, then the shop's
    own, which may replace them."""
    car = _car(ledger)
    every = _every_list(ledger)
    if car is None:
        return every
    fit = {name: fitted(one, car) for name, one in every.items()}
    return {name: one for name, one in fit.items() if one is not None}


def _car(ledger: Reader) -> Configuration | None:
    """The car as its file says; None where that cannot be read: then every list is there."""
    try:
        return read(Configuration, ledger.read(WORKING, "car.toml"), "car.toml")
    except BuildlogError:
        return None


def _every_list(ledger: Reader) -> dict[str, Checklist]:
    us = units_of(ledger) == "us"
    found = {name: in_us_units(shipped(name)) if us else shipped(name) for name in SHIPPED}
    for path in sorted(ledger.working().files):
        if path.startswith("lists/"):
            own = read(Checklist, ledger.read(WORKING, path), path)
            found[own.name] = own
    return found


def definition(ledger: Reader, name: str) -> Checklist:
    """A list by name; NotFound names the nearest."""
    known = definitions(ledger)
    if name not in known:
        of_others = " for this car" if name in _every_list(ledger) else ""
        raise NotFound(f'there is no list "{name}"{of_others}', hint=nearest(name, known))
    return known[name]


def definition_of(ledger: Reader, check: Check) -> Checklist:
    """The list that was gone through; one that is gone speaks for itself."""
    known = _as_gone_through(_every_list(ledger).get(check.list), _car(ledger), check)
    items = tuple(
        ListItem(key=item.key, text=item.text or item.key, critical=item.critical)
        for item in check.item
    )
    title = check.title or check.list
    return known or Checklist(format=1, name=check.list, title=title, item=items)


def _as_gone_through(
    listed: Checklist | None, car: Configuration | None, check: Check
) -> Checklist | None:
    """A list as it fits the car, with whatever it asked on that day."""
    fit = fitted(listed, car) if listed and car else None
    if listed is None or fit is None:
        return listed
    asked = {item.key for item in check.item} | {item.key for item in fit.item}
    return fit.model_copy(update={"item": tuple(i for i in listed.item if i.key in asked)})


def newest_list(ledger: Reader, name: str | None = None) -> ListState:
    """A list as it was gone through last; the last one of all by default."""
    gone_through = _gone_through(ledger)
    if name is None and not gone_through:
        raise NotFound("no list was started yet", hint="buildlog checklist list")
    wanted = name or gone_through[-1][1].list
    for path, check in reversed(gone_through):
        if check.list == wanted:
            return ListState(definition_of(ledger, check), check, path)
    return ListState(definition(ledger, wanted))


def goes_on_with(ledger: Reader, state: ListState) -> list[str]:
    """The items that a recorded list is gone on with; none where it is done, or begun anew: a list
    that has all its answers, and failed, says nothing of a car that was changed since."""
    check = state.check
    found = to_go_on_with(check) if check is not None else []
    if check is None or not found or left_open(check):
        return found
    book = Snapshot(ledger)
    history, name = book.until_now, (state.path or "").removeprefix("checks/")
    done = [one for one in newest_lists(history, book.papers) if f"{one.name}.toml" == name]
    return [] if done and worked_since(history, done[0]) else found


def lists(ledger: Reader) -> list[ListState]:
    """Every list as it was gone through last."""
    latest = {check.list: (check, path) for path, check in _gone_through(ledger)}
    known = definitions(ledger).items()
    return [ListState(one, *latest.get(name, (None, None))) for name, one in known]


def _gone_through(ledger: Reader) -> list[tuple[str, Check]]:
    held = {
        path.removeprefix("checks/").removesuffix(".toml"): read(
            Check, ledger.read(WORKING, path), path
        )
        for path in ledger.working().files
        if path.startswith("checks/")
    }
    found = [(f"checks/{name}.toml", check) for name, check in as_one(held).items()]
    return sorted(found, key=lambda one: (one[1].date, one[1].continues is not None, one[0]))


def since_when(book: Snapshot, version: Version) -> dict[str, Version]:
    """For each path of a version, the version in which it got that value."""
    if version.number:
        return origins(book.history[: version.number])
    return origins([*book.history, version])


def parts_at(book: Snapshot, version: Version) -> list[PartLife]:
    """The parts at a version, with the distance on each."""
    from buildlog.analysis.workshop.partlife import part_at

    return part_at(book.until_now if version.working else book.history, version)


def field_life(book: Snapshot, path: str) -> list[tuple[Version, Value | None]]:
    """Each value that a field has had, with the entry that brought it; none for one that was
    never given. InvalidInput for a name that is no field's."""
    course = life(book.history, path)
    if not course:
        field_at(Configuration, path)  # says what was probably meant
    return course


def assembly_called(name: str) -> str:
    """The assembly of that name, written as in car.toml or as a screen says it ("final drive");
    UsageError names the one probably meant."""
    known = list(Configuration.model_fields)
    said = {key_words(one): one for one in known}
    if name in known or name in said:
        return said.get(name, name)
    raise UsageError(f'there is no assembly "{name}"', hint=nearest(name, known))


def parts_now(book: Snapshot) -> list[PartLife]:
    """The parts in the car as its working files have it, with the distance on each."""
    return parts_at(book, book.working)


def part_lives(book: Snapshot) -> list[PartLife]:
    """Every part that is or was in the car, each as seen at its end or now."""
    from buildlog.analysis.workshop.partlife import lives

    return lives(book.until_now)
