"""From one car's history to its facts, and from many cars to tables."""

from __future__ import annotations

import statistics
from typing import Any

import pytest

from buildlog.analysis.answers.shop_facts import (
    at_end,
    faults,
    kind_of_change,
    sought,
    spans,
    standing,
)
from buildlog.analysis.answers.shop_tables import attention, faults_table, gains_table
from buildlog.errors import InvalidInput
from tests.analysis.stories import MILE, Step, check, tell
from tests.builders import make_configuration

PUMP = {"fuel.pump.part.number": "FP-23", "fuel.pump.part.serial": "0007"}
FITTED = Step({**PUMP, "clutch.part.number": "TC-240", "clutch.break_in.distance": "500 mi"},
              miles=1000)  # fmt: skip


def facts(*steps: Step, power: tuple[float, str] | None = None) -> dict[str, Any]:
    history, papers = tell(*steps)
    return standing(history, papers, [], power)


def due(found: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {item["code"]: item for item in found["due"]}


def test_a_car_stands_at_its_newest_stage_since_that_entry() -> None:
    found = facts(Step(miles=900, kind="found"), Step(miles=1200), power=(95_000.0, "2026-01-07"))
    assert found["stage"] is None
    assert (found["entry"], found["since"]) == (2, "2026-01-07")
    assert found["odometer"] == pytest.approx(1200 * MILE)
    assert (found["last_power"], found["last_power_day"]) == (95_000.0, "2026-01-07")


def test_a_break_in_is_due_until_it_is_driven() -> None:
    before = Step(miles=900, kind="found")
    left = due(facts(before, FITTED, Step(miles=1200)))["break-in"]
    assert left["what"] == "clutch"
    assert left["left"] == pytest.approx(300 * MILE)
    assert "break-in" not in due(facts(before, FITTED, Step(miles=1501)))


def test_a_break_in_that_nobody_can_count_is_due_and_says_why() -> None:
    unknown = Step(FITTED.put, miles=None)
    found = due(facts(Step(miles=900, kind="found"), unknown))["break-in"]
    assert found["left"] is None
    assert "is unknown" in found["what"]


def test_an_open_fault_is_due_and_holds_up_a_pull_until_it_is_closed() -> None:
    fault = {"symptom": "belt slips", "part": "induction.belt", "odometer": "1100 mi"}
    broken = Step(miles=1100, kind="fault", faults={"belt": fault})
    found = facts(FITTED, broken)
    assert due(found)["fault"]["what"] == "belt slips (induction.belt)"
    assert "fault-open" in [item["gate"] for item in found["holds_up"]]
    mended = Step(miles=1110, resolves=2)
    assert "fault" not in due(facts(FITTED, broken, mended))


def test_a_list_that_was_begun_is_due_until_it_is_finished() -> None:
    begun = Step(miles=10, checks=[check("first-start", "running", ["oil-pressure"])])
    assert due(facts(Step(miles=5), begun))["checklist"]["what"] == "first-start (1 of 2 done)"
    done = Step(miles=12, checks=[check("first-start", "running")])
    assert "checklist" not in due(facts(Step(miles=5), begun, done))


def test_a_car_that_changed_since_its_session_is_to_be_measured_again() -> None:
    base = Step({"engine.bore": "84 mm"}, miles=1, session={})
    assert "re-check" not in due(facts(base))
    assert "re-check" not in due(facts(base, Step({"work": None, "car.colour": "grey"}, miles=2)))
    assert "re-check" in due(facts(base, Step({"engine.bore": "85 mm"}, miles=2)))


def test_who_had_a_part_from_when_to_when() -> None:
    history, _ = tell(
        Step(miles=900, kind="found"), FITTED, Step({"fuel.pump.part.number": "FP-30"}, miles=2000)
    )
    wanted = sought("pump.part.number=fp-*")
    hits = [span for span in spans(history) if wanted.fits(span)]
    assert [(hit["text"], hit["from"]["entry"]) for hit in hits] == [("FP-23", 2), ("FP-30", 3)]
    assert hits[0]["to"]["entry"] == 3
    assert hits[0]["to"]["odometer"] == pytest.approx(2000 * MILE)
    assert hits[1]["to"] is None


def test_a_part_that_was_taken_out_ends_there_and_one_refitted_begins_again() -> None:
    out = Step(dict.fromkeys(PUMP), miles=1500)
    history, _ = tell(FITTED, out, Step(PUMP, miles=1700))
    hits = [span for span in spans(history) if sought("fuel.pump.part.number=FP-23").fits(span)]
    ends = [(hit["from"]["entry"], hit["to"] and hit["to"]["entry"]) for hit in hits]
    assert ends == [(1, 2), (3, None)]


def test_a_quantity_is_sought_physically() -> None:
    history, _ = tell(Step({"engine.bore": "3.551 in"}, miles=1))
    (span,) = [one for one in spans(history) if one["path"] == "engine.bore"]
    assert sought("engine.bore=90.2 mm").fits(span)
    assert not sought("engine.bore=90.3 mm").fits(span)
    # the same bore written anew in another unit is no new span
    history, _ = tell(Step({"engine.bore": "3.551 in"}), Step({"engine.bore": "90.2 mm"}))
    assert len([one for one in spans(history) if one["path"] == "engine.bore"]) == 1


def hits(argument: str, *steps: Step) -> list[str]:
    history, _ = tell(*steps)
    wanted = sought(argument)
    return [f"{span['path']}={span['text']}" for span in spans(history) if wanted.fits(span)]


def test_a_list_has_each_of_its_items() -> None:
    fuels = Step({"intent.fuel_available": ["gasoline RON 96", "E85"]}, miles=1)
    assert hits("fuel_available=e85", fuels)
    assert hits("fuel_available=gasoline*", fuels)
    assert not hits("fuel_available=RON", fuels)


def test_names_may_be_wild_and_items_need_not_be_named() -> None:
    made = Step({**PUMP, "clutch.part.number": "FP-23"}, miles=1)
    both = ["clutch.part.number=FP-23", "fuel.pump.part.number=FP-23"]
    assert sorted(hits("*.part.number=FP-23", made)) == both
    assert hits("fuel.*.part.number=FP-23", made) == both[1:]
    assert hits("part.*=0007", made) == ["fuel.pump.part.serial=0007"]
    assert at_end("work[respray].part.number", "work.part.number")
    assert at_end("work[respray].part.number", "work[*].part.number")
    assert at_end("work[respray].part.number", "work[respray].part.number")
    assert not at_end("work[respray].part.number", "work[other].part.number")


@pytest.mark.parametrize(
    ("argument", "sentence", "hint"),
    [
        ("engine.boer=84 mm", "is not a field", "engine.bore"),
        ("w*.bore=84 mm", "is not a field", "engine.bore"),
        ("engine.bore=84 N*m", "is no length, as engine.bore is", "with its unit"),
        ("engine.bore=84", "is no length, as engine.bore is", "with its unit"),
    ],
)
def test_a_path_or_a_unit_that_cannot_be_is_refused(
    argument: str, sentence: str, hint: str
) -> None:
    with pytest.raises(InvalidInput, match=sentence) as caught:
        sought(argument)
    assert hint in (caught.value.hint or "")


@pytest.mark.parametrize("argument", ["", "FP-23", "=FP-23", "fuel.pump=", "fuel.pmup.flow=1"])
def test_what_cannot_be_sought_is_said(argument: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        sought(argument)
    assert caught.value.hint


def test_the_end_of_a_path_is_enough_but_only_at_whole_names() -> None:
    assert at_end("work[respray].part.number", "part.number")
    assert not at_end("fuel.pump.flow", "p.flow")
    assert not at_end("flow", "pump.flow")


def test_a_fault_has_the_distance_its_part_had_run() -> None:
    broken = {"symptom": "whines", "part": "fuel.pump", "odometer": "1431 mi"}
    history, papers = tell(Step(miles=900), FITTED, Step(miles=1431, faults={"p": broken}))
    (found,) = faults(history, papers)
    assert found["number"] == "FP-23"
    assert found["distance"] == pytest.approx(431 * MILE)
    assert found["open"]


def fault(number: str, distance: float | None, **more: Any) -> dict[str, Any]:
    return {"part": "fuel.pump", "number": number, "maker": None, "distance": distance,
            "symptom": "whines", "open": False, "why": None} | more  # fmt: skip


def test_faults_are_gathered_by_part_number() -> None:
    many = [("a", fault("FP-23", 500.0)), ("b", fault("FP-23", 300.0, open=True)),
            ("b", fault("FP-23", None)), ("a", fault("FP-30", 9.0))]  # fmt: skip
    first, second = faults_table(many)
    assert (first.number, first.count, first.open, first.cars) == ("FP-23", 3, 1, 2)
    assert (first.distances, first.unknown, first.middle) == ((300.0, 500.0), 1, 400.0)
    assert second.count == 1
    missing = faults_table([("a", fault("FP-23", None, why="no odometer"))])[0]
    assert (missing.middle, missing.reasons) == (None, ("no odometer",))


def test_gains_are_gathered_by_kind_with_their_spread() -> None:
    ratios = [1.05, 1.08, 1.06, 1.02]
    many = [(f"car {i % 3}", {"kind": "exhaust", "ratio": r, "beyond": r > 1.03})
            for i, r in enumerate(ratios)]  # fmt: skip
    many.append(("z", {"kind": "to turbocharger", "ratio": 1.4, "beyond": True}))
    turbo, exhaust = gains_table(many)
    assert (turbo.kind, turbo.count, turbo.spread) == ("to turbocharger", 1, None)
    assert (exhaust.count, exhaust.cars, exhaust.beyond) == (4, 3, 3)
    assert exhaust.middle == pytest.approx(0.055)
    assert exhaust.spread == pytest.approx(statistics.stdev(ratios))
    assert (exhaust.low, exhaust.high) == pytest.approx((0.02, 0.08))


@pytest.mark.parametrize(
    ("changed", "kind"),
    [
        ({"exhaust.pipe_diameter": "63 mm"}, "exhaust"),
        ({"exhaust.pipe_diameter": "63 mm", "calibration.id": "T26-9"}, "exhaust, calibrated"),
        ({"calibration.id": "T26-9"}, "calibration"),
        ({"induction.kind": "centrifugal", "exhaust.pipe_diameter": "63 mm"}, "to centrifugal"),
        ({"car.colour": "grey", "clutch.rated_torque": "300 N*m"}, ""),
    ],
)
def test_a_kind_of_change_is_named_by_what_can_move_power(
    changed: dict[str, Any], kind: str
) -> None:
    assert kind_of_change(make_configuration(), make_configuration(changed)) == kind


def test_what_needs_attention_comes_first() -> None:
    nothing: dict[str, Any] = {"holds_up": [], "due": [], "tightest": {"state": "clear"}}
    fault_open = nothing | {"due": [{"code": "fault"}]}
    over = nothing | {"tightest": {"state": "over"}}
    held = nothing | {"holds_up": [{"gate": "light-load-check"}]}
    something_due = nothing | {"due": [{"code": "re-torque"}]}
    close = nothing | {"tightest": {"state": "close"}}
    assert attention(nothing | {"due": [{"code": "copy"}]}) == attention(nothing)
    order = [{"problem": "torn"}, fault_open, over, held, something_due, close, nothing]
    backwards = order[::-1]
    assert sorted(backwards, key=attention) == order
