"""From one car's history to the facts that a list of many cars needs, and who has a part.

The facts of a car are plain dicts of texts and numbers, because they are kept between calls;
every distance is in metres, every power in watts, every day an ISO date.
"""

from __future__ import annotations

import fnmatch
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from buildlog.analysis.answers.next_steps import STEP_WORDS
from buildlog.analysis.car.changes import changes, power_neutral
from buildlog.analysis.car.history_files import HistoryFiles, match
from buildlog.analysis.car.version import Version
from buildlog.analysis.margins.figures.margin_rows import Row
from buildlog.analysis.workshop import fault_book
from buildlog.analysis.workshop.check_book import counted, newest_lists, unfinished
from buildlog.analysis.workshop.due_book import due_states
from buildlog.analysis.workshop.fastener_book import joints
from buildlog.analysis.workshop.gates import Gate, closed, gates
from buildlog.analysis.workshop.wait_book import Wait, open_waits
from buildlog.errors import InvalidInput
from buildlog.findings import how_many
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import field
from buildlog.records.key_words import key_words
from buildlog.records.paths import Field, Value, fields, leaves, nearest, parts, same_value
from buildlog.units import DIMENSIONS, Quantity, parse, same

Facts = dict[str, Any]

_INDUCTION = field("induction.kind")
# What holds a car up comes in this order; forced-induction work is a wish, not a hold-up.
_HOLDING = ("running", "light-load-check", "pull", "hand-back")


# One car


def standing(
    history: Sequence[Version],
    papers: HistoryFiles,
    margins: Sequence[Row],
    last_power: tuple[float, str] | None,
) -> Facts:
    """Where a car stands by its recorded history: stage, hold-ups, tightest margin, what is due.

    `margins` are tightest first; `last_power` is the newest measured peak [W] and its day.
    """
    newest = history[-1]
    staged = next((v for v in reversed(history) if v.stage), None)
    states = {row.name: row.state.value for row in margins if not row.kind.information}
    found = gates(history, papers, states)
    held = [gate for step in _HOLDING for gate in closed(found, step)]  # type: ignore[arg-type]
    return {
        "id": history[0].id,
        "head": newest.id,
        "entry": newest.number,
        "name": newest.configuration.car.name,
        "stage": staged.stage if staged else None,
        "since": _day(staged or newest),
        "date": _day(newest),
        "odometer": newest.odometer,
        "odometer_text": newest.odometer_text,
        "holds_up": [_held(gate) for gate in held],
        "tightest": _tightest(margins),
        "last_power": last_power[0] if last_power else None,
        "last_power_day": last_power[1] if last_power else None,
        "due": [*_due(history, papers, found)],
        "waits": [_wait(one) for one in open_waits(papers.waits)],
    }


def _wait(one: Wait) -> Facts:
    expected = one.waiting.expected
    return {
        "what": one.what,
        "waits_for": one.waiting.waits_for,
        "since": str(one.since),
        "expected": str(expected) if expected else None,
    }


def _held(gate: Gate) -> Facts:
    step = STEP_WORDS[gate.step]
    return {"step": step, "why": gate.why, "gate": gate.code, "left": gate.distance}


def _tightest(margins: Sequence[Row]) -> Facts | None:
    """The tightest margin that answers; one that is unknown only where none does."""
    told = [row for row in margins if not row.kind.information]
    if not told:
        return None
    row = next((row for row in told if row.state.value != "unknown"), told[0])
    left = row.margin.left.p50 if row.margin.left is not None else None
    return {
        "name": row.name,
        "state": row.state.value,
        "left": left,
        "ratio": row.kind.rule.value == "ratio",
        "unit": row.kind.unit,
        "basis": row.basis,
    }


def _due(
    history: Sequence[Version], papers: HistoryFiles, found: Sequence[Gate]
) -> Iterator[Facts]:
    """Break-ins, joints, open lists, open faults, and a change that was not measured yet."""
    for state in fault_book.open_faults(history, papers):
        what = state.fault.symptom or state.name
        where = f" ({state.fault.part})" if state.fault.part else ""
        yield _item("fault", f"{what}{where}", since=str(state.fault.date))
    for gate in closed(found, "pull"):
        if gate.code == "break-in":
            yield _item("break-in", gate.brief or gate.why, gate.distance)
    for joint in joints(history, papers):
        if joint.due == "due":
            yield _item("re-torque", joint.joint.joint, joint.left)
        elif joint.due == "unknown":
            cycles = joint.joint.retorque_cycles
            why = "if driven far enough: no odometer"
            if cycles is not None and joint.left_cycles is None:
                why = f"after {how_many(cycles, 'heat cycle')}: none counted"
            yield _item("re-torque", f"{joint.joint.joint}, {why}")
    for done in newest_lists(history, papers):
        left = unfinished(done.check)
        if left:
            ticked, of = counted(done.check)
            text = f"{done.check.list} ({ticked} of {of} done)"
            yield _item("checklist", text, since=str(done.check.date))
    for one in due_states(history, papers):
        since = str(one.since) if one.since else None
        on, over = (
            str(one.on) if one.on else None,
            one.left_count is not None and one.left_count <= 0,
        )
        yield {**_item("due", one.name, one.left, since), "on": on, "over": over}
    measured = match(history[-1], papers.visits)
    if measured is None and papers.visits:
        last = max(papers.visits, key=lambda visit: visit.session.date)
        yield _item("re-check", "changed since its last session", since=str(last.session.date))


def _item(code: str, what: str, left: float | None = None, since: str | None = None) -> Facts:
    return {"code": code, "what": what, "left": left, "since": since}


def faults(history: Sequence[Version], papers: HistoryFiles) -> list[Facts]:
    """Every fault with the part that failed and the distance it had run."""
    found = []
    for state in fault_book.faults(history, papers):
        life = state.part
        found.append(
            {
                "part": state.fault.part,
                "maker": life.identity.maker if life else None,
                "number": life.identity.number if life else None,
                "distance": state.part_distance,
                "why": state.part_why,
                "day": str(state.fault.date),
                "symptom": state.fault.symptom or state.name,
                "open": state.open,
            }
        )
    return found


def spans(history: Sequence[Version]) -> list[Facts]:
    """Every value any field ever had: from which entry to which, with days and odometers."""
    open_spans: dict[str, tuple[Value, Facts]] = {}
    found: list[Facts] = []
    before: Configuration | None = None
    for version in history:
        if version.configuration is before:
            continue
        before = version.configuration
        values = leaves(before)
        for path in [path for path in open_spans if path not in values]:
            open_spans.pop(path)[1]["to"] = _point(version)
        for path, value in values.items():
            if path in open_spans and same_value(open_spans[path][0], value):
                continue
            if path in open_spans:
                open_spans[path][1]["to"] = _point(version)
            span: Facts = {"path": path, **_value(value), "from": _point(version), "to": None}
            open_spans[path] = (value, span)
            found.append(span)
    return found


def _value(value: Value) -> Facts:
    if isinstance(value, Quantity):
        return {"text": value.text, "dimension": value.dimension}
    if isinstance(value, tuple):
        each = [v.text if isinstance(v, Quantity) else str(v) for v in value]
        kind = {v.dimension for v in value if isinstance(v, Quantity)}
        return {"text": ", ".join(each), "items": each, "dimension": kind.pop() if kind else None}
    if isinstance(value, bool):
        return {"text": "true" if value else "false"}
    return {"text": f"{value:.12g}" if isinstance(value, float) else str(value)}


def _point(version: Version) -> Facts:
    return {
        "entry": version.number,
        "day": _day(version),
        "odometer": version.odometer,
        "found": version.kind in ("found", "earlier"),
    }


def _day(version: Version) -> str | None:
    return version.date.isoformat() if version.date else None


def kind_of_change(before: Configuration, after: Configuration) -> str:
    """What was changed between two measured versions, as the shop would call the work.

    The assemblies that can move the dyno's needle; another induction is named first and alone.
    """
    made = [change for change in changes(before, after) if not power_neutral(change.path)]
    for change in made:
        if change.path == _INDUCTION:
            return f"to {str(change.new or 'naturally-aspirated').replace('_', ' ')}"
    tables = list(dict.fromkeys(key_words(change.assembly) for change in made))
    if len(tables) > 1 and "calibration" in tables:
        tables.remove("calibration")  # hardly any part is changed without one
        return f"{' + '.join(tables)}, calibrated" if len(tables) < 4 else "many assemblies"
    return " + ".join(tables) if len(tables) < 4 else "many assemblies"


# Finding a part


@dataclass(frozen=True)
class Sought:
    """PATH=VALUE. A path may be the end of one; names and texts may hold * and ?.

    A quantity is sought physically, and a list has each of its items.
    """

    path: str
    text: str
    quantities: tuple[Quantity, ...]

    def fits(self, span: Mapping[str, Any]) -> bool:
        """Whether a span is of this field and had this value."""
        if not at_end(span["path"], self.path):
            return False
        texts = [span["text"], *span.get("items", ())]
        return any(self._is(text, span.get("dimension")) for text in texts)

    def _is(self, text: str, dimension: str | None) -> bool:
        if dimension and self.quantities:
            return any(_alike(one, text, dimension) for one in self.quantities)
        return fnmatch.fnmatchcase(text.casefold(), self.text.casefold())


def sought(argument: str) -> Sought:
    """What `--find` asks for; InvalidInput where it is no PATH=VALUE or no such field exists."""
    path, sign, text = argument.partition("=")
    path, text = path.strip(), text.strip()
    if not sign or not path or not text:
        raise InvalidInput(
            f"{argument!r} is no PATH=VALUE", hint='write --find "fuel.pump.part.number=FP-23"'
        )
    readings = tuple(_readings(text))
    _refuse_unfit(_fields(path), path, text, readings)
    return Sought(path, text, readings)


@cache
def at_end(path: str, wanted: str) -> bool:
    """Whether a path is the wanted one or ends in it; items of lists need not be named.

    >>> at_end("fuel.pump.part.number", "pump.part.number"), at_end("fuel.pump.flow", "ump.flow")
    (True, False)
    >>> at_end("work[respray].part.number", "work.part.*"), at_end("a.b.c", "*.c")
    (True, True)
    """
    asked = parts(wanted)
    return any(_ends(parts(one), asked) for one in (path, re.sub(r"\[[^\]]*\]", "", path)))


def _ends(names: Sequence[str], asked: Sequence[str]) -> bool:
    last = names[len(names) - len(asked) :] if len(asked) <= len(names) else []
    return bool(last) and all(map(fnmatch.fnmatchcase, last, asked))


def _fields(path: str) -> list[Field]:
    """The fields that a path may mean."""
    known = {name.replace("[]", ""): field for name, field in fields(Configuration).items()}
    plain = re.sub(r"\[[^\]]*\]", "", path)
    found = [field for name, field in known.items() if at_end(name, plain)]
    if not found:
        raise InvalidInput(f"{path} is not a field", hint=nearest(plain, known))
    return found


def _refuse_unfit(
    found: Sequence[Field], path: str, text: str, readings: Sequence[Quantity]
) -> None:
    """A value that none of the fields can have, because its unit is of another kind."""
    asked = {name for field in found if field.measure for name in field.measure.names}
    measured = all(field.measure for field in found)
    wild = not readings and set("*?") & set(text)
    if measured and not wild and not asked & {reading.dimension for reading in readings}:
        kinds = " or ".join(sorted(kind.replace("_", " ") for kind in asked))
        raise InvalidInput(
            f"{text!r} is no {kinds}, as {path} is", hint="write the number with its unit"
        )


def _readings(text: str) -> Iterator[Quantity]:
    for dimension in DIMENSIONS:
        try:
            yield parse(text, (dimension,))
        except InvalidInput:
            continue


def _alike(wanted: Quantity, text: str, dimension: str) -> bool:
    try:
        return same(wanted, parse(text, (dimension,)))
    except InvalidInput:
        return False
