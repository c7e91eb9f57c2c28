"""Carried-out lists in the working files: begun, ticked item by item, each tick on the disk."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from buildlog.analysis.car.written import RecordWith
from buildlog.analysis.workshop.check_book import ItemAsked as ItemAsked
from buildlog.analysis.workshop.check_book import (
    ListState,
    counted,
    inside,
    one_each,
    to_go_on_with,
)
from buildlog.analysis.workshop.check_book import ListWritten as ListWritten
from buildlog.analysis.workshop.spoken_values import Spoken, is_lambda, said_together, taken
from buildlog.desk.acts import filing, working_files
from buildlog.desk.acts.acting_once import held_at
from buildlog.desk.questions import day_books
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
from buildlog.units import DIMENSIONS, parse, spellings

_OF_A_BLANK = ("key", "text", "critical", "result", "low", "high", "source")
_ANSWER = ("result", "value", "values", "codes", "note", "photo", "spoken", "fault")
_OPEN = '{"result": "not-done"}'
# What is typed for a result; the longer ones first.
_WORDS = {
    "does not apply": "not-applicable", "not applicable": "not-applicable", "n/a": "not-applicable",
    "na": "not-applicable", "n": "not-applicable", "not done": "not-done", "done": "pass",
    "pass": "pass", "ok": "pass", "p": "pass", "fault": "fault", "fail": "fail", "f": "fail",
}  # fmt: skip
_ENDS = ("", " ", ",", ":", ";", ".")  # what may stand behind such a word; "P-2" is a value
_NO_CODES = {"none", "no", "no codes", "none stored", "nothing stored", "clear", "0"}


@dataclass(frozen=True)
class ItemFound:
    """What was found for an item; without a `result` it follows from value and limits.

    `fault` says what is wrong where that opens a fault when the list is recorded; "" that the note
    does, else the item's own words.
    """

    result: str | None = None
    values: Sequence[str] = ()
    codes: Iterable[str] = ()
    note: str | None = None
    photo: str | None = None
    alone: bool = False  # value, note and photo without an answer: the item stays as it is
    fault: str | None = None


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
    list that is not begun, or that is recorded and gone on with, what it will hold then."""
    new = {f"checks/{name}.toml" for name in filing.unrecorded(ledger, "checks")}
    return held_at(ledger, path, item_place(key)) if path in new else _OPEN


class Person(Protocol):
    """Who goes through a list at the car, item by item."""

    def begun(self, written: ListWritten) -> None:
        """Hear which list it is, before its first item."""

    def ask(self, one: ItemAsked, refused: BuildlogError | None) -> str | None:
        """An answer like "done", "fault smells of fuel", "43.5", "14.5 AFR", "172 168 171"; ""
        leaves the item for later, None stops. `refused` is why the one before was not taken."""

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
                hint=f"buildlog checklist tick --list {name}, or buildlog discard {held.path}",
            )
    fields = _head(ledger, wanted, odometer, on, note)
    items = [_blank(item) for item in wanted.item]
    path, _ = filing.add(
        ledger, ("checks", f"{fields['date']}-{name}"), Check, fields, "item", items
    )
    return _gone_through(ledger, _held(ledger, path), person, by)


def begun(ledger: Ledger, name: str) -> str | None:
    """The path of the list of this name that is being gone through; None where none is."""
    found = _unrecorded(ledger, name)
    open_ = [one for one in found if counted(one.check)[0] < counted(one.check)[1]]
    return (open_ or found)[-1].path if found else None


def go_on(ledger: Ledger, name: str) -> str:
    """The path of the list of this name that is being gone through: the one that is begun, a file
    that goes on with one recorded half done, else a new one."""
    if (path := begun(ledger, name)) is not None:
        return path
    with working_files.beside_the_act(ledger):
        half = _half_done(ledger, name, None)
        return _gone_on_with(ledger, half).path if half else begin(ledger, name).paths[0]


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
    if len(chosen) == 1 and (begun or key is None or name):
        return chosen[0]
    if not begun and (half := _half_done(ledger, name, key)):
        return _gone_on_with(ledger, half)
    if len(chosen) == 1:
        return chosen[0]
    if not found:
        which = name or "LIST"
        raise NotFound("no list is begun", hint=f"buildlog checklist start {which}")
    lists = ", ".join(held.check.list for held in chosen)
    raise NotFound("several lists are begun", hint=f"--list with one of {lists}")


def _half_done(ledger: Ledger, name: str | None, key: str | None) -> list[ListState]:
    """The recorded lists that can be gone on with, those alone that ask for `key`."""
    return [
        state for state in day_books.lists(ledger)
        if state.check is not None and name in (None, state.check.list)
        and (keys := day_books.goes_on_with(ledger, state)) and key in (None, *keys)
    ]  # fmt: skip


def _gone_on_with(ledger: Ledger, half: Sequence[ListState]) -> _Held:
    """A file that goes on with a recorded list: the items that are left or failed, and no other."""
    if len(half) != 1:
        lists = ", ".join(one.definition.name for one in half)
        raise NotFound("several lists are half done", hint=f"--list with one of {lists}")
    state = half[0]
    check, known = state.check, {item.key: item for item in state.definition.item}
    assert check is not None
    again = to_go_on_with(check)
    left = [known.get(item.key) or ListItem(key=item.key, text=item.text or item.key)
            for item in check.item if item.key in again]  # fmt: skip
    fields = _head(ledger, state.definition, None, None, None) | {"continues": state.path}
    stem = f"{fields['date']}-{check.list}"
    with working_files.beside_the_act(ledger):
        path, _ = filing.add(ledger, ("checks", stem), Check, fields, "item", [*map(_blank, left)])
    return _held(ledger, path)


def _head(
    ledger: Ledger, wanted: Checklist, odometer: str | None, on: dt.date | None, note: str | None
) -> dict[str, Any]:
    """What stands above the items of a list that is begun."""
    book = Snapshot(ledger)
    table = book.working.configuration.calibration
    return {
        "list": wanted.name,
        "title": wanted.title,
        "date": filing.day(on),
        "odometer": filing.odometer(book, odometer),
        "before": wanted.before,
        "calibration": table.id if table else None,
        "note": note,
    }


def _ticked(
    ledger: Ledger, held: _Held, key: str, found: ItemFound, by: str | None, on: dt.date | None
) -> tuple[_Held, CheckedItem]:
    """The list with one item's result, in its file and here."""
    place, item = _item(held, key)
    asked = _asked(held, key)
    spoken = _spoken(ledger, asked, found.values)
    fields = _fields(item, asked, found, spoken, filing.who(by), filing.day(on))
    given = {f"item.{place}.{name}": v for name, v in fields.items() if v not in (None, [], "")}

    # What was said of the answer before goes with it.
    stale = {"fault": not found.alone, "spoken": bool(found.values)}
    gone = [name for name, so in stale.items() if so and not fields[name]]

    def edit(data: bytes) -> bytes:
        data = toml_edit.set_values(data, given)
        for name in gone:
            if toml_edit.value_of(data, ("item", place, name)) is not None:
                data = toml_edit.delete(data, f"item.{place}.{name}")
        filing.refuse_invalid(Check, data, held.path)
        return data

    _, data = working_files.change(ledger, held.path, edit, held.data, [item_place(key)])
    check = read(Check, data, held.path)
    return _Held(held.path, data, check, held.definition), check.item[place]


def _fields(
    item: CheckedItem, asked: ListItem, found: ItemFound, spoken: Sequence[Spoken],
    by: str | None, day: dt.date,
) -> dict[str, Any]:  # fmt: skip
    """The fields of a result, in the order in which they stand in the file."""
    written = [one.value for one in spoken]
    codes = [filing.trouble_code(code).text for code in found.codes]
    answer: dict[str, Any] = {}
    if not found.alone:
        result = found.result or ("fail" if found.fault else _result(written, item, codes))
        answer = {"result": result, "by": by, "at": day}
    fault = found.fault
    if fault == "":
        fault = found.note or item.text or asked.text
    fields = answer | {"note": found.note, "codes": codes, "photo": found.photo,
                       "spoken": said_together(spoken), "fault": fault}  # fmt: skip
    many = asked.per_cylinder or len(written) > 1
    return fields | ({"values": written} if many else {"value": written[0] if written else None})


def _meant(asked: ListItem, text: str) -> ItemFound:
    """One line as it is typed at the terminal."""
    for word, result in _WORDS.items():
        plain = text[: len(word)].casefold()
        if plain == word and text[len(word) : len(word) + 1] in _ENDS:
            rest = text[len(word) :].strip(" :,") or None
            if result == "fault":
                return ItemFound("fail", fault=rest or "")
            return ItemFound(result, note=rest)
    if asked.codes and text.casefold().strip(" .") in _NO_CODES:
        return ItemFound("pass")
    if asked.codes:
        return ItemFound(codes=text.replace(",", " ").split())
    if asked.value:
        return ItemFound(values=[text])
    raise InvalidInput("this item has no value",
                       hint="done, fault WHAT or n, and a note behind it")  # fmt: skip


def _blank(item: ListItem) -> dict[str, Any]:
    held = {**item.model_dump(), "result": "not-done"}
    return {name: held[name] or None for name in _OF_A_BLANK}


def _item(held: _Held, key: str) -> tuple[int, CheckedItem]:
    for place, item in enumerate(held.check.item):
        if item.key == key:
            return place, item
    if any(item.key == key for item in held.definition.item):
        raise InvalidInput(
            f"{key} was answered in the part of this list that is recorded",
            where=held.path,
            hint=f"to answer it again, record or discard this one, then buildlog checklist start "
            f"{held.check.list}",
        )
    keys = [item.key for item in held.check.item]
    raise NotFound(f'{held.check.list} has no item "{key}"', hint=nearest(key, keys))


def _asked(held: _Held, key: str) -> ListItem:
    known = {item.key: item for item in held.definition.item}
    return known.get(key) or ListItem(key=key, text=key, value=True)


def _spoken(ledger: Ledger, asked: ListItem, values: Sequence[str]) -> list[Spoken]:
    """The values as they are meant, each with its unit; InvalidInput for another unit."""
    if not values:
        return []
    apart = [one for text in values for one in (one_each(text) if asked.per_cylinder else [text])]
    shown = day_books.shown_for_lambda_one(Snapshot(ledger)) if is_lambda(asked) else None
    spoken = [taken(text, asked, shown) for text in apart]
    if asked.unit is None:
        return spoken
    try:
        wanted = parse(f"1 {asked.unit}", DIMENSIONS).dimension
    except InvalidInput:
        return spoken  # a shop's own unit, which is not known here
    return [_plain(one, wanted) for one in spoken]


def _plain(one: Spoken, wanted: str) -> Spoken:
    """A value that is of the item's kind; a pressure of a list is read from a gauge, and one that
    says so ("55 psig") is written down in plain units, with what was said beside it."""
    read = parse(one.value, (wanted,), "gauge")
    for said in spellings():
        if said.place == "gauge" and one.value.endswith(said.text):
            number = one.value.removesuffix(said.text).strip()
            return Spoken(f"{number} {read.unit.text}", one.said or one.value)
    return one


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
