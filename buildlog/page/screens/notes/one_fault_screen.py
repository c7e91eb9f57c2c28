"""One fault: what it is, what became of it, and the form that closes it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.desk.questions.day_books import faults
from buildlog.errors import NotFound
from buildlog.page.drawing.form_fields import FormField, form
from buildlog.page.drawing.say import day, display, sentence
from buildlog.page.drawing.templating import drawn
from buildlog.page.screens.notes.fault_screen import of

if TYPE_CHECKING:
    from buildlog.analysis.workshop.fault_book import FaultState
    from buildlog.page.asked import Asked


def page(asked: Asked) -> str:
    """An open one is fixed here; of a closed one is told what was done."""
    found = next((one for one in faults(asked.car) if one.name == asked.name), None)
    if found is None:
        raise NotFound(f'there is no fault "{asked.name}"', hint="its car names the open ones")
    symptom = sentence(found.fault.symptom or found.name)
    if not found.open or not asked.may("write"):
        closing = found.closing
        told = closing.remedy if closing and closing.remedy else "Nothing is written of the remedy."
        closed = f"{_closed(found)} {sentence(told)}" if not found.open else "Open."
        return drawn("said", asked, said=symptom, lead=_facts(asked, found), where="",
                     why=closed, hint="", named=True, title="Fault · buildlog")  # fmt: skip
    fields = [
        FormField("text", "remedy", "What was done about it"),
        FormField("text", "cause", "What the cause was, if known"),
        FormField("text", "note", "Note"),
    ]
    return form(
        asked, "fix", fields, said=symptom, lead=_facts(asked, found), main="Close fault",
        what=found.name, title="Fault",
    )  # fmt: skip


def _closed(found: FaultState) -> str:
    """ "Closed on 23 May 2026 by D-07."; of one that no file closed, by which entry."""
    closing = found.closing
    if closing is None:
        return f"Closed by {found.closed_by}."
    return f"Closed on {day(closing.date)}{f' by {closing.by}' if closing.by else ''}."


def _facts(asked: Asked, found: FaultState) -> str:
    """Since when, of what, by whom, and how far the part had run."""
    show, fault = display(asked.car), found.fault
    told = [f"since {day(fault.date)}", of(fault)]
    told += [f"written by {fault.by}"] if fault.by else []
    run = found.part_distance
    told += [f"the part had run {show.distance(run)}"] if run is not None else []
    told += ["full load waits for it"] if fault.holds_up_full_load and found.open else []
    return sentence("; ".join(told))
