"""Checklists: with their cautions where people can get hurt, and what was found."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.analysis.workshop import check_book
from buildlog.findings import how_many
from buildlog.records.checks import Check, CheckedItem, Checklist, ListItem
from buildlog.report.in_units import in_units
from buildlog.report.lines import PAGE, table, wrap

WORDS = {
    "pass": "pass",
    "fail": "FAIL",
    "not-applicable": "not applicable",
    "not-done": "not done",
}
STEPS = {
    "forced-induction-work": "forced-induction work",
    "running": "the engine runs",
    "light-load-check": "the light-load check",
    "pull": "a full-load pull",
    "hand-back": "the car goes back",
}


def heading_lines(definition: Checklist) -> list[str]:
    """Its title, what waits for it, who ticks it, and the cautions."""
    before = f", before {STEPS[definition.before]}" if definition.before else ""
    who = f" ({definition.who})" if definition.who else ""
    lines = wrap(f"{definition.title}{before}{who}", 2, 0)
    for caution in definition.cautions:
        lines += wrap(f"caution  {caution}", 11, 2)
    return lines


def begun_lines(done: check_book.ListWritten) -> list[str]:
    """A list that was begun, with its cautions."""
    items = len(done.check.item)
    return [*heading_lines(done.definition), f"  {done.paths[0]}, {how_many(items, 'item')}"]


def item_line(item: CheckedItem) -> str:
    """ "fuel-pressure: pass, 43.5 psi", with what is odd about it."""
    values = ", ".join(check_book.values_of(item))
    line = f"{item.key}: {item.result}" + (f", {values}" if values else "")
    line += f" ({item.spoken})" if item.spoken else ""
    line += f", {' '.join(item.codes)}" if item.codes else ""
    line += f", {item.note}" if item.note and item.note != item.fault else ""
    line += f", opens a fault when recorded: {item.fault}" if item.fault else ""
    if (
        item.result == "pass"
        and check_book.inside(check_book.values_of(item), item.low, item.high) is False
    ):
        line += f"  (caution: outside {item.low or '-'} to {item.high or '-'})"
    return line


def progress_lines(done: check_book.ListWritten) -> list[str]:
    """The item that got its result, how far the list is gone through, what to type next."""
    check = done.check
    count, of = check_book.counted(check)
    lines = [item_line(done.item)] if done.item else []
    lines += wrap(f"{check.list}: {count} of {of} done{_critical_left(check)}", 2, 0)
    return [*lines, f"next: {_next_item(done) if count < of else done.record.line}"]


def _critical_left(check: Check, otherwise: str = "") -> str:
    left = check_book.unfinished(check)
    few = ", ".join(left[:3]) + (f" and {len(left) - 3} more" if len(left) > 3 else "")
    return f", critical left: {few}" if left else otherwise


def _next_item(done: check_book.ListWritten) -> str:
    """What to type for the first item that has no result."""
    key = next(item.key for item in done.check.item if item.result == "not-done")
    asked = next((item for item in done.definition.item if item.key == key), None)
    unit = asked.unit if asked else None
    with_value = asked is None or asked.value
    value = f' --value "... {unit or ""}'.rstrip() + '"' if with_value else " --result pass"
    return f"buildlog checklist tick {key}{value}"


def asked_lines(one: check_book.ItemAsked) -> list[str]:
    """What is asked of a person for one item."""
    item, asked, place = one.item, one.asked, f"{one.number}/{one.of}"
    unit = f" [{asked.unit}]" if asked.unit else ""
    wants = f"  value{unit}" if asked.value else "  codes" if asked.codes else ""
    each = ", one for each cylinder" if asked.per_cylinder else ""
    critical = "  critical" if item.critical else ""
    limits = _limits(item.low, item.high)
    lines = wrap(f"{place} {item.key}{critical}: {item.text or asked.text}", 4, 0)
    lines += wrap(f"caution  {asked.caution}", 13, 4) if asked.caution else []
    return lines + ([f"   {wants}{each}{limits}"] if wants else [])


def checklist_lines(state: check_book.ListState) -> list[str]:
    """A list as it was gone through last."""
    definition, check = state.definition, state.check
    if check is None:
        lines = [f"{definition.name}: not done yet", *heading_lines(definition)]
        lines += _items(definition.item)
        return [*lines, f"next: buildlog checklist start {definition.name}"]
    done, of = check_book.counted(check)
    left = check_book.unfinished(check)
    first = f"{check.list} of {check.date}: {done} of {of} done"
    lines = wrap(first + _critical_left(check, ", nothing critical left"), 2, 0)
    lines += heading_lines(definition)
    lines += table([_row(item) for item in check.item])
    for item in check.item:
        if item.result == "not-done" and item.text:
            lines += wrap(f"{item.key}: {item.text}{in_units(_limits(item.low, item.high))}", 4, 2)
        for more in (item.spoken, item.fault and f"fault: {item.fault}", item.note):
            lines += wrap(f"{item.key}: {more}", 4, 2) if more else []
    lines.append(
        f"  {state.path}"
        + (f", odometer {in_units(check.odometer.text)}" if check.odometer else "")
    )
    command = "tick" if done < of else f"start {definition.name}"
    return [
        *lines,
        f"next: buildlog {'next' if done == of and not left else f'checklist {command}'}",
    ]


def _items(items: Sequence[ListItem]) -> list[str]:
    """Key and weight of each, and what to look at, broken at the edge of the page."""
    rows = table([[one.key, "critical" if one.critical else ""] for one in items])
    room = max(map(len, rows), default=0) + 2
    lines: list[str] = []
    for row, one in zip(rows, items, strict=True):
        first, *rest = wrap(one.text, width=max(PAGE.width - room, 24))
        lines += [f"{row.ljust(room)}{first}", *(f"{'':{room}}{line}" for line in rest)]
    return lines


def list_lines(states: Sequence[check_book.ListState]) -> list[str]:
    """Every list as it was gone through last."""
    rows = [(state.definition, state.check) for state in states]
    body = [["list", "needed before", "done"]]
    for definition, check in rows:
        state = "not yet"
        if check:
            done, of = check_book.counted(check)
            left = check_book.unfinished(check)
            state = f"{check.date}, {done} of {of}" + (
                f", critical left {len(left)}" if left else ""
            )
        body.append([definition.name, definition.before or "-", state])
    count = sum(check is not None for _, check in rows)
    first = f"{count} of {how_many(len(rows), 'list')} done"
    left = [definition.name for definition, check in rows if check is None]
    command = f"checklist start {left[0]}" if left else "next"
    return [first, *table(body), f"next: buildlog {command}"]


def _row(item: CheckedItem) -> list[str]:
    values = _in_short(check_book.values_of(item)) or " ".join(item.codes)
    odd = check_book.inside(check_book.values_of(item), item.low, item.high) is False
    limits = _limits(item.low, item.high).strip() if odd else ""
    return [item.key, "critical" if item.critical else "", WORDS[item.result],
            in_units(f"{values} {limits}".strip()), item.by or ""]  # fmt: skip


def _in_short(values: Sequence[str]) -> str:
    """One value as it stands, those of many cylinders as "165 to 172 psi (6)"."""
    numbers = [value.partition(" ") for value in values]
    units = {unit for _, _, unit in numbers}
    try:
        amounts = sorted(numbers, key=lambda one: float(one[0]))
    except ValueError:
        return ", ".join(values)
    if len(values) < 2 or len(units) > 1:
        return ", ".join(values)
    return f"{amounts[0][0]} to {' '.join(amounts[-1][::2])} ({len(values)})"


def _limits(low: str | None, high: str | None) -> str:
    if low and high:
        return f"  ({low} to {high})"
    if low or high:
        return f"  (at {'least' if low else 'most'} {low or high})"
    return ""
