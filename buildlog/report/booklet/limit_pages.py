"""Limits: what is left of each, and who states it."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.analysis.margins.figures.margin_rows import Row, State
from buildlog.report.as_text.margins_text import left_words, past_words
from buildlog.report.booklet import document as doc
from buildlog.report.booklet import page_pictures
from buildlog.report.booklet.content import BookletContent
from buildlog.report.booklet.words import sentence
from buildlog.report.numbers import Display, count

_ORDER = [State.OVER, State.CLOSE, State.CLEAR]


def answers(rows: Sequence[Row]) -> list[Row]:
    """The limits that can be answered, worst first."""
    known = [
        one for one in rows if not one.kind.information and one.state is not State.UNKNOWN
    ]  # fmt: skip
    return sorted(known, key=lambda one: _ORDER.index(one.state))


def unknown_words(rows: Sequence[Row]) -> str:
    """ "5 limits are unknown, which is not clear."."""
    unknown = [one for one in rows if not one.kind.information and one.state is State.UNKNOWN]
    said = count(len(unknown), "limit is", "limits are")
    return f"{said} unknown, which is not clear." if unknown else ""


def margins_section(content: BookletContent, show: Display) -> doc.Section | None:
    """Every limit of the car today: the picture is the table; then who states each."""
    rows = content.margins
    if not rows:
        return None
    known = answers(rows)
    first = ""
    if known:
        left = f"{left_words(known[0], show)}{past_words(known[0])}"
        first = f"Closest is the {known[0].name}: {left}. "
    lead = doc.para(f"{first}These are distances from stated limits, not approvals.")
    blocks: list[doc.Block] = [lead, page_pictures.limits(content, show)]
    told = [(one, one.note or left_words(one, show)) for one in rows if one.kind.information]
    if told:
        said = " ".join(sentence(f"{one.name}, {what}") for one, what in told)
        blocks.append(doc.para(f"For information: {said}", tone="quiet"))
    return doc.Section("margins", "What is left of each limit", tuple(blocks), new_page=True)
