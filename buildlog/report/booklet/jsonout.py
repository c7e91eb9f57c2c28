"""The booklet's content for programs: SI numbers with their units in the keys."""

from __future__ import annotations

from typing import Any

from buildlog.analysis.pulls.log_agreement import logs_beside
from buildlog.report.as_json.diff_json import difference_json
from buildlog.report.as_json.json_parts import change_json, finding_json, value_json, version_json
from buildlog.report.as_json.plan_json import promise_json
from buildlog.report.as_json.sheet_json import log_json
from buildlog.report.as_json.show_json import part_json
from buildlog.report.booklet.content import BookletContent, DynoVisit, EntryStory, StageStory
from buildlog.report.numbers import kilometres


def content_json(content: BookletContent) -> dict[str, Any]:
    """The whole history, as `history.json` in a package and `report --json` have it."""
    car, proof = content.now.configuration.car, content.proof
    return {
        "car": {"name": car.name, "year": car.year, "vin": car.vin,
                "chassis_number": car.chassis_number},
        "shop": content.shop,
        "ledger": {"id": proof.ledger_id, "entries": proof.entries, "head": proof.head,
                   "fingerprint": proof.fingerprint, "verdict": proof.verdict},
        "now": version_json(content.now),
        "stages": [_stage(one) for one in content.stages],
        "gain": difference_json(content.gain) if content.gain else None,
        "sessions": [_reading(one) for one in content.readings],
        "configuration": {
            one.path: {**(value_json(one.value) or {}),
                       "since": version_json(one.since) if one.since else None}
            for one in content.fields
        },
        "parts": [part_json(one) for one in content.parts],
        "parts_gone": [part_json(one) for one in content.gone],
        "calibrations": [
            {"id": one.id, "file": one.file, "sha256": one.sha256, "author": one.author,
             "first": version_json(one.first) if one.first else None,
             "last": version_json(one.last) if one.last else None,
             "sessions": list(one.sessions)}
            for one in content.calibrations
        ],
        "checks": [
            {"name": one.name, "entry": one.version.number,
             **one.check.model_dump(mode="json", exclude_none=True)} for one in content.lists
        ],
        "fasteners": [
            {"name": one.name, "entry": one.version.number,
             **one.joint.model_dump(mode="json", exclude_none=True)} for one in content.joints
        ],
        "faults": [
            {"name": one.name, "open": one.open, "entry": one.version.number,
             "closed_by": one.closed_by, "part_distance_km": kilometres(one.part_distance),
             **one.fault.model_dump(mode="json", exclude_none=True, exclude={"format", "state"})}
            for one in content.faults
        ],
        "gates": [
            {"step": one.step, "gate": one.code, "state": one.state, "why": one.why}
            for one in content.gates
        ],
        "attachments": [
            {"path": one.path, "sha256": one.sha256, "bytes": one.size,
             "entry": one.version.number, "original_sha256": one.original}
            for one in content.attachments
        ],
        "custody": [
            {"number": one.number, "entry": one.version.number, "signed": one.signed,
             **one.record.model_dump(mode="json", exclude_none=True, exclude={"format"})}
            for one in content.custody
        ],
        "not_checked": list(content.not_checked),
        "facts": [finding_json(one) for one in content.facts],
        "findings": [finding_json(one) for one in content.to_look_at],
    }  # fmt: skip


def _stage(one: StageStory) -> dict[str, Any]:
    return {
        "name": one.name,
        "version": version_json(one.after),
        "entries": [_entry(entry) for entry in one.entries],
        "diff": difference_json(one.diff) if one.diff else None,
        "promised": promise_json(one.promise) if one.promise else None,
    }


def _entry(one: EntryStory) -> dict[str, Any]:
    version = one.version
    return {
        **version_json(version),
        "subject": version.subject,
        "notes": one.notes or None,
        "done_by": version.done_by,
        "approved_by": version.approved_by,
        "corrects": version.corrects,
        "resolves": version.resolves,
        "recorded_outside": version.outside,
        "recorded_on": one.recorded_on.isoformat(),
        "signed": one.signed,
        "corrected": [
            {"by": version_json(fix.by), "where": fix.where,
             "changes": [change_json(change) for change in fix.changes]}
            for fix in one.corrections
        ],
    }  # fmt: skip


def _reading(one: DynoVisit) -> dict[str, Any]:
    out: dict[str, Any] = {"session": one.session, "version": version_json(one.version)}
    if one.sheet is None or one.group is None:
        return {**out, "problem": one.problem}
    top, torque = one.group.peak_power, one.group.peak_torque
    return {
        **out,
        "standard": one.sheet.standard,
        "at": one.sheet.at,
        "axis": one.sheet.axis,
        "pulls": one.group.pulls,
        "scatter_relative": one.sheet.scatter.s,
        "scatter_basis": one.sheet.scatter.basis,
        "peak_power_w": top.value,
        "peak_power_at": top.at,
        "peak_torque_nm": torque.value if torque else None,
        "peak_torque_at": torque.at if torque else None,
        "logs": [log_json(log) for log in logs_beside(one.sheet)],
    }
