"""What is to be done and what a look at the working files found, for other programs."""

from __future__ import annotations

from typing import Any

from buildlog.analysis.answers.look_answers import CheckReading
from buildlog.analysis.answers.next_steps import STEP_WORDS, Action, Blocked, Next
from buildlog.report.as_json.json_parts import finding_json
from buildlog.report.as_json.waits_json import wait_json
from buildlog.report.numbers import kilometres


def next_json(found: Next) -> dict[str, Any]:
    """The body of `next --json`; distances in km."""
    return {
        "next": [{**_step(one), "command": one.command, **_left(one)} for one in found.actions],
        "blocked": [{**_step(one), "gate": one.gate, **_left(one)} for one in found.blocked],
        "waiting": [wait_json(one) for one in found.waits],
        "never_measured": found.never_measured,
        "findings": [finding_json(one) for one in found.findings],
    }


def _step(one: Action | Blocked) -> dict[str, Any]:
    return {"step": one.step, "why": one.why, "who": one.who}


def _left(one: Action | Blocked) -> dict[str, Any]:
    return {"distance_km": kilometres(one.distance)}


def check_json(found: CheckReading) -> dict[str, Any]:
    """The body of `check --json`."""
    return {
        "files": found.read,
        "findings": [finding_json(one) for one in found.findings],
        "blocked": [
            {"step": STEP_WORDS[gate.step], "why": gate.why, "gate": gate.code}
            for gate in found.gates
        ],
        "missing": [{"for": one.computation, "fields": list(one.fields)} for one in found.missing],
    }
