"""Files of other loggers added to a session: how each was laid over its pull."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from buildlog.analysis.car.written import Written
from buildlog.analysis.pulls.log_agreement import LogBeside, TwoSources
from buildlog.analysis.pulls.session_draft import RawFile


@dataclass(frozen=True)
class LogsAdded(Written):
    """Logs in a session, as they were laid over its pulls.

    `given` are the files' names as they were given, by the names under which they entered; `paired`
    says how a file's pull was chosen where nobody named it; `entry` the number of the entry that
    first holds the session, where it is recorded already.
    """

    session: str
    axis: str
    files: tuple[RawFile, ...]
    given: Mapping[str, str]
    logs: tuple[LogBeside, ...]
    doubled: tuple[TwoSources, ...]
    paired: str | None
    entry: int | None
