"""What to do now, from the history and the working files alone."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.analysis.answers.next_steps import Next, next_steps
from buildlog.analysis.margins.all_margins import states
from buildlog.desk.questions.limits import limits_of

if TYPE_CHECKING:
    from buildlog.desk.snapshot.snapshot import Snapshot


def what_next(book: Snapshot) -> Next:
    """What is due, what is held up and why. Nothing here depends on a dyno."""
    margins = states(limits_of(book).rows(book.working))
    return next_steps(book.until_now, book.papers, margins)
