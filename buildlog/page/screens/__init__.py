"""The screens of the page, one module each: `page(asked)` gives the whole HTML document.

May import: errors, channels, units, records.fields, records.car, records, analysis.car,
analysis.pulls, analysis.workshop, analysis.margins.figures, analysis.answers, report,
report.as_text, report.booklet, desk.snapshot, desk.questions, desk.give, page, page.drawing,
page.screens.notes.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from buildlog.page.asked import Asked

# The place: below the top (with a slash) or below a car's; the module that draws it, and the
# least right of who may see it.
SCREENS: dict[str, tuple[str, str]] = {
    "/": ("shop_screen", "read"),
    "/new": ("new_car_screen", "owner"),
    "/explain": ("explain_screen", "read"),
    "/explain/*": ("explain_screen", "read"),
    "": ("car_screen", "read"),
    "add": ("notes.add_screen", "write"),
    "compare": ("compare_screen", "read"),
    "customer": ("customer_screen", "owner"),
    "due": ("notes.due_screen", "read"),
    "dyno": ("dyno_screen", "read"),
    "dyno/add": ("dyno_add_screen", "write"),
    "dyno/*": ("dyno_session_screen", "read"),
    "fault": ("notes.fault_screen", "write"),
    "fault/*": ("notes.one_fault_screen", "read"),
    "joints": ("joints_screen", "read"),
    "joints/*": ("one_joint_screen", "read"),
    "label": ("label_screen", "read"),
    "history": ("history_screen", "read"),
    "history/*": ("entry_screen", "read"),
    "limits": ("limits_screen", "read"),
    "lists": ("lists_screen", "read"),
    "lists/*": ("one_list_screen", "read"),
    "odometer": ("notes.odometer_screen", "write"),
    "parts": ("parts_screen", "read"),
    "parts/*": ("one_part_screen", "write"),
    "photo": ("notes.photo_screen", "write"),
    "plans": ("plans_screen", "read"),
    "plans/*": ("plan_screen", "read"),
    "record": ("record_screen", "write"),
    "set": ("set_screen", "write"),
    "waiting": ("notes.waiting_screen", "read"),
    "work": ("notes.work_screen", "write"),
}


def screen(module: str) -> Callable[[Asked], str]:
    """What draws the screen of a module, loaded when it is first asked for."""
    page: Callable[[Asked], str] = import_module(f"buildlog.page.screens.{module}").page
    return page
