"""The walk around the car for `check --found`: a person at the terminal is asked for each part."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli.common import say
from buildlog.errors import BuildlogError
from buildlog.report.lines import wrap

if TYPE_CHECKING:
    from buildlog.analysis.workshop.found import Outcome, Stop
    from buildlog.desk.acts.walkround import Answers, Walk
    from buildlog.store.ledger.ledger import Ledger

_KEYS: dict[str, Outcome] = {"r": "as-recorded", "d": "differs"}


def go_round(
    ledger: Ledger, given: Path | None, by: str | None, odometer: str | None, on: dt.date
) -> None:
    """Walk, write what differs into car.toml and the walk into checks, name the line to type."""
    from buildlog.analysis.workshop.found import OUTCOMES
    from buildlog.desk.acts.walkround import begin, finish, from_file

    walked = begin(ledger)
    stops = walked.stops
    answers = from_file(given, stops) if given else _ask(walked)
    number = finish(walked, answers, by, odometer, on)
    said = ", ".join(f"{number[one]} {words}" for one, words in OUTCOMES.items())
    say(f"{len(stops)} parts: {said}")
    for stop in stops:
        if answers.seen.get(stop.path) == "differs":
            say(f"  differs  {stop.path}: {answers.notes.get(stop.path) or stop.recorded}")
    reading = f' --odometer "{odometer}"' if odometer else ""  # else that of the walk's own file
    say(f'next: buildlog record -m "as found" --kind found{reading}')


def _ask(walked: Walk) -> Answers:
    """Ask a person at the terminal for each part."""
    from buildlog.desk.acts.walkround import Answers

    answers, stops = Answers(), walked.stops
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
            answers.assignments += _differences(walked, stop)
    return answers


def _differences(walked: Walk, stop: Stop) -> list[str]:
    """What is in the car instead, line by line."""
    from buildlog.desk.acts.walkround import difference

    out: list[str] = []
    while True:
        line = click.prompt(
            f"   {stop.path}. FIELD=VALUE (Enter: done)",
            default="", show_default=False, prompt_suffix="> ",
        ).strip()  # fmt: skip
        if not line:
            return out
        try:
            out.append(difference(walked, stop, line, out))
        except BuildlogError as error:
            say(str(error))
