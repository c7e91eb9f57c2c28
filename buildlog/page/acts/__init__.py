"""The acts of the page, each by the desk's own function; nothing here writes by itself.

May import: errors, analysis.car, desk.snapshot, desk.questions, desk.acts, desk.acts.dyno,
desk.give, page.
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
    "joint": ("at_the_joint", "turn", "write"),
    "sheet-add": ("at_the_joint", "read_sheet", "write"),
    "odometer": ("of_the_day", "odometer", "write"),
    "waiting": ("of_the_day", "waiting", "write"),
    "due": ("of_the_day", "due_done", "write"),
    "undo": ("of_the_day", "undo_last", "write"),
    "log-add": ("at_the_dyno", "add_log", "write"),
    "link": ("for_the_customer", "shop_link", "owner"),
    "customer": ("for_the_customer", "customer_file", "write"),
    "quote": ("for_the_customer", "quote_file", "write"),
    "discard": ("of_the_day", "discard_them", "write"),
    "plan-accept": ("at_the_book", "accept", "write"),
    "record": ("at_the_book", "record_them", "write"),
    "approve": ("at_the_book", "approve", "approve"),
    "new-car": ("at_the_book", "new_car", "owner"),
    "dyno-add": ("at_the_dyno", "add_files", "write"),
    "dyno-map": ("at_the_dyno", "map_columns", "write"),
    "pull-unused": ("at_the_dyno", "pull_unused", "write"),
}


# What can be taken back by the one who did it.
UNDOABLE = frozenset({"item", "joint", "fault", "fix", "work", "photo", "odometer", "waiting",
                      "due", "set", "part", "pull-unused"})  # fmt: skip


def undo_words(kind: str, what: str) -> str:
    """What "Undo" takes back, in a word or two.

    >>> undo_words("joint", "head/cylinder head/4/2"), undo_words("pull-unused", "a/b.csv")
    ('bolt 4', 'pull')
    """
    if kind == "joint" and what.count("/") >= 3:
        return f"bolt {what.rsplit('/', 2)[1]}"
    return {"pull-unused": "pull", "set": "fields", "fix": "closing"}.get(kind, kind)


def act(kind: str) -> Callable[[Asked, Sent], ActAnswer]:
    """What does an act of this kind, loaded when it is first asked for."""
    module, name, _ = ACTS[kind]
    found: Callable[[Asked, Sent], ActAnswer] = getattr(
        import_module(f"buildlog.page.acts.{module}"), name
    )
    return found
