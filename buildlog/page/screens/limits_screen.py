"""Every limit of the car with what is left of it, the tightest first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING
from urllib.parse import quote

from buildlog.analysis.margins.figures.margin_rows import Row as Limit
from buildlog.analysis.margins.figures.margin_rows import State
from buildlog.desk.questions.limits import margins_of
from buildlog.page.drawing.say import Ruled, capital, counted, display, sentence
from buildlog.page.drawing.templating import drawn
from buildlog.report.as_text.margins_text import (
    CAUTION,
    left_words,
    number,
    past_words,
    power_words,
    spread,
    value,
)  # fmt: skip
from buildlog.report.as_text.margins_text import (
    sentence as said_of,
)
from buildlog.report.numbers import Display

if TYPE_CHECKING:
    from buildlog.page.asked import Asked

_STATES = (State.OVER, State.CLOSE, State.CLEAR, State.UNKNOWN)


def page(asked: Asked) -> str:
    """All limits by their state."""
    book = asked.car
    show, found = display(book), margins_of(book)
    counts = [one for one in found.rows if not one.kind.information]
    sections = [
        (state.value, [_row(asked, one, show) for one in counts if one.state is state])
        for state in _STATES
    ]
    known = [one for one in counts if one.state is not State.UNKNOWN]
    said = sentence(said_of(known[0], show)) if known else "No limit can be answered yet."
    return drawn(
        "limits", asked, said=capital(said), lead=sentence(power_words(found.subject, show)),
        sections=[one for one in sections if one[1]], caution=sentence(CAUTION),
        findings=found.findings, title="Limits · buildlog",
    )  # fmt: skip


def tightest(found: Sequence[Limit], show: Display) -> str:
    """ "Tightest: clutch torque, 5 % left"."""
    known = [one for one in found if one.state is not State.UNKNOWN and not one.kind.information]
    if not known:
        unknown = sum(not one.kind.information for one in found)
        return f"Limits: {counted(unknown, 'is unknown', 'are unknown')}"
    return f"Tightest: {known[0].name}, {left_words(known[0], show)}"


def rows(asked: Asked, found: Sequence[Limit], show: Display, most: int) -> list[Ruled]:
    """The tightest ones; of an empty answer the first unknown ones, which are not clear."""
    counts = [one for one in found if not one.kind.information]
    known = [one for one in counts if one.state is not State.UNKNOWN]
    return [_row(asked, one, show) for one in (known or counts)[:most]]


def _row(asked: Asked, one: Limit, show: Display) -> Ruled:
    href = asked.at(f"/explain/{quote(one.kind.name)}")
    if one.state is State.UNKNOWN:
        return Ruled(one.name, href, "unknown", sentence(f"missing: {', '.join(one.ask[:3])}"))
    load, limit = one.margin.demand, one.margin.capacity
    told = left_words(one, show)
    if load is not None and limit is not None:
        range_ = spread(load, one, show).removeprefix(", ")
        used = number(load.p50, one.kind, show) + (f" ({range_})" if range_ else "")
        told = f"{used} of {value(limit.p50, one.kind, show)}, {told}"
    look = one.state is State.OVER
    return Ruled(one.name, href, one.state.value, f"{told}; {one.basis}{past_words(one)}", look)
