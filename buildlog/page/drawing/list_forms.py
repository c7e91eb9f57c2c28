"""The items of a list as they are answered: what is asked, what was said, by whom."""

from __future__ import annotations

import datetime as dt
from typing import NamedTuple

from buildlog.analysis.workshop.check_book import ListState, inside, values_of
from buildlog.desk.acts.list_items import item_held
from buildlog.desk.questions.check_all import what_next
from buildlog.desk.questions.day_books import definition, goes_on_with, newest_list
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError, InvalidInput
from buildlog.page.drawing import bounds
from buildlog.page.drawing.bounds import Bounds
from buildlog.page.drawing.kept_answers import kept
from buildlog.page.drawing.say import brief_day, display
from buildlog.records.checks import Check, CheckedItem, Checklist, ListItem
from buildlog.report.numbers import Display
from buildlog.units import DIMENSIONS, parse

ANSWERS = {
    "pass": "done",
    "fail": "fault",
    "not-done": "not done",
    "not-applicable": "does not apply",
}
_MOST_CYLINDERS = 8  # fields, where nobody said how many there are
_CONVERTED = ("pressure", "temperature", "torque", "speed")  # in a car that is shown in US units


class ItemForm(NamedTuple):
    """One item: what is asked, within what limits, and what was answered."""

    of_list: str
    key: str
    place: int
    of: int
    text: str
    critical: bool
    caution: str
    value: bool
    unit: str
    codes: bool
    limits: str
    last: str
    answer: str
    typed: str
    note: str
    said: str
    who: str
    outside: str
    old: str
    photo: str
    bounds: Bounds

    each: tuple[str, ...] = ()
    """Of an item that each cylinder has its value of: what is written of each, "" where nothing."""
    every: bool = False
    """Whether it is known how many there are, so that "done" wants all of them."""

    @property
    def open(self) -> bool:
        """Whether nobody answered it yet."""
        return not self.said

    @property
    def what(self) -> str:
        """What an act on it changes."""
        return f"{self.of_list}/{self.key}"


class ListForm(NamedTuple):
    """A list as it is gone through now; `begun` is the day on which it was."""

    definition: Checklist
    items: tuple[ItemForm, ...]
    begun: dt.date | None
    recorded: bool

    @property
    def answered(self) -> list[ItemForm]:
        """The items that somebody answered."""
        return [one for one in self.items if not one.open]

    @property
    def still(self) -> list[ItemForm]:
        """The items that nobody answered yet."""
        return [one for one in self.items if one.open]

    @property
    def faults(self) -> list[ItemForm]:
        """The items that were answered with a fault."""
        return [one for one in self.items if one.answer == "fault"]


def form(book: Snapshot, name: str) -> ListForm:
    """The list that is being gone through, else a fresh one. NotFound where there is none."""
    state = newest_list(book.ledger, name)
    check = state.check
    going_on = check is not None and _going_on(book, state, state.path)
    here = check if going_on else None
    items = state.definition.item
    known = {item.key: item for item in here.item} if here else {}
    last = _last(book, name, here)
    recorded = going_on and state.path not in _new_files(book)
    path = state.path if going_on and state.path and not recorded else ""
    show = display(book)
    forms = [
        _item(state, place, item, known.get(item.key), last.get(item.key, ""),
              item_held(book.ledger, path, item.key), _unit(item, show), _cylinders(book))
        for place, item in enumerate(items, 1)
    ]  # fmt: skip
    return ListForm(state.definition, tuple(forms), here.date if here else None, recorded)


def next_item(book: Snapshot) -> ItemForm | None:
    """The next open item of the list that comes next, if one does."""
    for action in kept(book, what_next).actions:
        if action.task == "list" and action.name:
            try:
                return next(iter(form(book, action.name).still), None)
            except BuildlogError:
                return None
    return None


def title(book: Snapshot, name: str) -> str:
    """What a list is called."""
    return definition(book.ledger, name).title


def _going_on(book: Snapshot, state: ListState, path: str | None) -> bool:
    """Whether it stands in the working files alone, or was recorded and can be gone on with."""
    return path in _new_files(book) or bool(goes_on_with(book.ledger, state))


def _new_files(book: Snapshot) -> set[str]:
    return {f"checks/{name}.toml" for name in book.working.checks}


def _last(book: Snapshot, name: str, but: Check | None) -> dict[str, str]:
    """What was found of each item the time before."""
    found: dict[str, str] = {}
    for check in sorted(book.papers.checks.values(), key=lambda one: one.date):
        if check.list == name and check is not but and check != but:
            found |= {
                item.key: "; ".join(values_of(item)) for item in check.item if values_of(item)
            }
    return found


def _item(
    state: ListState, place: int, asked: ListItem, item: CheckedItem | None, last: str, old: str,
    unit: str, cylinders: int,
) -> ItemForm:  # fmt: skip
    """One item of a list as it stands."""
    answered = item is not None and (item.result != "not-done" or item.by or item.at)
    answer = ANSWERS[item.result] if item is not None and answered else ""
    low, high = (item.low, item.high) if item else (asked.low, asked.high)
    wanted = state.definition
    return ItemForm(
        wanted.name, asked.key, place, len(wanted.item), asked.text, asked.critical,
        asked.caution or "",
        asked.value, unit, asked.codes, _limits(low, high),
        _without(last, unit), answer,
        _without("; ".join(values_of(item)) if item else "", unit),
        (item.note or "") if item else "", _said(item, answer) if item and answered else "",
        (item.by or "") if item else "",
        _outside(item) if item else "", old,
        (item.photo or "").removeprefix("attachments/") if item else "",
        bounds.stated(low, high, unit),
        _each(item, cylinders or _MOST_CYLINDERS, unit) if asked.per_cylinder else (),
        asked.per_cylinder and cylinders > 0,
    )  # fmt: skip


def _cylinders(book: Snapshot) -> int:
    """How many the engine has; 0 where that is not known."""
    engine = book.working.configuration.engine
    return (engine.cylinders or 0) if engine else 0


def _each(item: CheckedItem | None, cylinders: int, unit: str) -> tuple[str, ...]:
    found = [_without(one, unit) for one in values_of(item)] if item else []
    return tuple([*found, *[""] * cylinders][: max(cylinders, len(found))])


def _unit(asked: ListItem, show: Display) -> str:
    """The unit beside the field of an item: the list's own, or that of the car's screens."""
    try:
        of = parse(f"1 {asked.unit}", DIMENSIONS).dimension if asked.unit else ""
    except InvalidInput:
        of = ""  # a shop's own unit, which is not known here
    return show.unit(of).text if of in _CONVERTED and show.system == "us" else asked.unit or ""


def _limits(low: str | None, high: str | None) -> str:
    if low and high:
        return f"{low} to {high}"
    return f"at least {low}" if low else f"at most {high}" if high else ""


def _without(text: str, unit: str) -> str:
    """A value as it is typed: the unit stands beside its field."""
    return "; ".join(one.removesuffix(f" {unit}") if unit else one for one in text.split("; "))


def _said(item: CheckedItem, answer: str) -> str:
    """ "done, D-07, 13:42"."""
    at = item.at
    when = f"{at:%H:%M}" if isinstance(at, dt.datetime) else brief_day(at) if at else ""
    return ", ".join(filter(None, (answer, item.by, when)))


def _outside(item: CheckedItem) -> str:
    """ "below 28 psi, the least stated", where a value lies outside its limits."""
    values = values_of(item)
    if inside(values, item.low, item.high) is not False:
        return ""
    if item.low and inside(values, item.low, None) is False:
        return f"below {item.low}, the least stated"
    return f"above {item.high}, the most stated"
