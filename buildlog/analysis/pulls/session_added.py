"""Raw files added to a session: what was understood, what is written, what there is to say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from buildlog.analysis.car.written import Written
from buildlog.analysis.pulls.session_draft import Found, RawFile
from buildlog.analysis.pulls.sheet import Sheet


@dataclass(frozen=True)
class SessionAdded(Written):
    """A session with new pulls, worked out from what was written.

    `given` are the files' names as they were given, by the names under which they entered;
    `taken` the conditions that the files state; `entry` the number of the entry that first
    holds the session, where it is recorded already.
    """

    sheet: Sheet
    files: tuple[RawFile, ...]
    given: Mapping[str, str]
    taken: tuple[Found, ...]
    entry: int | None
