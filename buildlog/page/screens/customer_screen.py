"""What the customer gets: one file that holds all of it, with photos chosen one by one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.desk.give.packing import stage_content
from buildlog.desk.questions.plans import plan_names
from buildlog.errors import NotFound
from buildlog.page.drawing.say import display
from buildlog.page.drawing.templating import drawn
from buildlog.report.booklet.front import lead

if TYPE_CHECKING:
    from buildlog.page.asked import Asked

_PICTURES = (".jpg", ".jpeg", ".png")


def page(asked: Asked) -> str:
    """What the file will say first, and what may be added to it."""
    book = asked.car
    stages = [one.stage for one in book.entries if one.stage]
    stage = asked.query.get("stage") or (stages[-1] if stages else "")
    if not stage:
        raise NotFound("no stage has a name yet", hint="name the stage when it is recorded")
    told = stage_content(book.ledger, (stage,))
    photos = [one.path for one in told.attachments if one.path.lower().endswith(_PICTURES)]
    return drawn(
        "customer", asked, said="".join(span.text for span in lead(told, display(book))),
        lead="One file to send: no prices, no other car, no whole VIN, no photo unless chosen.",
        stages=[(one, one) for one in reversed(stages)], stage=stage, photos=photos,
        plans=plan_names(book), title="For the customer · buildlog",
    )  # fmt: skip
