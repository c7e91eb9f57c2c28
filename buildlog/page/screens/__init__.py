"""The screens of the page, one module each: `page(asked)` gives the whole HTML document.

May import: errors, findings, units, records, analysis.car, analysis.pulls, analysis.workshop,
analysis.margins.figures, analysis.answers, report, report.as_text, report.pictures, report.booklet,
desk.snapshot, desk.questions, desk.acts, desk.give, page.
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
    "": ("car_screen", "read"),
    "limits": ("limits_screen", "read"),
    "parts": ("parts_screen", "read"),
    "history": ("history_screen", "read"),
}


def screen(module: str) -> Callable[[Asked], str]:
    """What draws the screen of a module, loaded when it is first asked for."""
    page: Callable[[Asked], str] = import_module(f"buildlog.page.screens.{module}").page
    return page
