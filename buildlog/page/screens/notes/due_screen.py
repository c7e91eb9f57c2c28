"""What comes due at this car, and that it was done: oil, belt, a recheck of joints."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from buildlog.analysis.answers.due_steps import why
from buildlog.desk.questions.due_answers import comes_due
from buildlog.desk.snapshot.snapshot import today
from buildlog.page.drawing.kept_answers import kept
from buildlog.page.drawing.say import Ruled, brief_day, capital, counted, display, sentence
from buildlog.page.drawing.templating import drawn
from buildlog.report.as_text.due_text import left_words
from buildlog.report.in_units import in_units

if TYPE_CHECKING:
    from buildlog.analysis.workshop.due_book import DueState
    from buildlog.page.asked import Asked
    from buildlog.report.numbers import Display


def page(asked: Asked) -> str:
    """Each thing with its day or what is left, and the button that begins its interval anew."""
    book = asked.car
    show, day = display(book), today()
    states = kept(book, comes_due)
    late = sum(one.is_due(day) for one in states)
    said = "Nothing is set to come due."
    if states:
        now = capital(counted(late, "thing is", "things are")) if late else "Nothing is"
        said = f"{now} due now; {counted(len(states), 'thing comes', 'things come')} due in all."
    return drawn(
        "due", asked, said=said, things=[(one.name, _row(one, show, day)) for one in states],
        unit=show.unit("length").text, title="Due · buildlog",
        lead="" if states else "Things that come due are named at the computer: buildlog due add.",
    )  # fmt: skip


def _why(one: DueState, said: bool) -> str:
    """Why it comes due, and when, unless its state says so already."""
    about = "about " if one.estimated else ""
    return why(one).replace(f"; {about}{one.on}", "") if said and not one.missing else why(one)


def _row(one: DueState, show: Display, day: dt.date) -> Ruled:
    """ "engine oil", "due", "every 5000 mi or 12 months; 210 mi over"."""
    when = f"about {brief_day(one.on)}" if one.estimated else brief_day(one.on)
    state = "due" if one.is_due(day) else when if one.on else "unknown"
    left = left_words(one, show)
    over = one.left is not None and one.left < 0
    told = [f"{left}{'' if over else ' left'}" if left else "", in_units(_why(one, state == when))]
    return Ruled(capital(one.name), "", state, sentence("; ".join(filter(None, told))),
                 one.is_due(day))  # fmt: skip
