"""The acts of the page, each by the desk's own function; nothing here writes by itself.

May import: errors, analysis.car, desk.snapshot, desk.questions, desk.acts, desk.give, page.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from buildlog.page.asked import Asked
    from buildlog.page.came_of import ActAnswer
    from buildlog.page.sent import Sent

# The kind of an act: module and function that do it, and the least right of who may.
ACTS: dict[str, tuple[str, str, str]] = {
    "item": ("at_the_list", "item", "write"),
    "fault": ("at_the_car", "fault", "write"),
    "fix": ("at_the_car", "fix", "write"),
    "work": ("at_the_car", "work", "write"),
    "photo": ("at_the_car", "photo", "write"),
    "set": ("at_the_parts", "set_field", "write"),
    "part": ("at_the_parts", "part", "write"),
    "record": ("at_the_book", "record_them", "write"),
    "approve": ("at_the_book", "approve", "approve"),
    "new-car": ("at_the_book", "new_car", "owner"),
    "dyno-add": ("at_the_dyno", "add_files", "write"),
    "dyno-map": ("at_the_dyno", "map_columns", "write"),
    "pull-unused": ("at_the_dyno", "pull_unused", "write"),
}


def act(kind: str) -> Callable[[Asked, Sent], ActAnswer]:
    """What does an act of this kind, loaded when it is first asked for."""
    module, name, _ = ACTS[kind]
    found: Callable[[Asked, Sent], ActAnswer] = getattr(
        import_module(f"buildlog.page.acts.{module}"), name
    )
    return found
