"""Carried-out lists in the working files: begun, ticked item by item, each tick on the disk."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from buildlog.analysis.car.written import RecordWith
from buildlog.analysis.workshop.check_book import ItemAsked as ItemAsked
from buildlog.analysis.workshop.check_book import ListWritten as ListWritten
from buildlog.analysis.workshop.check_book import counted, inside, one_each, with_unit
from buildlog.desk.acts import filing, working_files
from buildlog.desk.acts.acting_once import held_at
from buildlog.desk.questions.day_books import definition, definition_of
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError, InvalidInput, NotFound, UsageError
from buildlog.records.checks import Check, Checklist, ListItem
from buildlog.records.checks import CheckedItem as CheckedItem
from buildlog.records.paths import nearest
from buildlog.records.reading import read
from buildlog.records.toml import toml_edit
from buildlog.records.toml.toml_place import Place
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import WORKING
from buildlog.store.ledger.reader import Reader
from buildlog.units import DIMENSIONS, parse

_OF_A_BLANK = ("key", "text", "critical", "result", "low", "high", "source")
_ANSWER = ("result", "value", "values", "codes", "note", "photo")
_OPEN = '{"result": "not-done"}'
_SHORT = {"p": "pass", "f": "fail", "n": "not-applicable"}


@dataclass(frozen=True)
class ItemFound:
    """What was found for an item; without a `result` it follows from value and limits."""

    result: str | None = None
    values: Sequence[str] = ()
    codes: Iterable[str] = ()
    note: str | None = None
    photo: str | None = None
    alone: bool = False  # value, note and photo without an answer: the item stays as it is


@dataclass(frozen=True)
class _Held:
    """A list's file as it was read, and what the list asks for."""

    path: str
    data: bytes
    check: Check
    definition: Checklist

    def written(self, item: CheckedItem | None = None) -> ListWritten:
        title = self.check.title or self.check.list
        meant = RecordWith(title, kind="check")
        return ListWritten((self.path,), meant, self.definition, self.check, item)


def item_place(key: str) -> Place:
    """Where the answer to an item stands in a list's file."""
    return ("item", {"key": key}, _ANSWER)


def item_held(ledger: Reader, path: str | None, key: str) -> str:
    """What an item of a list's file was answered, as an act that changes it has to know it; of a
    list that is not begun, what it will hold when it is."""
    return held_at(ledger, path, item_place(key)) if path else _OPEN


class Person(Protocol):
    """Who goes through a list at the car, item by item."""

    def begun(self, written: ListWritten) -> None:
        """Hear which list it is, before its first item."""

    def ask(self, one: ItemAsked, refused: BuildlogError | None) -> str | None:
        """An answer like "p", "f smells of fuel", "43.5", "172 168 171"; "" leaves the item for
        later, None stops. `refused` is why the answer before could not be taken."""

    def tell(self, item: CheckedItem) -> None:
        """Hear what was written."""


def begin(
    ledger: Ledger,
    name: str,
    *,
    odometer: str | None = None,
    on: dt.date | None = None,
    note: str | None = None,
    by: str | None = None,
    person: Person | None = None,
) -> ListWritten:
    """Begin a list: a file with all its items not done; gone through by a person, if there is."""
    wanted = definition(ledger, name)
    for held in _unrecorded(ledger, name):
        if any(item.result == "not-done" for item in held.check.item):
            raise InvalidInput(
                f"{name} of {held.check.date} is begun and not finished",
                hint=f"buildlog checklist tick --list {name}, or delete {held.path}",
            )
    book, day = Snapshot(ledger), filing.day(on)
    table = book.working.configuration.calibration
    fields: dict[str, Any] = {
        "list": name,
        "title": wanted.title,
        "date": day,
        "odometer": filing.odometer(book, odometer),
        "before": wanted.before,
        "calibration": table.id if table else None,
        "note": note,
    }
    items = [_blank(item) for item in wanted.item]
    path, _ = filing.add(ledger, ("checks", f"{day}-{name}"), Check, fields, "item", items)
    return _gone_through(ledger, _held(ledger, path), person, by)


def begun(ledger: Ledger, name: str) -> str | None:
    """The path of the list of this name that is being gone through; None where none is."""
    found = _unrecorded(ledger, name)
    open_ = [one for one in found if counted(one.check)[0] < counted(one.check)[1]]
    return (open_ or found)[-1].path if found else None


def tick(
    ledger: Ledger,
    key: str | None = None,
    found: ItemFound | None = None,
    *,
    name: str | None = None,
    by: str | None = None,
    on: dt.date | None = None,
    person: Person | None = None,
) -> ListWritten:
    """Write down what was found for one item, of the list `name` where several are begun.

    Without an item the person is asked for all that are left.
    """
    held = _current(ledger, name, key)
    if key is None and person is None:
        raise UsageError("which item?", hint="buildlog checklist tick KEY --result pass")
    if key is None:
        return _gone_through(ledger, held, person, by)
    held, item = _ticked(ledger, held, key, found or ItemFound(), by, on)
    return held.written(item)


def _gone_through(
    ledger: Ledger, held: _Held, person: Person | None, by: str | None
) -> ListWritten:
    """A person asked for each item without a result; each answer is on the disk at once."""
    if person is None:
        return held.written()
    person.begun(held.written())
    left = [item.key for item in held.check.item if item.result == "not-done"]
    for number, key in enumerate(left, start=1):
        question = ItemAsked(_item(held, key)[1], _asked(held, key), number, len(left))
        refused: BuildlogError | None = None
        while answer := person.ask(question, refused):
            try:
                meant = _meant(question.asked, answer)
                held, item = _ticked(ledger, held, key, meant, by, None)
            except BuildlogError as error:
                refused = error
            else:
                person.tell(item)
                break
        if answer is None:
            break
    return held.written()


def _unrecorded(ledger: Ledger, name: str | None) -> list[_Held]:
    """The lists of this name, else all, that are not recorded yet."""
    known = (_held(ledger, f"checks/{one}.toml") for one in filing.unrecorded(ledger, "checks"))
    return [held for held in known if name in (None, held.check.list)]


def _held(ledger: Ledger, path: str) -> _Held:
    data = ledger.read(WORKING, path)
    check = read(Check, data, path)
    return _Held(path, data, check, definition_of(ledger, check))


def _current(ledger: Ledger, name: str | None, key: str | None = None) -> _Held:
    """The list that is being gone through, where several are the one that asks for `key`."""
    found = _unrecorded(ledger, name)
    begun = [held for held in found if counted(held.check)[0] < counted(held.check)[1]]
    chosen = begun if len(begun) == 1 else found
    if len(chosen) > 1 and key is not None:
        asking = [held for held in begun if key in {item.key for item in held.check.item}]
        chosen = asking if len(asking) == 1 else chosen
    if len(chosen) == 1:
        return chosen[0]
    if not found:
        which = name or "LIST"
        raise NotFound("no list is begun", hint=f"buildlog checklist start {which}")
    lists = ", ".join(held.check.list for held in chosen)
    raise NotFound("several lists are begun", hint=f"--list with one of {lists}")


def _ticked(
    ledger: Ledger, held: _Held, key: str, found: ItemFound, by: str | None, on: dt.date | None
) -> tuple[_Held, CheckedItem]:
    """The list with one item's result, in its file and here."""
    place, item = _item(held, key)
    fields = _fields(item, _asked(held, key), found, filing.who(by), filing.day(on))
    given = {f"item.{place}.{name}": v for name, v in fields.items() if v not in (None, [], "")}

    def edit(data: bytes) -> bytes:
        data = toml_edit.set_values(data, given)
        filing.refuse_invalid(Check, data, held.path)
        return data

    _, data = working_files.change(ledger, held.path, edit, held.data, [item_place(key)])
    check = read(Check, data, held.path)
    return _Held(held.path, data, check, held.definition), check.item[place]


def _fields(
    item: CheckedItem, asked: ListItem, found: ItemFound, by: str | None, day: dt.date
) -> dict[str, Any]:
    """The fields of a result, in the order in which they stand in the file."""
    written = _written(found.values, asked)
    codes = [filing.trouble_code(code).text for code in found.codes]
    answer: dict[str, Any] = {}
    if not found.alone:
        answer = {"result": found.result or _result(written, item, codes), "by": by, "at": day}
    fields = answer | {"note": found.note, "codes": codes, "photo": found.photo}
    many = asked.per_cylinder or len(written) > 1
    return fields | ({"values": written} if many else {"value": written[0] if written else None})


def _meant(asked: ListItem, text: str) -> ItemFound:
    """One line as it is typed at the terminal."""
    word, _, rest = text.partition(" ")
    if word in _SHORT:
        return ItemFound(_SHORT[word], note=rest.strip() or None)
    if asked.codes:
        return ItemFound(codes=text.replace(",", " ").split())
    if asked.value:
        return ItemFound(values=[text])
    raise InvalidInput("this item has no value", hint="p, f or n, and a note behind it")


def _blank(item: ListItem) -> dict[str, Any]:
    held = {**item.model_dump(), "result": "not-done"}
    return {name: held[name] or None for name in _OF_A_BLANK}


def _item(held: _Held, key: str) -> tuple[int, CheckedItem]:
    for place, item in enumerate(held.check.item):
        if item.key == key:
            return place, item
    keys = [item.key for item in held.check.item]
    raise NotFound(f'{held.check.list} has no item "{key}"', hint=nearest(key, keys))


def _asked(held: _Held, key: str) -> ListItem:
    known = {item.key: item for item in held.definition.item}
    return known.get(key) or ListItem(key=key, text=key, value=True)


def _written(values: Sequence[str], asked: ListItem) -> list[str]:
    """The values as they are written down, each with its unit; InvalidInput for another unit."""
    apart = [one for text in values for one in (one_each(text) if asked.per_cylinder else [text])]
    written = [with_unit(text, asked.unit) for text in apart]
    if asked.unit is None:
        return written
    try:
        wanted = parse(f"1 {asked.unit}", DIMENSIONS).dimension
    except InvalidInput:
        return written  # a shop's own unit, which is not known here
    for text in written:
        parse(text, (wanted,))
    return written


def _result(values: Sequence[str], item: CheckedItem, codes: Sequence[str]) -> str:
    if codes:
        return "fail"
    if not values:
        raise InvalidInput(
            "what was found?", hint="--value, or --result pass, fail or not-applicable"
        )
    fits = inside(values, item.low, item.high)
    if fits is None and (item.low or item.high):
        raise InvalidInput(
            f"{', '.join(values)} cannot be set against {item.low or '-'} to {item.high or '-'}",
            hint="give the value with its unit, or say --result",
        )
    return "fail" if fits is False else "pass"
