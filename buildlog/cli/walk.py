"""The walk around the car for `check --found`: a person at the terminal is asked for each part."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from buildlog.cli.common import at_terminal, open_ledger, say
from buildlog.errors import BuildlogError, UsageError
from buildlog.report.lines import wrap

if TYPE_CHECKING:
    from buildlog.desk.acts.walkround import Answers, Outcome, Stop, Walk

_KEYS: dict[str, Outcome] = {"r": "as-recorded", "d": "differs"}


def go_round(folder: Path | None, given: Path | None, **said: Any) -> None:
    """Walk around the car with a file of answers, else with the person at the terminal."""
    from buildlog.desk.acts import walkround
    from buildlog.report.as_text.steps_text import walk_lines

    with open_ledger(folder) as ledger:
        if given is None and not at_terminal():
            raise UsageError(
                "this needs a terminal where somebody answers",
                hint="buildlog check --found --answers FILE",
            )
        done = walkround.go_round(ledger, given or _ask, **said)
    say(walk_lines(done))


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
