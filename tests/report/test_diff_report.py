"""The diff's screen and its JSON: the answer first, the agreed keys, SI numbers."""

from __future__ import annotations

import datetime as dt
import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from buildlog.analysis.answers.comparison import Diff
from buildlog.analysis.car.changes import changes
from buildlog.analysis.pulls.measured import Measured, measured
from buildlog.findings import Finding
from buildlog.report.as_json.diff_json import diff_json
from buildlog.report.as_text.diff_text import diff_lines
from buildlog.report.as_text.measured_text import measured_lines
from buildlog.report.numbers import Display
from tests.builders import make_configuration, make_sheet, make_version
from tests.conftest import Call

US = Display("us")
CAR, NEW = make_configuration(), make_configuration({"induction.kind": "turbocharger"})
BEFORE = make_version(4, CAR, stage="stage-1", kind="dyno")
AFTER = make_version(9, NEW, stage="stage-2", kind="dyno")


def compared(changes_: dict[str, Any] | None = None, peak: float = 150_000) -> Measured:
    one = make_sheet([99_500, 100_000, 100_500], name="one")
    other = make_sheet([peak - 500, peak, peak + 500], changes_, name="other")
    result = measured(one, other)
    assert isinstance(result, Measured)
    return result


def diff(result: Measured | None = None, **more: Any) -> Diff:
    facts: dict[str, Any] = {
        "before": BEFORE,
        "after": AFTER,
        "changes": tuple(changes(CAR, NEW)),
        "measured": result,
        "measured_reason": None if result else "no dyno session measured stage-2",
    }
    return Diff(**(facts | more))


def test_the_answer_comes_first() -> None:
    lines = diff_lines(diff(compared({"date": dt.date(2026, 5, 2)})), US)
    text = "\n".join(lines)
    assert lines[0].startswith("stage-1 (entry 4, 00000000, 2026-01-05, 88,040 mi, dyno) →")
    answer = r"measured gain \+67\.\d+ ± \d\.\d+ hp at the wheels \(peak, 95 %\): larger than"
    assert re.search(answer, "\n".join(lines[1:4]))
    assert text.index("measured gain") < text.index("changed")
    assert "dyno R1 on two days" in text


def test_a_mismatched_calibration_is_said_before_everything() -> None:
    mismatch = Finding("calibration-mismatch", "caution", "T26-003 was written for other injectors")
    lines = diff_lines(diff(findings=(mismatch,)), US)
    assert lines[0] == "caution T26-003 was written for other injectors"


def test_why_nothing_is_measured_is_said() -> None:
    text = " ".join(diff_lines(diff(), US))
    assert "1 field changed; not measured: no dyno session measured stage-2" in text


def test_nothing_changed_is_said() -> None:
    text = "\n".join(diff_lines(diff(changes=()), US))
    assert "changed: nothing that is physically different" in text


def test_not_shown_is_not_no_change() -> None:
    text = "\n".join(diff_lines(diff(compared(peak=100_300)), US))
    assert "too small to tell from the scatter" in " ".join(text.split())


def test_no_verdict_at_all_where_the_two_cannot_be_compared() -> None:
    result = compared({"standard_applied": "unknown"})
    assert not result.comparable
    text = "\n".join(measured_lines(result, US))
    assert "larger than" not in text
    assert not any(line.rstrip().endswith(" shown") and "not shown" not in line
                   for line in text.splitlines())  # fmt: skip
    body = diff_json(diff(result))["measured"]
    assert body["power"]["beyond_scatter"] is None
    assert body["power"]["mean_beyond_scatter"] is None
    assert body["largest_gain"]["shown"] is None


def test_changes_found_are_counted_in_the_answer() -> None:
    found = tuple(replace(change, made=False) for change in changes(CAR, NEW))
    text = " ".join(diff_lines(diff(compared(), changes=found), US))
    assert "includes 1 changes found, not made" in text or "includes 1 change found" in text


@pytest.mark.parametrize("result", [None, compared()])
def test_json_has_the_agreed_keys(result: Measured | None) -> None:
    body = json.loads(json.dumps(diff_json(diff(result)), allow_nan=False))
    assert {"from", "to", "changes", "measured", "findings"} <= body.keys()
    for side in ("from", "to"):
        assert {"entry", "id", "stage", "date", "odometer_km"} <= body[side].keys()
    for change in body["changes"]:
        assert {"path", "assembly", "kind", "from", "to"} <= change.keys()
        assert change["kind"] in {"added", "removed", "changed"}
        for end in (change["from"], change["to"]):
            assert end is None or {"text", "si", "unit"} <= end.keys()
    if result is None:
        assert body["measured"] is None
        return
    block = body["measured"]
    assert {"comparable", "reasons", "standard", "axis", "power", "torque"} <= block.keys()
    want = {"peak_from", "peak_to", "peak_delta", "half_width_95", "mean_delta", "beyond_scatter"}
    assert want <= block["power"].keys()
    assert want <= block["torque"].keys()


def test_json_numbers_are_si() -> None:
    result = compared()
    old, new = make_configuration({"engine.bore": "3.551 in"}), make_configuration()
    body = diff_json(diff(result, changes=tuple(changes(old, new))))
    (change,) = body["changes"]
    assert change["from"] == {"text": "3.551 in", "si": pytest.approx(0.0901954), "unit": "in"}
    assert change["to"]["si"] == pytest.approx(0.084)
    assert body["from"]["odometer_km"] == pytest.approx(88_040 * 1.609344)
    power = body["measured"]["power"]
    assert power["unit"] == "W"
    assert power["peak_to"]["value"] == pytest.approx(150_000, rel=0.01)
    assert power["peak_delta"] == pytest.approx(50_000, rel=0.02)
    assert body["measured"]["axis_unit"] == "rpm"
    curve = body["measured"]["curve"]
    assert {len(column) for column in curve.values()} == {len(curve["grid"])}


def test_a_typical_scatter_has_no_infinite_number_in_json() -> None:
    one, other = make_sheet([100_000], name="a"), make_sheet([101_000], name="b")
    result = measured(one, other)
    assert isinstance(result, Measured)
    body = diff_json(diff(result))
    assert body["measured"]["scatter"] == {"relative": 0.01, "dof": None, "basis": "typical"}
    json.dumps(body, allow_nan=False)


def test_torque_that_cannot_be_known_is_null_with_a_reason() -> None:
    result = replace(compared(), torque=None, torque_reason="one: converter not locked")
    body = diff_json(diff(result))["measured"]
    assert body["torque"] is None
    assert body["torque_reason"] == "one: converter not locked"
    assert "unknown: one: converter not locked" in "\n".join(measured_lines(result, US))


def test_it_is_eighty_wide() -> None:
    for line in diff_lines(diff(compared({"date": dt.date(2026, 5, 2)})), US):
        assert len(line) <= 80, line


def test_cautions_stand_before_notes_and_what_is_cut_is_counted() -> None:
    notes = [Finding(f"n{i}", "note", f"note number {i} {'long ' * 30}") for i in range(5)]
    loud = [Finding("c", "caution", "pulls made without a light-load check")]
    found = diff(findings=(*notes, *loud))
    shown = diff_lines(found, US)
    start = shown.index("to look at")
    assert shown[start + 1] == "  caution pulls made without a light-load check"
    assert shown[start + 2].startswith("  note    note number 0 long")
    assert shown[start + 2].endswith("...")
    assert shown[start + 4] == "  and 3 more: --full"
    whole = " ".join(diff_lines(found, US, full=True))
    assert all(f"note number {i}" in whole for i in range(5))


def test_what_local_codes_decide_stands_whole_on_the_short_screen(
    demo: Path, buildlog: Call
) -> None:
    short = buildlog("diff", "stage-1", "stage-2", at=demo).out
    full = buildlog("diff", "stage-1", "stage-2", "--full", at=demo).out
    for fact in ("no exemption recorded", "the limit set is 96 dB(A)"):
        assert fact in " ".join(full.split())
        assert fact in " ".join(short.split())
    assert "local codes and licensed practice decide" in " ".join(short.split())
