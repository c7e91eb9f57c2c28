"""A maker's sheet of joints, for programs: torques in N*m, angles in degrees."""

from __future__ import annotations

from typing import Any

from buildlog.analysis.car import sheet_book
from buildlog.analysis.car.sheet_book import SheetState, SheetWritten, StageWritten
from buildlog.records.fasteners import Fastened, StageDone
from buildlog.report.as_json.json_parts import finding_json
from buildlog.report.numbers import kilometres
from buildlog.units import Quantity


def sheet_json(state: SheetState) -> dict[str, Any]:
    """The body of `torque show --json`."""
    sheet = state.sheet
    return {
        "name": state.name,
        "title": sheet.title,
        "date": sheet.date.isoformat(),
        "odometer_km": kilometres(sheet.odometer.si if sheet.odometer else None),
        "source": sheet.source,
        "continues": sheet.continues,
        "retorque_of": sheet.retorque_of,
        "files": [f"torque/{name}.toml" for name in state.files],
        "finished": state.finished,
        "joints": [_joint(one) for one in state.joints],
        "findings": [finding_json(one) for one in sheet_book.findings(state)],
    }


def sheet_written_json(done: SheetWritten) -> dict[str, Any]:
    """The body of `torque sheet --json` and of `torque do --json`."""
    stage = done if isinstance(done, StageWritten) else None
    return {
        "written": list(done.paths),
        "read": list(done.read),
        "record": done.record.line,
        "told": [finding_json(one) for one in done.findings],
        "joint": stage.joint.name if stage and stage.joint else None,
        "stage": stage.stage.number if stage and stage.stage else None,
        **sheet_json(done.state),
    }


def _joint(joint: Fastened) -> dict[str, Any]:
    return {
        "name": joint.name,
        "part": joint.part,
        "count": joint.count,
        "thread": joint.thread,
        "grade": joint.grade,
        "condition": joint.condition,
        "order": joint.order,
        "tool": joint.tool,
        "note": joint.note,
        "stages": [
            {
                "number": one.number,
                "asked": one.asked,
                "low": _amount(one.low),
                "high": _amount(one.high),
                "unit": _unit(one.low),
            }
            for one in sheet_book.stages(joint)
        ],
        "left": [
            {"stage": stage.number, "fasteners": list(numbers)}
            for stage, numbers in sheet_book.left(joint)
        ],
        "done": [_done(one) for one in joint.done],
    }


def _done(one: StageDone) -> dict[str, Any]:
    return {
        "number": one.number,
        "stage": one.stage,
        "value": _amount(one.value),
        "unit": _unit(one.value),
        "text": one.value.text,
        "how": one.how,
        "who": one.who,
        "when": one.when.isoformat() if one.when else None,
    }


def _amount(value: Quantity) -> float:
    return value.to("deg") if value.dimension == "angle" else value.si


def _unit(value: Quantity) -> str:
    return "deg" if value.dimension == "angle" else "N*m"
