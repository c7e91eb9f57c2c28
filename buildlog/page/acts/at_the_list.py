"""Answers to the items of a list; a list that is not begun is begun by its first answer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.desk.acts.list_items import ItemFound, ListWritten, begun, go_on, tick
from buildlog.errors import InvalidInput
from buildlog.page.acts import doing
from buildlog.page.asked import Asked
from buildlog.page.came_of import ActAnswer
from buildlog.page.sent import Sent

if TYPE_CHECKING:
    from buildlog.desk.snapshot.opening import Ledger

_RESULTS = {"done": "pass", "fault": "fail", "not-done": "not-done",
            "does-not-apply": "not-applicable"}  # fmt: skip
_ONLY_VALUE = "value"  # Enter writes the value and answers nothing


def item(asked: Asked, sent: Sent) -> ActAnswer:
    """One item answered; or its value, note or photo alone."""
    name, slash, key = sent.needed("what", "the item").rpartition("/")
    if not slash:
        raise InvalidInput("this form names no item of a list", hint="load the page again")
    answer = sent.one("answer") or _ONLY_VALUE
    if answer != _ONLY_VALUE and answer not in _RESULTS:
        raise InvalidInput(f'"{answer}" is no answer', hint=", ".join(_RESULTS))

    def do(ledger: Ledger) -> ListWritten:
        if begun(ledger, name) is None:
            with doing.beside(ledger):
                go_on(ledger, name)
        taken = doing.photos(ledger, sent.files("photo"), f"{name}-{key}")
        every = answer == "done" and sent.one("every") == "yes"
        found = ItemFound(
            _RESULTS.get(answer),
            doing.measured_each(sent, "value", "unit", all_of_them=every),
            tuple(doing.listed(sent.one("codes"))),
            sent.given("note"),
            taken[-1] if taken else None,
            alone=answer == _ONLY_VALUE,
            fault="" if answer == "fault" else None,
        )
        return tick(ledger, key, found, name=name, by=asked.person)

    return doing.did(asked, sent, do, _said, changes=True)


def _said(written: ListWritten) -> str:
    item = written.item
    word = {one: word for word, one in _RESULTS.items()}[item.result] if item else "saved"
    return ", ".join(filter(None, (word.replace("-", " "), item.by if item else "")))
