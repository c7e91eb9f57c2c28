"""Every list: how far it was gone through, and for which step it counts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.analysis.answers.next_steps import STEP_WORDS
from buildlog.analysis.workshop.check_book import ListState, unfinished
from buildlog.analysis.workshop.check_book import counted as answered
from buildlog.desk.questions.day_books import lists
from buildlog.page.drawing.say import Ruled, brief_day, capital, counted, number
from buildlog.page.drawing.templating import drawn
from buildlog.report.numbers import count

if TYPE_CHECKING:
    from buildlog.page.asked import Asked


def page(asked: Asked) -> str:
    """All lists, those that are begun first."""
    found = lists(asked.car.ledger)
    begun = [one for one in found if _open(one)]
    rows = [_row(asked, one) for one in sorted(found, key=lambda one: not _open(one))]
    said = (
        f"{capital(counted(len(begun), 'list is', 'lists are'))} begun and not finished."
        if begun else f"No list is begun; there are {number(len(found))}."
    )  # fmt: skip
    return drawn("lists", asked, said=said, rows=rows, title="Lists · buildlog")


def _open(one: ListState) -> bool:
    return one.check is not None and answered(one.check)[0] < answered(one.check)[1]


def _row(asked: Asked, one: ListState) -> Ruled:
    step = one.definition.before
    why = f"before {STEP_WORDS[step]}" if step else "for the record"
    if one.check is None:
        state = count(len(one.definition.item), "item")
    elif _open(one):
        done, of = answered(one.check)
        state = f"{done} of {of} answered"
    else:
        left = unfinished(one.check)
        failed = f", {counted(len(left), 'a critical fault', 'critical faults')}" if left else ""
        state = f"done {brief_day(one.check.date)}{failed}"
    return Ruled(one.definition.title, asked.at(f"lists/{one.definition.name}"), state, why)
