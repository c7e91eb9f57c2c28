"""The parts in the car: which, since when, how far each has run."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote

from buildlog.analysis.workshop.partlife import PartLife
from buildlog.desk.questions.day_books import parts_now
from buildlog.page.drawing.kept_answers import kept
from buildlog.page.drawing.say import Ruled, brief_day, capital, counted, display, sentence
from buildlog.page.drawing.templating import drawn
from buildlog.report.numbers import Display

if TYPE_CHECKING:
    from buildlog.page.asked import Asked


def page(asked: Asked) -> str:
    """Every part with its distance; a tap leads to what can be done with it."""
    book = asked.car
    show = display(book)
    found = [one for one in kept(book, parts_now) if one.is_piece]
    fitted = sum(one.fitted is not None for one in found)
    word = asked.query.get("word", "").strip()
    rows = [row(asked, one, show) for one in found]
    shown = [one for one in rows if word.casefold() in f"{one.name} {one.why}".casefold()]
    said = (
        f"{capital(counted(len(found), 'part is', 'parts are'))} known; "
        f"{counted(fitted, 'was', 'were')} fitted in this ledger."
        if found
        else "No part is written down yet."
    )
    if word and found:
        said = sentence(f"{counted(len(shown), 'part has', 'parts have')} “{word}”")
    lead = "Which one was fitted, removed, swapped or put back?"
    if not found:
        lead = "A part is known by its fields: maker, number, or what it is."
    return drawn(
        "parts", asked, said=said, lead=lead, known=bool(found), rows=shown, word=word,
        title="Parts · buildlog",
    )  # fmt: skip


def row(asked: Asked, one: PartLife, show: Display) -> Ruled:
    """One part: what it is, how far it has run, what is left of its break-in."""
    return Ruled(
        capital(one.name), asked.at(f"parts/{quote(one.path, safe='')}"), run(one, show),
        "; ".join(filter(None, (one.identity.words or "maker and number unknown", _since(one),
                                _break_in(one, show)))),
    )  # fmt: skip


def run(one: PartLife, show: Display) -> str:
    """How far it has run."""
    return show.distance(one.distance) if one.distance is not None else "distance unknown"


def _since(one: PartLife) -> str:
    if one.fitted is None:
        return "there before this ledger"
    if one.fitted_on is None:
        return "not recorded yet"
    return f"fitted {brief_day(one.fitted_on)}{f' by {one.by}' if one.by else ''}"


def _break_in(one: PartLife, show: Display) -> str:
    if one.break_in is None:
        return ""
    if one.break_in_left is None:
        return "break-in unknown"
    return f"break-in: {show.distance(one.break_in_left)} left" if one.break_in_left else (
        "break-in done"
    )  # fmt: skip
