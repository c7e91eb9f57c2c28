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
    lead = "" if rows else "Add the files as the dyno wrote them."
    if not visits:
        said = "The car was never on a dyno."
    else:
        said = f"{said[:-1]}; the newest gave {_peak(book, visits[0].name, show)}."
    return drawn("dyno", asked, said=said, lead=lead, rows=rows, title="Dyno · buildlog")


def _row(asked: Asked, book: Snapshot, name: str, show: Display) -> Ruled:
    session = book.session(name)
    owner, new = book.owner(name), name in book.working.sessions
    short = name[11:] or name
    of = f"of {owner.name}" if owner.name not in (short, "working") else ""
    told = [of, "not recorded yet" if new else "", session.place or ""]
    peak = _peak(book, name, show)
    return Ruled(
        short, asked.at(f"dyno/{quote(name)}"),
        f"{brief_day(session.date)}, {peak}", capital(", ".join(filter(None, told))),
    )  # fmt: skip


def _peak(book: Snapshot, name: str, show: Display) -> str:
    """ "207 ± 2 hp", or that it cannot be read."""
    try:
        return peak_words(pooled(book, book.sheet(name)), show)
    except (BuildlogError, ValueError):
        return "what its own sheet says"
