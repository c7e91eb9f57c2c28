"""Carried-out lists in the working files: begun, ticked item by item, each tick on the disk."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from buildlog.analysis.workshop.check_book import counted, inside, one_each, values_of, with_unit
from buildlog.desk.acts import filing
from buildlog.errors import InvalidInput, NotFound
from buildlog.records.checks import Check, CheckedItem, Checklist, ListItem
from buildlog.records.lists import SHIPPED, shipped
from buildlog.records.paths import nearest
from buildlog.records.reading import read
from buildlog.records.toml import toml_edit
from buildlog.store.ledger.names import WORKING
from buildlog.units import DIMENSIONS, parse

if TYPE_CHECKING:
    from buildlog.store.ledger.ledger import Ledger

_SHORT = {"p": "pass", "f": "fail", "n": "not-applicable"}


@dataclass
class TickedList:
    """A list that is being gone through: its file and what the list asks for."""

    ledger: Ledger
    path: str
    data: bytes
    check: Check
    definition: Checklist


def definitions(ledger: Ledger) -> dict[str, Checklist]:
    """The lists there are: the shipped ones, then the shop's own, which may replace them."""
    found = {name: shipped(name) for name in SHIPPED}
    for path in sorted(ledger.working().files):
        if path.startswith("lists/"):
            own = read(Checklist, ledger.read(WORKING, path), path)
            found[own.name] = own
    return found


def definition(ledger: Ledger, name: str) -> Checklist:
    """A list by name; NotFound names the nearest."""
    known = definitions(ledger)
    if name not in known:
        raise NotFound(f'there is no list "{name}"', hint=nearest(name, known))
    return known[name]


def begin(
    ledger: Ledger, name: str, odometer: str | None, on: dt.datetime | None, note: str | None
) -> TickedList:
    """A new sheet of a list, all items not done."""
    from buildlog.desk.snapshot.snapshot import Snapshot

    wanted = definition(ledger, name)
    for known in filing.unrecorded(ledger, "checks"):
        check = read(Check, ledger.read(WORKING, f"checks/{known}.toml"), f"checks/{known}.toml")
        if check.list == name and any(item.result == "not-done" for item in check.item):
            raise InvalidInput(
                f"{name} of {check.date} is begun and not finished",
                hint=f"buildlog checklist tick --list {name}, or delete checks/{known}.toml",
            )
    day = filing.day(on)
    path = filing.free_path(ledger, "checks", f"{day}-{name}")
    table = Snapshot(ledger).working.configuration.calibration
    fields: dict[str, Any] = {
        "list": name,
        "title": wanted.title,
        "date": day,
        "odometer": filing.odometer(Snapshot(ledger), odometer),
        "before": wanted.before,
        "calibration": table.id if table else None,
        "note": note,
    }
    data = filing.text_of(Check, path, fields, "item", [_blank(item) for item in wanted.item])
    ledger.write_working(path, data)
    return TickedList(ledger, path, data, read(Check, data, path), wanted)


def current(ledger: Ledger, name: str | None, key: str | None = None) -> TickedList:
    """The sheet that is being gone through, where several are the one that asks for `key`;
    NotFound where none or several are."""
    found = []
    for known in filing.unrecorded(ledger, "checks"):
        path = f"checks/{known}.toml"
        data = ledger.read(WORKING, path)
        check = read(Check, data, path)
        if name in (None, check.list):
            found.append(TickedList(ledger, path, data, check, _definition_of(ledger, check)))
    begun = [sheet for sheet in found if counted(sheet.check)[0] < counted(sheet.check)[1]]
    chosen = begun if len(begun) == 1 else found
    if len(chosen) > 1 and key is not None:
        asking = [sheet for sheet in begun if key in {item.key for item in sheet.check.item}]
        chosen = asking if len(asking) == 1 else chosen
    if len(chosen) == 1:
        return chosen[0]
    if not found:
        which = name or "LIST"
        raise NotFound("no list is begun", hint=f"buildlog checklist start {which}")
    lists = ", ".join(sheet.check.list for sheet in chosen)
    raise NotFound("several lists are begun", hint=f"--list with one of {lists}")


def tick(
    sheet: TickedList,
    key: str,
    result: str | None,
    values: Sequence[str] = (),
    codes: Iterable[str] = (),
    note: str | None = None,
    by: str | None = None,
    on: dt.datetime | None = None,
) -> CheckedItem:
    """Write one item's result to the file; the result follows from value and limits if not said."""
    place, item = _item(sheet, key)
    asked = _asked(sheet, key)
    written = _written(values, asked)
    codes = [_code(code) for code in codes]
    if result is None:
        result = _result(written, item, codes)
    fields: dict[str, Any] = {
        "result": result,
        "by": filing.who(by),
        "at": filing.day(on),
        "note": note,
        "codes": codes,
    }
    many = asked.per_cylinder or len(written) > 1
    fields |= {"values": written} if many else {"value": written[0] if written else None}
    given = {f"item.{place}.{name}": v for name, v in fields.items() if v not in (None, [], "")}
    data = toml_edit.set_values(sheet.data, given)
    filing.refuse_invalid(Check, data, sheet.path)
    sheet.ledger.write_working(sheet.path, data, expect=sheet.data)
    sheet.data, sheet.check = data, read(Check, data, sheet.path)
    return sheet.check.item[place]


def answer(sheet: TickedList, key: str, text: str, by: str | None) -> CheckedItem:
    """One line typed at the terminal: "p", "f smells of fuel", "43.5", "172 168 171"."""
    word, _, rest = text.partition(" ")
    if word in _SHORT:
        return tick(sheet, key, _SHORT[word], note=rest.strip() or None, by=by)
    asked = _asked(sheet, key)
    if asked.codes:
        return tick(sheet, key, None, codes=text.replace(",", " ").split(), by=by)
    if asked.value:
        return tick(sheet, key, None, [text], by=by)
    raise InvalidInput("this item has no value", hint="p, f or n, and a note behind it")


def question(sheet: TickedList, key: str, number: int, of: int) -> list[str]:
    """What is asked of a person for one item."""
    from buildlog.report.as_text.checklist_text import asked_lines

    _, item = _item(sheet, key)
    return asked_lines(item, _asked(sheet, key), f"{number}/{of}")


def command(sheet: TickedList) -> str:
    """What to type for the first item that has no result."""
    key = next(item.key for item in sheet.check.item if item.result == "not-done")
    asked = _asked(sheet, key)
    value = f' --value "... {asked.unit or ""}'.rstrip() + '"' if asked.value else " --result pass"
    return f"buildlog checklist tick {key}{value}"


def words(item: CheckedItem) -> str:
    """ "fuel-pressure: pass, 43.5 psi", with what is odd about it."""
    values = ", ".join(values_of(item))
    line = f"{item.key}: {item.result}" + (f", {values}" if values else "")
    line += f", {' '.join(item.codes)}" if item.codes else ""
    if item.result == "pass" and inside(values_of(item), item.low, item.high) is False:
        line += f"  (caution: outside {item.low or '-'} to {item.high or '-'})"
    return line


def newest(ledger: Ledger, name: str | None) -> tuple[Checklist, Check | None, str | None]:
    """A list, the newest sheet of it, and where that lies; the newest sheet of all by default."""
    sheets = _sheets(ledger)
    if name is None and not sheets:
        raise NotFound("no list was gone through yet", hint="buildlog checklist list")
    wanted = name or sheets[-1][1].list
    for path, check in reversed(sheets):
        if check.list == wanted:
            return _definition_of(ledger, check), check, path
    return definition(ledger, wanted), None, None


def overview(ledger: Ledger) -> list[tuple[Checklist, Check | None]]:
    """Every list and its newest sheet."""
    latest = {check.list: check for _, check in _sheets(ledger)}
    return [(one, latest.get(name)) for name, one in definitions(ledger).items()]


def _sheets(ledger: Ledger) -> list[tuple[str, Check]]:
    found = [
        (path, read(Check, ledger.read(WORKING, path), path))
        for path in ledger.working().files
        if path.startswith("checks/")
    ]
    return sorted(found, key=lambda one: (one[1].date, one[0]))


def _definition_of(ledger: Ledger, check: Check) -> Checklist:
    """The list of a sheet; a sheet of a list that is gone speaks for itself."""
    known = definitions(ledger).get(check.list)
    items = tuple(
        ListItem(key=item.key, text=item.text or item.key, critical=item.critical)
        for item in check.item
    )
    title = check.title or check.list
    return known or Checklist(format=1, name=check.list, title=title, item=items)


def _blank(item: ListItem) -> dict[str, Any]:
    return {
        "key": item.key,
        "text": item.text,
        "critical": True if item.critical else None,
        "result": "not-done",
        "low": item.low,
        "high": item.high,
        "source": item.source,
    }


def _item(sheet: TickedList, key: str) -> tuple[int, CheckedItem]:
    for place, item in enumerate(sheet.check.item):
        if item.key == key:
            return place, item
    keys = [item.key for item in sheet.check.item]
    raise NotFound(f'{sheet.check.list} has no item "{key}"', hint=nearest(key, keys))


def _asked(sheet: TickedList, key: str) -> ListItem:
    known = {item.key: item for item in sheet.definition.item}
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


def _code(text: str) -> str:
    from buildlog.physics.parts.trouble_codes import parse

    try:
        return parse(text).text
    except ValueError as error:
        raise InvalidInput(str(error).rstrip("."), hint="write it as P0299") from None
