"""Faults, tightened joints and lists, for programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from buildlog.analysis.workshop import check_book
from buildlog.analysis.workshop.fastener_book import JointState
from buildlog.analysis.workshop.fault_book import FaultState
from buildlog.records.checks import CheckedItem, ListItem
from buildlog.report.as_json.json_parts import finding_json
from buildlog.report.numbers import kilometres
from buildlog.units import Quantity


def faults_json(found: Sequence[FaultState]) -> dict[str, Any]:
    """The body of `fault list --json`; distances in km."""
    return {"faults": [_fault(one) for one in found]}


def joints_json(found: Sequence[JointState]) -> dict[str, Any]:
    """The body of `torque list --json`: torques in N*m, distances in km."""
    return {"joints": [_joint(one) for one in found]}


def lists_json(found: Sequence[check_book.ListState]) -> dict[str, Any]:
    """The body of `checklist list --json`."""
    return {"lists": [_list(one) for one in found]}


def checklist_json(state: check_book.ListState) -> dict[str, Any]:
    """The body of `checklist show --json`."""
    definition, check = state.definition, state.check
    asked = {item.key: item for item in definition.item}
    items = check.item if check else tuple(map(_not_done, definition.item))
    return {
        **_list(state),
        "where": state.path,
        "continues": check.continues if check else None,
        "cautions": list(definition.cautions),
        "odometer_km": kilometres(_si(check.odometer)) if check else None,
        "calibration": check.calibration if check else None,
        "item": [_item(item, asked.get(item.key)) for item in items],
    }


def _not_done(asked: ListItem) -> CheckedItem:
    shared = {"key", "text", "critical", "low", "high"}
    return CheckedItem.model_validate(asked.model_dump(include=shared))


def _fault(state: FaultState) -> dict[str, Any]:
    fault, closing = state.fault, state.closing
    return {
        "name": state.name,
        "state": "open" if state.open else "closed",
        "date": fault.date.isoformat(),
        "entry": state.version.number or None,
        "symptom": fault.symptom,
        "part": fault.part,
        "codes": list(fault.codes),
        "odometer_km": kilometres(_si(fault.odometer)),
        "part_distance_km": kilometres(state.part_distance),
        "part_distance_unknown": state.part_why,
        "holds_up_full_load": fault.holds_up_full_load,
        "found_in": fault.found_in,
        "cause": (closing.cause if closing else None) or fault.cause,
        "remedy": closing.remedy if closing else None,
        "closed_by": state.closed_by,
    }


def _joint(state: JointState) -> dict[str, Any]:
    joint = state.joint
    return {
        "name": state.name,
        "joint": joint.joint,
        "part": joint.part,
        "date": joint.date.isoformat(),
        "odometer_km": kilometres(_si(joint.odometer)),
        "thread": joint.thread,
        "grade": joint.grade,
        "condition": joint.condition,
        "spec_low_nm": _si(joint.spec_low),
        "spec_high_nm": _si(joint.spec_high),
        "usual_nm": state.usual,
        "proof_nm": state.proof,
        "single_use": joint.single_use,
        "fastener": [
            {
                "position": one.position,
                "torque_nm": _si(one.torque),
                "how": one.how,
                "angle_deg": one.angle.to("deg") if one.angle else None,
                "new": one.new,
            }
            for one in joint.fastener
        ],
        "retorque": state.due,
        "retorque_left_km": kilometres(state.left),
        "retorque_left_heat_cycles": state.left_cycles,
        "by": joint.by,
        "tool": joint.tool,
        "findings": [finding_json(one) for one in state.findings],
    }


def _list(state: check_book.ListState) -> dict[str, Any]:
    definition, check = state.definition, state.check
    return {
        "name": definition.name,
        "title": definition.title,
        "before": definition.before,
        "date": check.date.isoformat() if check else None,
        "done": check_book.counted(check)[0] if check else 0,
        "items": len(check.item if check else definition.item),
        "unfinished": check_book.unfinished(check) if check else [],
    }


def _item(item: CheckedItem, asked: ListItem | None) -> dict[str, Any]:
    return {
        "key": item.key,
        "text": item.text or (asked.text if asked else None),
        "critical": item.critical,
        "result": item.result,
        "values": list(check_book.values_of(item)),
        "low": item.low,
        "high": item.high,
        "inside_limits": check_book.inside(check_book.values_of(item), item.low, item.high),
        "codes": list(item.codes),
        "by": item.by,
        "at": item.at.isoformat() if item.at else None,
        "note": item.note,
        "spoken": item.spoken,
        "fault": item.fault,
        "caution": asked.caution if asked else None,
    }


def _si(value: Quantity | None) -> float | None:
    return value.si if value else None
