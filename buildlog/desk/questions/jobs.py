"""A job: from the entry that carries a stage's name to the session that measured it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from buildlog.analysis.car.version import Version
from buildlog.desk.snapshot.snapshot import Snapshot


@dataclass(frozen=True)
class Job:
    """The entry that was named, and the version at its end, which bears its name."""

    named: Version
    end: Version

    def holds(self, version: Version) -> bool:
        """Whether an entry lies between the name and the end."""
        return self.named.number <= version.number <= self.end.number


def job_of(book: Snapshot, named: Version) -> Job:
    """The job that a name means, whichever of its entries carries it: that of the work, or that
    of the dyno. It ends with the first session after the work, unless another stage begins."""
    if named.number == 0:
        return Job(named, named)
    owned = {visit.name: visit.owner.number for visit in book.visits}
    for one in book.history[named.number - 1 :]:
        if any(owned.get(name, 0) >= named.number for name in one.sessions):
            return Job(named, _as_named(one, named))
        if one.kind == "handover" or (one.stage and one.number != named.number):
            break
    return Job(named, named)


def _as_named(end: Version, named: Version) -> Version:
    """The measured version under the name that was asked for; where a car was only found and its
    measuring has a name of its own, these are two."""
    if end.stage and end.number != named.number and named.kind != "build":
        return named
    return replace(end, stage=named.stage or end.stage)
