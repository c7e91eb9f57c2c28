"""The walk around the car for `check --found`: as recorded, differs, not seen."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from buildlog.analysis.found import LIST, OUTCOMES, Outcome, Stop, counts, items, walk
from buildlog.cli import filing
from buildlog.cli.common import say
from buildlog.errors import BuildlogError, InvalidInput, NotFound
from buildlog.records.checks import Check
from buildlog.records.paths import nearest
from buildlog.records.reading import parse_toml
from buildlog.report.lines import wrap
from buildlog.store.names import WORKING

if TYPE_CHECKING:
    from buildlog.cli.book import Book
    from buildlog.store.ledger import Ledger

_KEYS: dict[str, Outcome] = {"r": "as-recorded", "d": "differs"}
_HEADINGS = {"part", "set", "note"}


@dataclass
class Answers:
    """What was seen of each part, what is to be set in car.toml, and notes."""

    seen: dict[str, Outcome] = field(default_factory=dict)
    assignments: list[str] = field(default_factory=list)
    notes: dict[str, str] = field(default_factory=dict)


def go_round(
    ledger: Ledger, given: Path | None, by: str | None, odometer: str | None, on: dt.date
) -> None:
    """Walk, write what differs into car.toml and the walk into checks, name the line to type."""
    from buildlog.cli.book import Book

    book = Book(ledger)
    _refuse_unrecorded(book)
    stops = walk(book.history)
    car = book.ledger.read(WORKING, "car.toml")
    answers = from_file(given, stops) if given else _ask(stops, car)
    _write(ledger, book, stops, answers, filing.who(by), filing.odometer(book, odometer), on)
    number = counts(stops, answers.seen)
    said = ", ".join(f"{number[one]} {words}" for one, words in OUTCOMES.items())
    say(f"{len(stops)} parts: {said}")
    for stop in stops:
        if answers.seen.get(stop.path) == "differs":
            say(f"  differs  {stop.path}: {answers.notes.get(stop.path) or stop.recorded}")
    reading = f' --odometer "{odometer}"' if odometer else ""  # else that of the walk's own file
    say(f'next: buildlog record -m "as found" --kind found{reading}')


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
        owner = _owner(path, known)
        if owner:
            answers.seen[owner] = "differs"
    return answers


def _ask(stops: list[Stop], car: bytes) -> Answers:
    """Ask a person at the terminal for each part."""
    answers = Answers()
    say("r as recorded, d differs, Enter not seen, q stop")
    for number, stop in enumerate(stops, start=1):
        say(wrap(f"{number}/{len(stops)} {stop.name}: {stop.recorded}", 4, 0))
        answer = click.prompt("   ", default="", show_default=False, prompt_suffix="> ").strip()
        if answer == "q":
            break
        word, _, note = answer.partition(" ")
        if word not in _KEYS:
            continue
        answers.seen[stop.path] = _KEYS[word]
        if note:
            answers.notes[stop.path] = note
        if word == "d":
            answers.assignments += _differences(stop, car)
    return answers


def _differences(stop: Stop, car: bytes) -> list[str]:
    """What is in the car instead: FIELD=VALUE, the field below the part or a whole path.

    Each is tried at once: a slip must not cost the whole walk.
    """
    from buildlog.cli.editing import apply, split

    out: list[str] = []
    while True:
        line = click.prompt(
            f"   {stop.path}. FIELD=VALUE (Enter: done)",
            default="", show_default=False, prompt_suffix="> ",
        ).strip()  # fmt: skip
        if not line:
            return out
        try:
            path, value = split(line)
            assignment = f"{_whole(path, stop.path)}={value}"
            apply(car, [*out, assignment])
        except BuildlogError as error:
            say(str(error))
            continue
        out.append(assignment)


def _write(
    ledger: Ledger, book: Book, stops: list[Stop], answers: Answers, by: str | None,
    odometer: str | None, on: dt.date,
) -> None:  # fmt: skip
    from buildlog.cli.editing import apply

    before = ledger.read(WORKING, "car.toml")
    after = apply(before, answers.assignments)
    path = filing.free_path(ledger, "checks", f"{on}-{LIST}")
    head: filing.Fields = {"list": LIST, "title": "As recorded against as found", "date": on,
            "odometer": odometer}  # fmt: skip
    rows = items(stops, answers.seen, answers.notes, by, on)
    ledger.write_working(path, filing.text_of(Check, path, head, "item", rows))
    if after != before:
        ledger.write_working("car.toml", after, expect=before)


def _refuse_unrecorded(book: Book) -> None:
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
    from buildlog.records.configuration import Configuration
    from buildlog.records.paths import fields

    below = f"{part}.{path}"
    return below if "." not in path or below in fields(Configuration) else path


def _owner(path: str, known: list[str]) -> str | None:
    while path:
        if path in known:
            return path
        path = path.rpartition(".")[0]
    return None


def _typed(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)
