"""What the customer gets: one file that holds all of it, with photos chosen one by one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.desk.give.customers_file import quotes_behind, stage_told
from buildlog.desk.questions.plans import plan_names
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
    stage = asked.query.get("stage") or asked.typed.get("stage") or (stages[-1] if stages else "")
    if not stage:
        return drawn(
            "said", asked, said="Nothing can be sent yet: no stage has a name.", where="", why="",
            named=True, hint="Name the stage when it is recorded.",
            title="For the customer · buildlog",
        )  # fmt: skip
    told = stage_told(book, stage)
    photos = [(one.path, one.caption or one.path.removeprefix("attachments/"))
              for one in told.attachments if one.path.lower().endswith(_PICTURES)]  # fmt: skip
    return drawn(
        "customer", asked, said="".join(span.text for span in lead(told, display(book))),
        lead="One file to send: what was done and what it gave. No other car, and of the VIN the "
        "last six letters alone.",
        stages=[(one, one) for one in reversed(stages)], stage=stage, photos=photos,
        priced=any(quotes_behind(book, told)), plans=plan_names(book),
        title="For the customer · buildlog",
    )  # fmt: skip
