"""The makers' sheets of joints with how far each is, the joints that were tightened, and a sheet
to be read in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING
from urllib.parse import quote

from buildlog.analysis.car.sheet_book import ENDING, SheetState
from buildlog.analysis.workshop.fastener_book import JointState
from buildlog.desk.questions.day_books import joints, sheets
from buildlog.page.drawing.say import Ruled, brief_day, capital, counted, display
from buildlog.page.drawing.templating import drawn
from buildlog.report.as_text.day_text import tightening_range
from buildlog.report.as_text.due_text import again_words
from buildlog.report.numbers import Display, all_in, count
from buildlog.units import Quantity

if TYPE_CHECKING:
    from buildlog.page.asked import Asked


def page(asked: Asked) -> str:
    """Sheets that are not done first."""
    book = asked.car
    show, found = display(book), sheets(book.ledger)
    still = [one for one in found if not one.done]
    rows = [_sheet(asked, one) for one in (*still, *(one for one in found if one.done))]
    single = [_joint(one, show) for one in reversed(joints(book))]
    said = (
        f"{capital(counted(len(still), 'sheet is', 'sheets are'))} not finished." if still
        else f"No sheet is open; {counted(len(single), 'joint is', 'joints are')} on record."
    )  # fmt: skip
    return drawn("joints", asked, said=said, sheets=rows, joints=single, title="Joints · buildlog")


def _sheet(asked: Asked, one: SheetState) -> Ruled:
    done = "done" if one.done else f"{one.finished} of {count(len(one.joints), 'joint')}"
    name = one.name.removesuffix(ENDING)
    why = ", ".join(filter(None, (brief_day(one.sheet.date), one.sheet.source)))
    return Ruled(one.sheet.title, asked.at(f"joints/{quote(name)}"), done, why)


def _joint(one: JointState, show: Display) -> Ruled:
    """What a joint got, against what was asked for, and whether it is due again."""
    joint = one.joint
    got = sorted(filter(None, (each.torque for each in joint.fastener)), key=lambda one: one.si)
    spec = [one for one in (joint.spec_low, joint.spec_high) if one]
    told = [_ends(got) or "no torque", f"asked {_ends(spec)}" if spec else ""]
    left = f", again {again_words(one, show)}" if one.due == "later" else ""
    due = {"due": "due again", "unknown": "due again, if run far enough"}.get(one.due, "")
    wrong = any(found.severity != "note" for found in one.findings)
    said = "; ".join(filter(None, told))
    why = ", ".join(filter(None, (said, joint.by))) + left
    return Ruled(joint.joint, "", due or brief_day(joint.date), why, wrong)


def _ends(values: Sequence[Quantity]) -> str:
    """ "31.0 to 35.4 lb*ft (42 to 48 N*m)": in brackets as it was typed, which is what the tool
    shows, where the car's own units are others."""
    told = tightening_range(values)
    with all_in(None):
        typed = tightening_range(values)
    return told if told == typed else f"{told} ({typed})"
