"""The walk around the car for `check --found`: as recorded, differs, not seen."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from buildlog.analysis.car.written import RecordWith
from buildlog.analysis.workshop.found import (
    LIST,
    OUTCOMES,
    WalkWritten,
    counts,
    items,
    walk,
)
from buildlog.analysis.workshop.found import Outcome as Outcome
from buildlog.analysis.workshop.found import Stop as Stop
from buildlog.desk.acts import filing, working_files
from buildlog.desk.acts.car_fields import CAR, apply, split
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import InvalidInput, NotFound
from buildlog.records.checks import Check
from buildlog.records.paths import nearest
from buildlog.records.toml.toml_read import parse_toml
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import WORKING

_HEADINGS = {"part", "set", "note"}


@dataclass
class Answers:
    """What was seen of each part, what is to be set in car.toml, and notes."""

    seen: dict[str, Outcome] = field(default_factory=dict)
    assignments: list[str] = field(default_factory=list)
    notes: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Walk:
    """A walk begun: what to look at, and the car.toml that it is compared with."""

    ledger: Ledger
    book: Snapshot
    stops: list[Stop]
    car: bytes


def go_round(
    ledger: Ledger,
    answers: Path | Callable[[Walk], Answers],
    *,
    by: str | None = None,
    odometer: str | None = None,
    on: dt.date | None = None,
) -> WalkWritten:
    """Walk around the car; what differs goes into car.toml, the walk into checks.

    The answers come from a file or from whoever is asked. InvalidInput while something is not
    recorded.
    """
    day, book = filing.day(on), Snapshot(ledger)
    _refuse_unrecorded(book)
    walked = Walk(ledger, book, walk(book.history), ledger.read(WORKING, CAR))
    given = from_file(answers, walked.stops) if isinstance(answers, Path) else answers(walked)
    paths = _written(walked, given, by, odometer, day)
    differing = [
        (stop.path, given.notes.get(stop.path) or stop.recorded)
        for stop in walked.stops
        if given.seen.get(stop.path) == "differs"
    ]
    meant = RecordWith("as found", kind="found", odometer=odometer)
    return WalkWritten(paths, meant, counts(walked.stops, given.seen), tuple(differing))


def difference(walked: Walk, stop: Stop, line: str, before: list[str]) -> str:
    """The assignment that FIELD=VALUE means at a stop: a field below the part, or a whole path.

    Tried at once, after those before it: a slip must not cost the whole walk.
    """
    path, value = split(line)
    assignment = f"{_whole(path, stop.path)}={value}"
    apply(walked.car, [*before, assignment])
    return assignment


def from_file(place: Path, stops: list[Stop]) -> Answers:
    """Answers from a TOML file: [part] path = "as-recorded", [set] field = value, [note]."""
    if not place.is_file():
        raise NotFound(f"there is no file {place}", hint="look at --answers")
    table = parse_toml(place.read_bytes(), place.name)
    unknown = set(table) - _HEADINGS
    if unknown:
        raise InvalidInput(f"[{sorted(unknown)[0]}] is not known", where=place.name,
                           hint="[part], [set] and [note]")  # fmt: skip
    known = [stop.path for stop in stops]
    answers = Answers(notes={k: str(v) for k, v in table.get("note", {}).items()})
    for path, word in table.get("part", {}).items():
        if path not in known:
            raise InvalidInput(f"{path} is not a part of this car", where=place.name,
                               hint=nearest(path, known))  # fmt: skip
        plain = str(word).replace(" ", "-")
        if plain not in OUTCOMES:
            raise InvalidInput(f'{path} is "{word}"', where=place.name,
                               hint=f"write {', '.join(OUTCOMES)}")  # fmt: skip
        answers.seen[path] = plain
    for path, value in table.get("set", {}).items():
        answers.assignments.append(f"{path}={_typed(value)}")
        answers.seen |= dict.fromkeys(_owner(path, known), "differs")
    return answers


def _written(
    walked: Walk, answers: Answers, by: str | None, odometer: str | None, on: dt.date
) -> tuple[str, ...]:
    """The files that were written; both are made before either is."""
    after = apply(walked.car, answers.assignments)
    reading, by = filing.odometer(walked.book, odometer), filing.who(by)
    head: filing.Fields = {"list": LIST, "title": "As recorded against as found", "date": on,
            "odometer": reading}  # fmt: skip
    rows = items(walked.stops, answers.seen, answers.notes, by, on)
    path, _ = filing.add(walked.ledger, ("checks", f"{on}-{LIST}"), Check, head, "item", rows)
    if after == walked.car:
        return (path,)
    working_files.change(walked.ledger, CAR, lambda _: after, walked.car)
    return (path, CAR)


def _refuse_unrecorded(book: Snapshot) -> None:
    if not book.history:
        raise NotFound(
            "nothing is recorded yet to compare the car with",
            hint='fill in car.toml, then buildlog record -m "as it came" --kind found',
        )
    working, newest = book.working, book.history[-1]
    if working.configuration != newest.configuration or working.checks:
        raise InvalidInput(
            "there are changes that are not recorded",
            why="all that an entry of kind found holds counts as found, not as done",
            hint='record them first: buildlog record -m "..."',
        )


def _whole(path: str, part: str) -> str:
    from buildlog.records.car.configuration import Configuration
    from buildlog.records.paths import fields

    below = f"{part}.{path}"
    return below if "." not in path or below in fields(Configuration) else path


def _owner(path: str, known: list[str]) -> list[str]:
    """The part that a path belongs to, if there is one."""
    return sorted((part for part in known if f"{path}.".startswith(f"{part}.")), key=len)[-1:]


def _typed(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)
