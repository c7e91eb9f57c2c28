"""What the car waits for: a part, somebody's word, outside work; and that it came."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.desk.questions.waits import Wait, waits
from buildlog.page.drawing.form_fields import FormField, form_values
from buildlog.page.drawing.say import Ruled, brief_day, capital, counted
from buildlog.page.drawing.templating import drawn

if TYPE_CHECKING:
    from buildlog.page.asked import Asked

_KINDS = (("part", "a part"), ("go-ahead", "the go\N{WORD JOINER}-\N{WORD JOINER}ahead"),
          ("outside-work", "outside work"), ("other", "other"))  # fmt: skip


def page(asked: Asked) -> str:
    """What it waits for now, each with "It came"; below, one more."""
    found = waits(asked.car)
    fields = [
        FormField("strip", "waits", "What kind of thing", "part", options=_KINDS),
        FormField("text", "for", "Which part, whose word, what work"),
        FormField("date", "since", "Since, if not today"),
        FormField("date", "expected", "Expected"),
        FormField("text", "note", "Note"),
    ]
    shown = form_values(asked, fields)
    things = counted(len(found), "thing", "things")
    said = f"The car waits for {things}." if found else "What does the car wait for?"
    return drawn(
        "waiting", asked, said=said, waits=[(one.name, wait_row(one)) for one in found],
        fields=shown, at_field=any(one.wrong for one in shown), title="Waiting · buildlog",
    )  # fmt: skip


def wait_row(one: Wait, href: str = "") -> Ruled:
    """ "clutch", "expected 2 December", "a part, since 20 November, D-07"."""
    waiting = one.waiting
    kind = dict(_KINDS).get((waiting.waits_for or "other").replace(" ", "-"), "")
    expected = f"expected {brief_day(waiting.expected)}" if waiting.expected else ""
    told = [kind if kind != "other" else "", f"since {brief_day(waiting.since or waiting.date)}"]
    return Ruled(capital(waiting.what or one.name), href, expected,
                 ", ".join(filter(None, (*told, waiting.by, waiting.note))))  # fmt: skip


def waits_words(found: list[Wait]) -> str:
    """ "Waits for the clutch: a part, since 20 November"; of several the oldest."""
    if not found:
        return ""
    row = wait_row(found[0])
    more = f"; {counted(len(found) - 1, 'more', 'more')}" if len(found) > 1 else ""
    expected = f", {row.state}" if row.state else ""
    return f"Waits for {found[0].waiting.what or row.name}: {row.why}{expected}{more}"
