"""The pictures of the sheets, laid out for a phone, each with its values as a table beside it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from buildlog.desk.give.plotting import Drawn, Look, What, life_figure, plot, sheet_figure
from buildlog.desk.questions.visits import session_sheet
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError
from buildlog.page.drawing.say import display
from buildlog.page.drawing.templating import picture
from buildlog.report.numbers import Display
from buildlog.report.pictures.paper import Paper

if TYPE_CHECKING:
    from markupsafe import Markup

_ROWS = 10  # of the table beside a picture
LOOK = Look("sheet", bare=True)


class ScreenPicture(NamedTuple):
    """A picture, what is said below it, and its values."""

    svg: Markup
    caption: str = ""
    title: str = ""
    head: Sequence[str] = ()
    rows: Sequence[Sequence[str]] = ()


def life(book: Snapshot) -> ScreenPicture | None:
    """What each visit gave; None where nothing was measured."""

    def made(show: Display) -> ScreenPicture:
        drawn = life_figure(book, LOOK)
        told = "The axis does not start at 0; two dynos need not read alike."
        return _figure(drawn.paper, "life", told)

    return _once(book, "life", made)


def curves(book: Snapshot, *versions: str, what: What = "power") -> ScreenPicture | None:
    """Curves of versions with the difference of the first and the last."""

    def made(_: Display) -> ScreenPicture:
        return _of(plot(book, versions, what, look=LOOK))

    return _once(book, ("curves", versions, what), made)


def band(book: Snapshot, before: str, after: str) -> ScreenPicture | None:
    """What is predicted of a version from another's curve."""

    def made(_: Display) -> ScreenPicture:
        return _of(plot(book, (before, after), predicted=True, look=LOOK))

    return _once(book, ("band", before, after, tuple(book.ledger.plans().items())), made)


def session(book: Snapshot, name: str) -> ScreenPicture | None:
    """One session's curves, mixture and boost."""

    def made(_: Display) -> ScreenPicture:
        return _of(sheet_figure(book, session_sheet(book, name), look=LOOK))

    return _once(book, ("session", name), made)


def _of(drawn: Drawn) -> ScreenPicture:
    return _figure(drawn.paper, "curves", "; ".join(drawn.left_out))


def _figure(paper: Paper, name: str, caption: str) -> ScreenPicture:
    """A picture with the values that it tells where one points, as a table."""
    some = paper.readings[:: max(1, len(paper.readings) // _ROWS)]
    rows = [[text for text, _ in one.lines] for one in some]
    most = max((len(row) for row in rows), default=0)
    rows = [row for row in rows if len(row) == most]
    return ScreenPicture(picture(paper, name), caption, paper.title, paper.columns, rows)


def _once(
    book: Snapshot, key: object, make: Callable[[Display], ScreenPicture]
) -> ScreenPicture | None:
    """Made once as long as nothing changes that it hangs on: entries, sessions, units."""
    show = display(book)

    def made() -> ScreenPicture | None:
        try:
            return make(show)
        except (BuildlogError, ValueError):
            return None  # the sheet says in words what is not known

    hangs_on = (book.head, tuple(book.session_places), show.system)
    return book.of_content(("figure", key, hangs_on), made)
