"""Tightening records against what was asked for and what the thread can carry."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from buildlog.analysis.car.history_files import HistoryFiles
from buildlog.analysis.car.sheet_book import allowed_off
from buildlog.analysis.car.version import Version
from buildlog.analysis.car.written import Written
from buildlog.analysis.workshop import partlife
from buildlog.findings import Finding, how_many
from buildlog.physics.parts import bolt_tension
from buildlog.records.fasteners import Fastener, Joint, place_of
from buildlog.units import Quantity

_ASSUMED = 0.20
_FEEBLE = 0.3  # of the usual torque: a slip of the pen rather than a soft joint (common practice)
Due = Literal["due", "later", "done", "unknown", "gone", "none"]


@dataclass(frozen=True)
class JointState:
    """A tightening record and what is to be said of it. Distances in metres, torques in N*m.

    `low` and `high` are the least and largest torque that was written down. `usual` is the
    torque for 75 % of the proof load, `proof` the one that reaches it; None where thread or
    grade is not given. `left` is the distance until the joint is to be tightened again, and
    `left_cycles` how many heat cycles; None where it is not known, or not asked for.
    """

    name: str
    joint: Joint
    version: Version
    low: float | None
    high: float | None
    usual: float | None
    proof: float | None
    due: Due
    left: float | None
    findings: tuple[Finding, ...]
    left_cycles: int | None = None


@dataclass(frozen=True)
class JointWritten(Written):
    """A tightening record as written down; `usual` as in JointState."""

    joint: Joint
    usual: float | None


def joints(history: Sequence[Version], papers: HistoryFiles) -> list[JointState]:
    """Every tightening record, oldest first."""
    return [
        _state(history, papers, index, name)
        for index, version in enumerate(history)
        for name in papers.joints_of(version)
    ]


def due(states: Sequence[JointState]) -> list[JointState]:
    """The joints that are to be tightened again now, or after heat cycles that nobody counted."""
    return [
        one for one in states
        if one.due == "due" or (one.due == "unknown" and _uncounted(one))
    ]  # fmt: skip


def why_due(state: JointState) -> str:
    """ "due to be tightened again since 37 mi", or after how many heat cycles."""
    joint, told = state.joint, []
    if state.left is not None and state.left <= 0:
        told.append(f"since {_metres(-state.left, joint)}")
    if state.left_cycles is not None and state.left_cycles <= 0:
        done = (joint.retorque_cycles or 0) - state.left_cycles
        told.append(f"after {done} of {how_many(joint.retorque_cycles or 0, 'heat cycle')}")
    if not told:
        asked = how_many(joint.retorque_cycles or 0, "heat cycle")
        line = "buildlog due reading --heat-cycles ..."
        return f"{joint.joint}: to be tightened again after {asked}, and none is counted ({line})"
    return f"{joint.joint}: due to be tightened again {', '.join(told)}"


def _uncounted(state: JointState) -> bool:
    return state.joint.retorque_cycles is not None and state.left_cycles is None


def judged(name: str, joint: Joint) -> tuple[list[Finding], float | None, float | None]:
    """What is to be said of one record alone, the usual torque, and that of the proof load."""
    where = place_of(name)
    try:
        usual, proof, why = _by_grade(joint)
    except ValueError as error:
        text = f"{joint.joint}: {str(error).rstrip('.')}"
        usual = proof = None
        found = [Finding("torque-grade", "note", text, where=where)]
    else:
        found = [*_strength(joint, usual, proof, why, where)]
    return [*_spec(joint, where), *found, *_pieces(joint, where)], usual, proof


def _state(history: Sequence[Version], papers: HistoryFiles, index: int, name: str) -> JointState:
    joint = papers.joints[name]
    torques = [one.torque.si for one in joint.fastener if one.torque]
    found, usual, proof = judged(name, joint)
    state, left, cycles = _again(history, papers, index, name)
    if joint.retorque_of and joint.retorque_of not in papers.joints:
        text = f"retorque_of names {joint.retorque_of}, which is no tightening record"
        found.append(Finding("retorque-of", "caution", text, where=place_of(name)))
    made = JointState(
        name, joint, history[index], min(torques, default=None), max(torques, default=None),
        usual, proof, state, left, tuple(found), cycles,
    )  # fmt: skip
    if state != "due":
        return made
    late = Finding("retorque-due", "caution", why_due(made), where=place_of(name))
    return replace(made, findings=(*made.findings, late))


def _again(
    history: Sequence[Version], papers: HistoryFiles, index: int, name: str
) -> tuple[Due, float | None, int | None]:
    """Whether the joint is to be tightened again, the distance and the heat cycles until then."""
    joint = papers.joints[name]
    if joint.retorque_after is None and joint.retorque_cycles is None:
        return "none", None, None
    later = [other for version in history[index:] for other in papers.joints_of(version)]
    if any(papers.joints[other].retorque_of == name for other in later):
        return "done", None, None
    if joint.part and _replaced(history, index, joint.part):
        return "gone", None, None
    left, cycles = _left(history, index, joint), _left_cycles(papers, joint)
    if any(one is not None and one <= 0 for one in (left, cycles)):
        return "due", left, cycles
    asked = ((joint.retorque_after, left), (joint.retorque_cycles, cycles))
    known = all(one is not None for wanted, one in asked if wanted is not None)
    return ("later" if known else "unknown"), left, cycles


def _left(history: Sequence[Version], index: int, joint: Joint) -> float | None:
    """The distance that is left [m], where one is asked for and known."""
    then = partlife.car_at(history, index, joint.odometer.si if joint.odometer else None)
    now = partlife.car_at(history, len(history) - 1)
    if joint.retorque_after is None or then is None or now is None:
        return None
    return joint.retorque_after.si - (now - then)


def _left_cycles(papers: HistoryFiles, joint: Joint) -> int | None:
    """The heat cycles that are left; None where none was counted since that day, or none asked."""
    told = [one.heat_cycles for one in papers.readings.values() if one.date >= joint.date]
    known = [one for one in told if one is not None]
    if joint.retorque_cycles is None or not known:
        return None
    return joint.retorque_cycles - sum(known)


def _replaced(history: Sequence[Version], index: int, path: str) -> bool:
    """Whether the part that was tightened has left the car since."""
    then = partlife.part(partlife.part_at(history, history[index]), path)
    now = partlife.part(partlife.parts(history), path)
    return then is not None and (now is None or now.first_seen is not then.first_seen)


def _by_grade(joint: Joint) -> tuple[float | None, float | None, str]:
    """The usual torque and that of the proof load, and on what nut factor."""
    if joint.thread is None or joint.grade is None:
        return None, None, ""
    thread, grade = bolt_tension.parse_thread(joint.thread), bolt_tension.grade_key(joint.grade)
    factor = bolt_tension.NUT_FACTOR.get(joint.condition or "", _ASSUMED)
    why = f"K {factor:.2f}, {joint.condition or 'assumed: condition of the threads missing'}"
    usual = bolt_tension.usual_preload(thread, grade)
    proof = bolt_tension.proof_load(thread, grade)
    return (
        bolt_tension.torque_for_preload(usual, thread, factor),
        bolt_tension.torque_for_preload(proof, thread, factor),
        why,
    )


def _spec(joint: Joint, where: str) -> Iterator[Finding]:
    if joint.spec_low and joint.spec_high and joint.spec_low.si > joint.spec_high.si:
        text = f"{joint.joint}: spec_low {joint.spec_low} is above spec_high {joint.spec_high}"
        yield Finding("torque-spec", "error", text, where=where)
        return
    for side, torque, places in _outside(joint):
        ends = [str(one or "-") for one in (joint.spec_low, joint.spec_high)]
        asked = " to ".join(dict.fromkeys(ends))
        text = f"{joint.joint}, {places}: {torque} is {side} the spec ({asked})"
        yield Finding("torque-outside-spec", "caution", text, where=where)
    without = [one.position for one in joint.fastener if joint.spec_angle and one.angle is None]
    if without:
        text = f"{joint.joint}, {_places(without)}: an angle of {joint.spec_angle} is asked for"
        yield Finding("torque-angle-missing", "note", text, where=where)


def _outside(joint: Joint) -> Iterator[tuple[str, str, str]]:
    """Torques beyond the spec: below or above, the torque, and which fasteners got it."""
    # One torque, and no range, is met as exactly as a tool goes.
    nominal = joint.spec_low and joint.spec_low == joint.spec_high
    off = allowed_off(joint.spec_low) if nominal and joint.spec_low else 0.0
    low = joint.spec_low.si * (1 - 1e-9) - off if joint.spec_low else float("-inf")
    high = joint.spec_high.si * (1 + 1e-9) + off if joint.spec_high else float("inf")
    for torque, places in _by_torque(joint.fastener).items():
        if not low <= torque.si <= high:
            yield "below" if torque.si < low else "above", torque.text, _places(places)


def _strength(
    joint: Joint, usual: float | None, proof: float | None, why: str, where: str
) -> Iterator[Finding]:
    if usual is None or proof is None:
        return
    # With an angle the torque says little of the preload.
    by_torque_alone = [one for one in joint.fastener if not one.angle]
    for torque, places in _by_torque(by_torque_alone).items():
        who = f"{joint.joint}, {_places(places)}: {torque}"
        what = f"{joint.thread} {joint.grade}"
        if torque.si > proof:
            text = f"{who} stretches {what} past its proof load ({proof:.0f} N*m, {why})"
            yield Finding("torque-beyond-proof", "caution", text, where=where)
        elif torque.si < _FEEBLE * usual:
            text = f"{who} is little for {what} (usual {usual:.0f} N*m, {why}): look at the unit"
            yield Finding("torque-feeble", "note", text, where=where)


def _by_torque(fasteners: Sequence[Fastener]) -> dict[Quantity, list[str]]:
    """The fasteners that got each torque."""
    found: dict[Quantity, list[str]] = {}
    for one in fasteners:
        if one.torque:
            found.setdefault(one.torque, []).append(one.position)
    return found


def _places(positions: Sequence[str]) -> str:
    """ "1, 2, 3 and 9 more"."""
    shown = ", ".join(positions[:3])
    return shown + (f" and {len(positions) - 3} more" if len(positions) > 3 else "")


def _pieces(joint: Joint, where: str) -> Iterator[Finding]:
    if not joint.fastener:
        text = f"{joint.joint}: no fastener is written down"
        yield Finding("torque-empty", "note", text, where=where)
    if not joint.single_use:
        return
    old = [one.position for one in joint.fastener if one.new is not True]
    if old:
        text = f"{joint.joint}: serves only once, and not marked as new: {_places(old)}"
        yield Finding("torque-single-use", "caution", text, where=where)


def _metres(distance: float, joint: Joint) -> str:
    """A distance in the unit in which the record asks for it."""
    asked = joint.retorque_after
    if asked is None:
        return f"{distance / 1000:.0f} km"
    return f"{asked.unit.from_si(distance):,.0f} {asked.unit.text}"
