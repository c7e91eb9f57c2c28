"""Gates: what must not be started before something else is done, from the history alone.

Each step of the work (forced-induction work, running, a light-load check, a pull, hand-back) has
gates. A gate is open or closed, says why, and who can open it. No gate depends on a dyno: a car
that is never measured passes them all on the road.

A pull that was recorded before its gate is kept and flagged: `pull_findings`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal, get_args

from buildlog.analysis.car import sheet_book
from buildlog.analysis.car.history_files import HistoryFiles, Visit, index_of
from buildlog.analysis.car.version import Version
from buildlog.analysis.workshop import calibration_match, partlife
from buildlog.analysis.workshop.check_book import Done, newest_lists, spread, unfinished
from buildlog.analysis.workshop.fault_book import open_faults
from buildlog.analysis.workshop.list_fit import FORCED
from buildlog.analysis.workshop.partlife import PartLife
from buildlog.findings import Finding, Severity, how_many
from buildlog.records.checked_paths import table
from buildlog.records.checks import Step
from buildlog.records.paths import same_value

STEPS: tuple[Step, ...] = get_args(Step)
SPREAD_LIMIT = 0.10  # compression, of the highest; leakage, between cylinders (common practice)
_ENGINE = table("engine")
_WORKED_ON = (
    table("induction"),
    table("induction.compressor"),
    table("induction.turbine"),
    table("induction.charge_cooler"),
)
TECHNICIAN, CALIBRATOR, OWNER = "technician", "calibrator", "owner-builder"


@dataclass(frozen=True)
class Gate:
    """One condition before one step. `code` names the condition, `distance` [m] what is left,
    `list` the checklist that opens it, `brief` says why in the fewest words, beside the code."""

    step: Step
    code: str
    state: Literal["open", "closed"]
    why: str
    who: str
    finding: Finding | None = None
    distance: float | None = None
    list: str | None = None
    brief: str | None = None


def gates(
    history: Sequence[Version], papers: HistoryFiles, margins: Mapping[str, str] | None = None
) -> list[Gate]:
    """Every gate that applies to the last version, in the order of the work.

    `margins` gives the state of each margin by name ("over" closes the gate), where known.
    """
    found: list[Gate] = []
    for one in (_compression, _first_start, _unfinished, _sheets, _calibration, _light_load,
                _break_in):  # fmt: skip
        found += one(history, papers)
    found += _faults(history, papers)
    found += _margins(margins or {})
    found += _hand_back(history, papers)
    return sorted(_once(found), key=lambda gate: STEPS.index(gate.step))


def _once(found: Sequence[Gate]) -> list[Gate]:
    """A list that is begun and that a step waits for anyway is one gate, not two."""
    begun = {gate.list: gate for gate in found if gate.code == "check-unfinished"}
    waiting = {gate.code for gate in closed(found) if gate.code in begun}
    return [
        replace(gate, why=begun[gate.code].why, list=gate.code) if gate.code in waiting else gate
        for gate in found
        if gate.list not in waiting
    ]


def closed(found: Sequence[Gate], step: Step | None = None) -> list[Gate]:
    """The closed gates, of one step or of all."""
    return [gate for gate in found if gate.state == "closed" and step in (None, gate.step)]


def pull_findings(history: Sequence[Version], papers: HistoryFiles) -> list[Finding]:
    """Pulls that were recorded before their gate: they are kept and flagged."""
    found: list[Finding] = []
    ages = partlife.Ages(history)
    for index, visit in papers.visits_in(history):
        found += _early_break_in(ages, index, visit)
        found += _early_light_load(history, papers, index, visit)
        found += _with_open_fault(history, papers, index, visit)
    return found


# Before a step


def _compression(history: Sequence[Version], papers: HistoryFiles) -> Iterator[Gate]:
    if _forced(history[-1]) or history[-1].configuration.car.power_source == "electric":
        return
    limit = f"{100 * SPREAD_LIMIT:.0f} % is usual at most (common practice)"
    for name in ("compression", "leakage"):
        value = spread(history, papers, name)
        if value is None:
            why = f"{name} of each cylinder is not recorded (intake list)"
            yield Gate("forced-induction-work", f"{name}-unknown", "closed", why, TECHNICIAN)
        elif value > SPREAD_LIMIT:
            why = f"{name} differs by {100 * value:.0f} % between cylinders, {limit}"
            finding = Finding(f"{name}-spread", "caution", why, (_ENGINE,))
            yield Gate("forced-induction-work", f"{name}-spread", "closed", why, OWNER, finding)
        else:
            why = f"{name} within {100 * value:.0f} %, {limit}"
            yield Gate("forced-induction-work", f"{name}-spread", "open", why, TECHNICIAN)


def _first_start(history: Sequence[Version], papers: HistoryFiles) -> Iterator[Gate]:
    worked = _forced_work(history)
    if worked is None:
        return
    what = f"forced-induction work ({_label(history[worked])})"
    done = _list_done(history, papers, "first-start", worked)
    why = (
        f"first-start list done after {what}" if done else f"first-start list not done since {what}"
    )
    yield Gate("running", "first-start", "open" if done else "closed", why, TECHNICIAN)


def _unfinished(history: Sequence[Version], papers: HistoryFiles) -> Iterator[Gate]:
    """A list that was begun and has critical items left, whatever list it is."""
    for done in newest_lists(history, papers):
        left = unfinished(done.check)
        if left and done.check.before:
            few = ", ".join(left[:3]) + (", ..." if len(left) > 3 else "")
            why = f"{done.check.list} of {done.check.date}: {len(left)} critical left ({few})"
            finding = Finding("check-unfinished", "caution", why, where=f"checks/{done.name}.toml")
            gate = Gate(done.check.before, "check-unfinished", "closed", why, TECHNICIAN, finding)
            yield replace(gate, list=done.check.list)


def _sheets(history: Sequence[Version], papers: HistoryFiles) -> Iterator[Gate]:
    """A sheet of joints that is not done: nobody pulls or drives off on half of it."""
    steps: tuple[Step, ...] = ("pull", "hand-back")
    for state in sheets_left(history, papers):
        why = f"{state.sheet.title}: {sheet_book.unfinished(state)}"
        for step in steps:
            yield Gate(step, "torque-unfinished", "closed", why, TECHNICIAN)


def sheets_left(history: Sequence[Version], papers: HistoryFiles) -> list[sheet_book.SheetState]:
    """The sheets of a history that have joints left, those read in and not begun among them."""
    there = {name for version in history for name in version.joints}
    known = {name: one for name, one in papers.sheets.items() if name in there}
    return [state for state in sheet_book.sheets(known) if not state.done]


def _calibration(history: Sequence[Version], papers: HistoryFiles) -> Iterator[Gate]:
    for finding in calibration_match.mismatches(history, papers):
        if finding.code == calibration_match.CODE:
            why = "the calibration does not belong to this hardware"
            yield Gate("pull", finding.code, "closed", why, CALIBRATOR, finding)


def _light_load(history: Sequence[Version], papers: HistoryFiles) -> Iterator[Gate]:
    since = _light_load_since(history)
    if since is None:
        return
    index, what = since
    done = _light_load_done(history, papers, index, history[-1])
    if done:
        why = f"light-load check of {done.check.date}"
        yield Gate("pull", "light-load-check", "open", why, CALIBRATOR)
        return
    why = f"no light-load check since {what} ({_label(history[index])})"
    yield Gate("pull", "light-load-check", "closed", why, CALIBRATOR)


def _break_in(history: Sequence[Version], papers: HistoryFiles) -> Iterator[Gate]:
    for life in partlife.parts(history):
        if life.break_in is None and life.heat_cycles is None:
            continue
        if life.fitted is None and life.break_in_left is None:
            yield _unknown_break_in(life, "open", "note")
            continue
        listed = _list_done(history, papers, "after-break-in", _at(history, life.first_seen))
        if life.break_in_left:
            yield _run_in(life.name, "closed", distance=life.break_in_left)
        elif life.heat_cycles and not listed:
            cycles = how_many(life.heat_cycles, "heat cycle")
            why = f"{cycles} of the {life.name} (tick after-break-in)"
            yield Gate("pull", "break-in", "closed", why, OWNER)
        elif life.break_in is not None and life.break_in_left is None and not listed:
            yield _unknown_break_in(life, "closed", "caution")
        else:
            yield _run_in(f"{life.name} is done", "open")


def _unknown_break_in(life: PartLife, state: Literal["open", "closed"], severity: Severity) -> Gate:
    """A part whose break-in cannot be counted; one that was found closes no gate."""
    reason = life.break_in_why or "nobody knows how far it was run in"
    gate = _run_in(f"{life.name} is unknown: {reason}", state)
    return replace(gate, finding=Finding("break-in-unknown", severity, gate.why, (life.path,)))


def _run_in(brief: str, state: Literal["open", "closed"], distance: float | None = None) -> Gate:
    """The gate of a part's break-in."""
    why = f"break-in of the {brief}"
    return Gate("pull", "break-in", state, why, OWNER, distance=distance, brief=brief)


def _faults(history: Sequence[Version], papers: HistoryFiles) -> Iterator[Gate]:
    for state in open_faults(history, papers):
        if not state.fault.holds_up_full_load:
            continue
        why = f"fault open since {state.fault.date}: {state.fault.symptom or state.name}"
        paths = (state.fault.part,) if state.fault.part else ()
        finding = Finding("fault-open", "caution", why, paths, f"faults/{state.name}.toml")
        yield Gate("pull", "fault-open", "closed", why, TECHNICIAN, finding)


def _margins(states: Mapping[str, str]) -> Iterator[Gate]:
    for name, state in states.items():
        if state == "over":
            why = f"{name} is past its stated limit"
            yield Gate("pull", "margin-over", "closed", why, OWNER)


def _hand_back(history: Sequence[Version], papers: HistoryFiles) -> Iterator[Gate]:
    """The hand-back list, once something was built in this ledger."""
    work = ("build", "fault")
    built = [
        index
        for index, (old, new) in enumerate(pairwise(history), start=1)
        if new.kind in work and new.configuration != old.configuration
    ]
    if not built:
        return
    done = _list_done(history, papers, "hand-back", built[-1])
    since = "the last work" if done else _label(history[built[-1]])
    why = f"hand-back list {'done' if done else 'not done'} since {since}"
    yield Gate("hand-back", "hand-back", "open" if done else "closed", why, OWNER)


# Pulls that were made all the same


def _early_break_in(ages: partlife.Ages, index: int, visit: Visit) -> Iterator[Finding]:
    odometer = visit.session.odometer
    car = ages.car_at(index, odometer.si if odometer else None)
    for life in ages.at(index):
        left = life.left_at(car)
        if left is None or life.break_in is None or left <= 0:
            continue
        text = f"pulls made {_run(life, left)} into the break-in of the {life.name}"
        yield Finding("pull-before-break-in", "caution", text, (life.path,), f"dyno/{visit.name}")


def _run(life: PartLife, left: float) -> str:
    """ "212 of 500 mi", in the unit in which the break-in was written."""
    asked = life.break_in_asked
    if asked is None:
        return ""
    run = asked.unit.from_si(asked.si - left)
    return f"{run:,.0f} of {asked.number:,.0f} {asked.unit.text}"


def _early_light_load(
    history: Sequence[Version], papers: HistoryFiles, index: int, visit: Visit
) -> Iterator[Finding]:
    since = _light_load_since(history[: index + 1])
    day = visit.session.date
    if since is None or _light_load_done(history, papers, since[0], history[index], day):
        return
    where = _label(history[since[0]])
    text = f"pulls made without a light-load check since {since[1]} ({where})"
    yield Finding("pull-before-light-load-check", "caution", text, where=f"dyno/{visit.name}")


def _with_open_fault(
    history: Sequence[Version], papers: HistoryFiles, index: int, visit: Visit
) -> Iterator[Finding]:
    for state in open_faults(history, papers, index):
        if state.fault.holds_up_full_load and state.fault.date <= visit.session.date:
            symptom = state.fault.symptom or state.name
            text = f"pulls made with a fault open: {symptom}"
            paths = (state.fault.part,) if state.fault.part else ()
            yield Finding("pull-with-open-fault", "caution", text, paths, f"dyno/{visit.name}")


# What the history says


def _forced_work(history: Sequence[Version]) -> int | None:
    """The last entry in which we fitted something that blows, or another engine."""
    found = None
    for life in partlife.parts(history):
        worked = life.path in _WORKED_ON or (life.path == _ENGINE and _forced(history[-1]))
        if life.fitted and worked and _forced(history[-1]):
            index = _at(history, life.fitted)
            if index and (found is None or index > found):
                found = index
    return found


def _light_load_since(history: Sequence[Version]) -> tuple[int, str] | None:
    """The last change after which mixture or exhaust temperature have to be watched; None if there
    was none.

    A car as it came asks for none: it is what its owner has driven with.
    """
    if history[-1].configuration.car.power_source == "electric":
        return None
    table = history[-1].configuration.calibration
    stated = set(table.written_for or ()) if table else set()
    for index in range(len(history) - 1, 0, -1):
        what = _mixture_change(history[index - 1], history[index], stated)
        if what:
            return index, what
    return None


def _mixture_change(old: Version, new: Version, stated: set[str]) -> str | None:
    if old.configuration == new.configuration or new.kind == "earlier":
        return None
    one, other = old.configuration.calibration, new.configuration.calibration
    if (one and (one.id, one.file_sha256)) != (other and (other.id, other.file_sha256)):
        return f"calibration {other.id}" if other and other.id else "the calibration changed"
    before, after = calibration_match.hardware_of(old), calibration_match.hardware_of(new)
    paths = stated or {*before, *after}
    changed = [
        path
        for path in paths
        if not same_value(before.get(path), after.get(path))
        and (path in before or not calibration_match.had_table(old, path))
    ]
    if not changed:
        return None
    first = min(changed, key=lambda path: (path not in calibration_match.TELLING, path))
    return f"{calibration_match.in_words(first)} changed"


def _light_load_done(
    history: Sequence[Version],
    papers: HistoryFiles,
    since: int,
    version: Version,
    by: dt.date | None = None,
) -> Done | None:
    """The newest light-load check under a version's calibration, if nothing critical is left."""
    table = version.configuration.calibration
    names = (None, table.id if table else None)
    made = [
        Done(index, name, check)
        for index, name, check in papers.checks_in(history)
        if check.list == "light-load-check" and index >= since and check.calibration in names
    ]
    made = [done for done in made if by is None or done.check.date <= by]
    newest = max(made, key=lambda done: (done.check.date, done.index), default=None)
    return newest if newest and not unfinished(newest.check) else None


def _list_done(history: Sequence[Version], papers: HistoryFiles, name: str, since: int) -> bool:
    lists = [one for one in newest_lists(history, papers) if one.check.list == name]
    return any(one.index >= since and not unfinished(one.check) for one in lists)


def _forced(version: Version) -> bool:
    table = version.configuration.induction
    return table is not None and table.kind in FORCED


def _at(history: Sequence[Version], version: Version) -> int:
    return index_of(history, version) or 0


def _label(version: Version) -> str:
    return version.name if version.number else "the work not yet recorded"
