"""The sessions on dynos, newest first, with what each gave."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote

from buildlog.desk.questions.visits import pooled
from buildlog.errors import BuildlogError
from buildlog.page.drawing.say import Ruled, brief_day, capital, counted, display
from buildlog.page.drawing.templating import drawn
from buildlog.report.as_text.sheet_text import peak_words

if TYPE_CHECKING:
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.page.asked import Asked
    from buildlog.report.numbers import Display


def page(asked: Asked) -> str:
    """One row a session."""
    book = asked.car
    show = display(book)
    visits = sorted(book.visits, key=lambda one: one.session.date, reverse=True)
    rows = [_row(asked, book, one.name, show) for one in visits]
    said = f"{capital(counted(len(rows), 'session', 'sessions'))} on dynos."
    if visits:
        said = f"{said[:-1]}; the newest gave {_peak(book, visits[0].name, show)}."
    return drawn("dyno", asked, said=said, rows=rows, title="Dyno · buildlog")


def _row(asked: Asked, book: Snapshot, name: str, show: Display) -> Ruled:
    session = book.session(name)
    owner, new = book.owner(name), name in book.working.sessions
    told = [owner.name, "not recorded" if new else "", session.place or ""]
    peak = _peak(book, name, show)
    return Ruled(
        f"{name[11:] or name}", asked.at(f"dyno/{quote(name)}"),
        f"{brief_day(session.date)}, {peak}", ", ".join(filter(None, told)),
    )  # fmt: skip


def _peak(book: Snapshot, name: str, show: Display) -> str:
    """ "207 ± 2 hp", or that it cannot be read."""
    try:
        return peak_words(pooled(book, book.sheet(name)), show)
    except (BuildlogError, ValueError):
        return "what its own sheet says"
