"""A calibration belongs to its hardware: the rules of the design's section E, and properties."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from buildlog.analysis.car.history_files import HistoryFiles
from buildlog.analysis.workshop.calibration_match import (
    CODE,
    CODE_FILE,
    belongs,
    hardware_of,
    mismatches,
)
from buildlog.findings import Finding
from tests.analysis.stories import Step, check, tell

SMALL = {"fuel.injectors.flow": "310 cc/min", "induction.kind": "naturally-aspirated"}
LARGE = {"fuel.injectors.flow": "550 cc/min", "induction.kind": "turbocharger"}


def found(*steps: Step) -> list[Finding]:
    history, papers = tell(*steps)
    return mismatches(history, papers)


def codes(*steps: Step) -> list[str]:
    return [finding.code for finding in found(*steps)]


def test_hardware_changed_under_an_unchanged_calibration_is_named_with_was_and_now():
    (finding,) = found(
        Step({"calibration.id": "A"} | SMALL), Step(session={}, kind="dyno"), Step(LARGE)
    )
    assert finding.code == CODE
    assert finding.severity == "caution"
    assert set(finding.paths) == {"fuel.injectors.flow", "induction.kind"}
    assert "fuel injectors flow was 310 cc/min, now 550 cc/min" in finding.text
    assert "proven in the session of 2026-01-07" in finding.text


def test_before_any_proof_it_belongs_to_where_it_first_appears():
    (finding,) = found(Step({"calibration.id": "A"} | SMALL), Step(LARGE))
    assert "not yet proven on the car" in finding.text


def test_the_same_value_in_another_unit_is_no_change():
    put = {"calibration.id": "A", "engine.bore": "90.2 mm"}
    assert codes(Step(put), Step({"engine.bore": "3.551 in"})) == []


def test_a_field_no_calibration_depends_on_is_no_mismatch():
    put = {"calibration.id": "A", "exhaust.mufflers": 2} | SMALL
    assert codes(Step(put), Step({"exhaust.mufflers": 1, "clutch.rated_torque": "400 N*m"})) == []


def test_tyres_matter_only_where_the_calibration_goes_by_road_speed():
    put: dict[str, Any] = {"calibration.id": "A", "tyres.size": "205/55 R16"}
    change = Step({"tyres.size": "225/45 R17"})
    assert codes(Step(put), change) == []
    assert codes(Step(put | {"calibration.speed_limit": "210 km/h"}), change) == [CODE]
    assert codes(Step(put | {"gearbox.kind": "automatic"}), change) == [CODE]


@pytest.mark.parametrize(
    "proof",
    [
        Step(session={}, kind="dyno"),
        Step(kind="check", checks=[check("light-load-check", "pull", calibration="B")]),
    ],
)
def test_a_calibration_loaded_before_its_parts_is_none_once_it_was_proven(proof: Step):
    before = (Step({"calibration.id": "A"} | SMALL), Step({"calibration.id": "B"}), Step(LARGE))
    assert codes(*before) == [CODE]
    assert codes(*before, proof) == []


def test_a_light_load_check_nobody_carried_out_proves_nothing():
    undone = {"list": "light-load-check", "item": [{"key": "cruise", "result": "not-done"}]}
    steps = (Step({"calibration.id": "B"} | SMALL), Step(LARGE), Step(checks=[undone]))
    assert codes(*steps) == [CODE]


def test_a_session_group_proves_the_calibration_it_names():
    pulls = [{"file": "a.csv", "calibration": "A"}, {"file": "b.csv", "calibration": "B"}]
    history, papers = tell(
        Step({"calibration.id": "A"} | SMALL),
        Step({"calibration.id": "B"} | LARGE, session={"pull": pulls}),
        Step({"calibration.id": "A"}),
    )
    assert mismatches(history, papers) == []  # A was proven on the turbocharged car
    assert belongs(history, papers).at == 1


def test_written_for_wins_over_what_was_measured():
    stated = {"calibration.written_for": {"fuel.injectors.flow": "550 cc/min"}}
    steps = (Step({"calibration.id": "A"} | stated | SMALL), Step(session={}, kind="dyno"))
    (finding,) = found(*steps)
    assert finding.paths == ("fuel.injectors.flow",)
    assert "its written_for" in finding.text
    assert codes(*steps, Step(LARGE)) == []


def test_written_for_changed_later_counts_only_when_approved():
    now = {"calibration.written_for": {"fuel.injectors.flow": "550 cc/min"}}
    start = (Step({"calibration.id": "A"} | SMALL), Step(session={}, kind="dyno"))
    (finding,) = found(*start, Step(LARGE | now))
    assert finding.code == CODE
    assert "--approved-by" in str(finding.hint)
    assert codes(*start, Step(LARGE | now, approved="D-01")) == []


def test_a_new_id_clears_and_the_old_one_left_over_statement_does_not():
    stated = {"calibration.written_for": {"fuel.injectors.flow": "550 cc/min"}}
    steps = (
        Step({"calibration.id": "A"} | SMALL),
        Step(session={}, kind="dyno"),
        Step({"calibration.id": "B"} | stated | LARGE),
    )
    assert codes(*steps) == []
    assert codes(*steps, Step({"calibration.id": "A"})) == [CODE]  # B's statement is no word for A


def test_one_id_with_two_files_is_said():
    one, two = "a" * 64, "b" * 64
    first = Step({"calibration.id": "A", "calibration.file_sha256": one} | SMALL)
    assert codes(first, Step({"calibration.file_sha256": two})) == [CODE_FILE]
    assert codes(Step({"calibration.id": "A"}), Step({"calibration.file_sha256": two})) == []


def test_another_file_under_one_id_is_another_calibration():
    """It is judged from where its file first appears, and the first file's proof is not its own."""
    one, two = "a" * 64, "b" * 64
    steps = (
        Step({"calibration.id": "A", "calibration.file_sha256": one} | SMALL, session={}),
        Step({"calibration.file_sha256": two} | LARGE),
    )
    assert codes(*steps) == [CODE_FILE]
    assert codes(*steps, Step({"calibration.file_sha256": one})) == [CODE, CODE_FILE]


def test_a_datum_that_was_merely_missing_is_no_change_of_hardware():
    start = Step({"calibration.id": "A", "fuel.kind": "gasoline"})
    filled = Step({"fuel.ethanol_content": "10 percent"})
    assert codes(start, filled) == []
    assert codes(start, filled, Step({"fuel.ethanol_content": "85 percent"})) == [CODE]


def test_taking_a_field_out_does_not_hide_a_change():
    start = Step({"calibration.id": "A"} | SMALL)
    assert codes(start, Step({"fuel.injectors.flow": None})) == [CODE]


def test_a_slip_of_the_pen_that_is_corrected_is_no_change():
    start = Step({"calibration.id": "A", "induction.kind": "naturally-aspirated"}
                 | {"fuel.injectors.flow": "31 cc/min"})  # fmt: skip
    right = {"fuel.injectors.flow": "310 cc/min"}
    assert codes(start, Step(session={}), Step(right)) == [CODE]
    steps = (start, Step(session={}), Step(right, kind="correction", corrects=1))
    assert codes(*steps) == []


def test_a_correction_of_a_later_entry_does_not_move_what_was_proven():
    steps = (
        Step({"calibration.id": "A"} | SMALL, session={}),
        Step(),
        Step(LARGE, kind="correction", corrects=2),
    )
    assert codes(*steps) == [CODE]


def test_no_calibration_no_finding():
    assert codes(Step(SMALL), Step(LARGE)) == []


# Random histories

FLOWS = st.sampled_from(["200 cc/min", "330 cc/min", "550 cc/min"])
KINDS = st.sampled_from(["naturally-aspirated", "turbocharger", "centrifugal"])
IDS = st.sampled_from(["A", "B", "C"])
STEPS = st.lists(
    st.builds(
        lambda name, flow, kind, session, light: Step(
            {"calibration.id": name, "fuel.injectors.flow": flow, "induction.kind": kind},
            session={} if session else None,
            checks=[check("light-load-check", calibration=name)] if light else (),
        ),
        IDS, FLOWS, KINDS, st.booleans(), st.booleans(),
    ),
    min_size=2,
    max_size=9,
)  # fmt: skip


@settings(max_examples=300)
@given(STEPS, FLOWS, KINDS)
def test_flashing_back_an_earlier_calibration_over_other_hardware_is_always_reported(
    steps: list[Step], flow: str, kind: str
):
    history, papers = tell(*steps)
    ids = [v.configuration.calibration.id for v in history]  # type: ignore[union-attr]
    earlier = [name for name in dict.fromkeys(ids) if name != ids[-1]]
    assume(earlier)
    back = earlier[0]
    first = ids.index(back)
    stint = [hardware_of(v) for v in history[first : first + _run(ids[first:])]]
    put = {"calibration.id": back, "fuel.injectors.flow": flow, "induction.kind": kind}
    after, papers = tell(*steps, Step(put), Step(session={}, kind="dyno"))
    assume(hardware_of(after[-1]) not in stint)
    assert CODE in [finding.code for finding in mismatches(after, papers)]


@pytest.mark.parametrize("approved", [None, "D-01"])
@pytest.mark.parametrize("proven", [True, False])
def test_a_returning_id_is_held_to_its_own_hardware_whatever_the_car_still_carries(
    proven: bool, approved: str | None
):
    """The file and the written_for of the calibration that was in between are left over."""
    between = {
        "calibration.id": "B", "calibration.file_sha256": "b" * 64,
        "calibration.written_for": {"induction.kind": "turbocharger"},
    }  # fmt: skip
    history, papers = tell(
        Step({"calibration.id": "A", "calibration.file_sha256": "a" * 64} | SMALL),
        Step(session={} if proven else None, kind="dyno" if proven else "build"),
        Step(between | LARGE),
        Step({"calibration.id": "A"}, approved=approved),
    )
    said = mismatches(history, papers)
    assert [one.code for one in said] == [CODE, CODE_FILE]
    assert "induction.kind" in said[0].paths
    assert "approved" not in str(said[0].hint).split("record a")[0]


@settings(max_examples=200)
@given(STEPS, FLOWS, KINDS, st.booleans())
def test_loaded_earlier_on_the_same_day_than_its_parts_is_never_reported_once_proven(
    steps: list[Step], flow: str, kind: str, by_session: bool
):
    day = len(steps) + 1
    proof = (
        Step(session={}, kind="dyno", day=day)
        if by_session
        else Step(kind="check", day=day, checks=[check("light-load-check", calibration="NEW")])
    )
    after, papers = tell(
        *steps,
        Step({"calibration.id": "NEW"}, day=day),
        Step({"fuel.injectors.flow": flow, "induction.kind": kind}, day=day),
        proof,
    )
    assert mismatches(after, papers) == []


@settings(max_examples=100)
@given(STEPS)
def test_a_new_id_always_clears(steps: list[Step]):
    history, papers = tell(*steps, Step({"calibration.id": "NEW"}))
    assert mismatches(history, papers) == []
    assert mismatches(history, HistoryFiles()) == []


def _run(ids: list[str | None]) -> int:
    return next((i for i, name in enumerate(ids) if name != ids[0]), len(ids))
