"""A car's own sheet: the sentence first, then what comes next, what it gave, what is close."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.analysis.answers.next_steps import Action
from buildlog.analysis.workshop.partlife import PartLife
from buildlog.desk.questions.check_all import what_next
from buildlog.desk.questions.compare import gained
from buildlog.desk.questions.day_books import faults, parts_now
from buildlog.desk.questions.limits import margins_of
from buildlog.desk.questions.not_recorded import not_recorded
from buildlog.desk.questions.visits import pooled
from buildlog.desk.questions.waits import waits
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError
from buildlog.page.drawing import joint_forms, list_forms, screen_figures
from buildlog.page.drawing.kept_answers import kept
from buildlog.page.drawing.say import (
    Ruled,
    capital,
    counted,
    day,
    display,
    sentence,
)  # fmt: skip
from buildlog.page.drawing.templating import drawn
from buildlog.page.screens import limits_screen, parts_screen
from buildlog.page.screens.history_screen import entry_row
from buildlog.page.screens.notes.waiting_screen import wait_row
from buildlog.report.as_text.sheet_text import peak_words
from buildlog.report.in_units import in_units
from buildlog.report.numbers import Display

if TYPE_CHECKING:
    from buildlog.page.asked import Asked

_MOST = 5  # rows of what comes next
_FEW = 3  # limits, parts, entries


def page(asked: Asked) -> str:
    """Where the car stands and what to do now."""
    book = asked.car
    show = display(book)
    steps = kept(book, what_next)
    held = list(dict.fromkeys(one.why for one in steps.blocked))
    open_faults = kept(book, faults, only_open=True)
    waiting = kept(book, not_recorded)
    item = kept(book, list_forms.next_item)
    # A sheet that is begun is gone on with at once: its row stands where it need not be looked for.
    tasks = sorted(steps.actions, key=lambda one: one.task != "sheet")
    rows = [_step(asked, one, show) for one in tasks if one.task != "record"]
    margins = kept(book, margins_of)
    fitted = [one for one in kept(book, parts_now) if one.is_piece]
    return drawn(
        "car", asked, column="desk", title=f"{book.newest.configuration.car.name} · buildlog",
        said=" ".join([_gain(book, show), _holds(len(open_faults), held)]),
        measured=_measured(book, show), standing=_standing(len(waiting), bool(book.visits)),
        at_field=item is not None and asked.typed.get("what") == item.what,
        item=item, answered=_answered(book, item), rows=rows[:_MOST], more=rows[_MOST:], held=held,
        waits=[wait_row(one, asked.at("waiting")) for one in kept(book, waits)],
        picture=screen_figures.life(book),
        limits=limits_screen.rows(asked, margins.rows, show, _FEW),
        tightest=limits_screen.tightest(margins.rows, show), parts=_parts(asked, fitted, show),
        how_many=len(fitted), entries=_entries(asked, book, show),
        of=len(book.entries), waiting=len(waiting),
        findings=[one for one in steps.findings if one.severity != "note"],
    )  # fmt: skip


def _gain(book: Snapshot, show: Display) -> str:
    """What the newest measured version gives, against the first where they can be compared."""
    found = kept(book, gained)
    if found is not None:
        before, after, result = found
        power = result.power
        if not power.beyond_scatter:
            return (f"{capital(after.name)} against {before.name}: a difference too small to tell "
                    "from the scatter.")  # fmt: skip
        change = show.change(abs(power.peak_delta), power.half_width_95, "power").lstrip("+")
        word = "more" if power.peak_delta > 0 else "less"
        return f"{capital(after.name)} gives {change} {word} at the {result.at} than {before.name}."
    name = book.newest.configuration.car.name
    known = book.measured_versions
    if not known:
        return f"{name} was never on a dyno."
    try:
        sheet = pooled(book, book.sheet(book.session_name(None)))
    except (BuildlogError, ValueError):
        return f"{name} was measured as {known[-1].name}; its sheet says what cannot be read."
    told = f"{peak_words(sheet, show)} at the {sheet.at}"
    return f"{name}: {told}, as {known[-1].name}; nothing to compare with yet."


def _holds(faults: int, held: list[str]) -> str:
    """What holds it up, or that nothing does."""
    open_ones = f"{capital(counted(faults, 'fault is', 'faults are'))} open. " if faults else ""
    if not held:
        return f"{open_ones}Nothing holds up a pull."
    one = f": {held[0]}" if len(held) == 1 and len(held[0]) < 60 else ""
    return f"{open_ones}{capital(counted(len(held), 'thing holds', 'things hold'))} it up{one}."


def _measured(book: Snapshot, show: Display) -> str:
    """When it was measured last, and at what distance."""
    if not book.visits:
        return ""
    session = max((one.session for one in book.visits), key=lambda one: one.date)
    at = f", {show.distance(session.odometer.si)}" if session.odometer else ""
    return f"Measured {day(session.date)}{at}"


def _standing(waiting: int, since: bool) -> str:
    then = " since then" if since else ""
    told = counted(waiting, f"thing{then} is", f"things{then} are")
    return f"{capital(told)} not recorded." if waiting else "Everything is recorded."


def _step(asked: Asked, one: Action, show: Display) -> Ruled:
    if one.task == "sheet" and one.name:
        state = joint_forms.next_words(asked.car, one.name)
        return Ruled(capital(one.step), _leads(asked, one), state)
    left = show.distance(one.distance) + " left" if one.distance else ""
    return Ruled(
        capital(one.step), _leads(asked, one), left or one.who, sentence(in_units(one.why))
    )


def _leads(asked: Asked, one: Action) -> str:
    """Where a thing to do is done."""
    match one.task:
        case "list":
            return asked.at(f"lists/{one.name}")
        case "fault":
            return asked.at(f"fault/{one.name}")
        case "sheet":
            return asked.at(f"joints/{one.name}")
        case "joint":
            return asked.at("joints")
        case "calibration":
            return asked.at("set?word=calibration")
        case "record" | "due":
            return asked.at(one.task)
        case _:
            return ""


def _answered(book: Snapshot, item: list_forms.ItemForm | None) -> str:
    """ "5 of 9 answered, one a fault"."""
    if item is None:
        return ""
    found = list_forms.form(book, item.of_list)
    faults = f", {counted(len(found.faults), 'a fault', 'faults')}" if found.faults else ""
    return f"{len(found.answered)} of {item.of} answered{faults}"


def _parts(asked: Asked, found: list[PartLife], show: Display) -> list[Ruled]:
    """The newest ones, those with a break-in first."""

    def order(one: PartLife) -> tuple[bool, int]:
        return not one.break_in_left, -(one.fitted.number or 1 << 30) if one.fitted else 0

    return [parts_screen.row(asked, one, show) for one in sorted(found, key=order)[:_FEW]]


def _entries(asked: Asked, book: Snapshot, show: Display) -> list[Ruled]:
    newest = len(book.entries)
    return [entry_row(asked, book, n, show) for n in range(newest, max(newest - _FEW, 0), -1)]
