"""What is in the car at a version, since when, and what a field was before."""

from __future__ import annotations

from buildlog.analysis.car.changes import life, origins
from buildlog.analysis.car.version import Version
from buildlog.analysis.workshop.partlife import PartLife
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import UsageError
from buildlog.records.configuration import Configuration
from buildlog.records.paths import Value, field_at, nearest


def since_when(book: Snapshot, version: Version) -> dict[str, Version]:
    """For each path of a version, the version in which it got that value."""
    if version.number:
        return origins(book.history[: version.number])
    return origins([*book.history, version])


def parts_at(book: Snapshot, version: Version) -> list[PartLife]:
    """The parts at a version, with the distance on each."""
    from buildlog.analysis.workshop.partlife import part_at

    return part_at(book.until_now if version.working else book.history, version)


def field_life(book: Snapshot, path: str) -> list[tuple[Version, Value | None]]:
    """Each value that a field has had, with the entry that brought it; none for one that was
    never given. InvalidInput for a name that is no field's."""
    course = life(book.history, path)
    if not course:
        field_at(Configuration, path)  # says what was probably meant
    return course


def refuse_no_assembly(name: str) -> None:
    """UsageError for a table that a configuration has not, with the one probably meant."""
    known = list(Configuration.model_fields)
    if name not in known:
        raise UsageError(f'there is no assembly "{name}"', hint=nearest(name, known))
