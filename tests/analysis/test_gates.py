"""Gates, from the history alone."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildlog.analysis.answers.next_steps import next_steps
from buildlog.analysis.workshop.gates import Gate, closed, gates, pull_findings
from tests.analysis.stories import MILE, Step, check, tell

CAME = {
    "induction.kind": "naturally-aspirated",
    "calibration.id": "A",
    "clutch.part.condition": "used",
}
TURBO = {"induction.kind": "turbocharger", "calibration.id": "B"}
CLUTCH = {
    "clutch.part.serial": "1", "clutch.part.condition": "new", "clutch.break_in.distance": "500 mi",
}  # fmt: skip
FOUND = Step(CAME, kind="found", miles=88000)


def shut(*steps: Step, margins: dict[str, str] | None = None) -> dict[str, str]:
    """The closed gates: code -> step."""
    history, papers = tell(*steps)
    return {gate.code: gate.step for gate in closed(gates(history, papers, margins))}


def gate(code: str, *steps: Step) -> Gate:
    history, papers = tell(*steps)
    return next(one for one in gates(history, papers) if one.code == code)


def flagged(*steps: Step) -> list[str]:
    history, papers = tell(*steps)
    return [finding.code for finding in pull_findings(history, papers)]


def intake(compression: list[str], leakage: list[str]) -> dict[str, Any]:
    return {
        "list": "intake",
        "before": "forced-induction-work",
        "item": [
            {"key": "compression", "critical": True, "result": "pass", "values": compression},
            {"key": "leakage", "critical": True, "result": "pass", "values": leakage},
        ],
    }


def test_a_clutch_of_unknown_age_closes_no_gate_and_is_called_unknown():
    steps = (Step(CAME | {"clutch.break_in.distance": "500 mi"}, kind="found", miles=88000),)
    assert "break-in" not in shut(*steps)
    one = gate("break-in", *steps)
    assert one.state == "open"
    assert "unknown" in one.why
    assert one.finding is not None
    assert one.finding.severity == "note"


def test_forced_induction_work_waits_for_compression_and_leakage():
    assert set(shut(FOUND)) == {"compression-unknown", "leakage-unknown"}
    even = intake(["172 psi", "168 psi", "165 psi"], ["6 percent", "9 percent", "7 percent"])
    assert shut(FOUND, Step(kind="check", miles=88000, checks=[even])) == {}


def test_a_spread_above_ten_per_cent_holds_it_up():
    """10 per cent between cylinders: common practice, no source."""
    uneven = intake(["172 psi", "150 psi", "165 psi"], ["6 percent", "17 percent", "7 percent"])
    steps = (FOUND, Step(kind="check", miles=88000, checks=[uneven]))
    assert shut(*steps) == {
        "compression-spread": "forced-induction-work",
        "leakage-spread": "forced-induction-work",
    }
    at_the_limit = intake(["10 bar", "9 bar"], ["5 percent", "15 percent"])
    assert shut(FOUND, Step(kind="check", miles=88000, checks=[at_the_limit])) == {}


def test_the_first_start_waits_for_its_list_after_forced_induction_work():
    work = (FOUND, Step(TURBO, miles=88500))
    assert shut(*work)["first-start"] == "running"
    early = (FOUND, Step(kind="check", checks=[check("first-start", "running")]), work[1])
    assert shut(*early)["first-start"] == "running"
    done = Step(kind="check", checks=[check("first-start", "running")])
    assert "first-start" not in shut(*work, done)
    later = Step({"exhaust.mufflers": 1}, miles=88600)
    assert "first-start" not in shut(*work, done, later)


def test_an_unfinished_critical_item_closes_the_gate_of_its_list():
    left = Step(kind="check", checks=[check("before-dyno", "pull", left=["straps"])])
    assert shut(FOUND, left)["check-unfinished"] == "pull"
    done = Step(kind="check", checks=[check("before-dyno", "pull")])
    assert "check-unfinished" not in shut(FOUND, left, done)
    own = Step(kind="check", checks=[check("our-own-list", "hand-back", left=["wash"])])
    assert shut(FOUND, own)["check-unfinished"] == "hand-back"


def test_a_begun_list_that_a_step_waits_for_is_one_gate():
    steps = (
        FOUND,
        Step(TURBO, miles=88500),
        Step(kind="check", checks=[check("first-start", "running", left=["leaks"])]),
    )
    history, papers = tell(*steps)
    running = [one for one in closed(gates(history, papers)) if one.step == "running"]
    assert [one.code for one in running] == ["first-start"]
    assert "1 critical left (leaks)" in running[0].why


def test_a_pull_waits_for_a_light_load_check_once_the_mixture_may_have_moved():
    assert "light-load-check" not in shut(FOUND)  # as it came: nothing has moved
    work = (FOUND, Step(TURBO, miles=88500))
    assert shut(*work)["light-load-check"] == "pull"
    done = Step(kind="check", checks=[check("light-load-check", "pull", calibration="B")])
    assert "light-load-check" not in shut(*work, done)
    other = Step(kind="check", checks=[check("light-load-check", "pull", calibration="A")])
    assert shut(*work, other)["light-load-check"] == "pull"
    again = Step({"calibration.id": "C"}, miles=88600)
    assert shut(*work, done, again)["light-load-check"] == "pull"
    for source, asked in (("compression-ignition", True), ("electric", False)):
        other = Step(CAME | {"car.power_source": source}, kind="found", miles=88000)
        assert ("light-load-check" in shut(other, Step(TURBO, miles=88500))) == asked


def test_other_hardware_under_the_same_calibration_asks_for_the_check_anew():
    came = CAME | {"fuel.injectors.flow": "310 cc/min", "calibration.id": "B"}
    done = Step(kind="check", checks=[check("light-load-check", "pull", calibration="B")])
    larger = Step({"fuel.injectors.flow": "550 cc/min"}, miles=88600)
    assert shut(Step(came, kind="found", miles=88000), done, larger)["light-load-check"] == "pull"


def test_break_in_closes_a_pull_until_its_distance_is_run():
    work = (FOUND, Step(CLUTCH, miles=88500))
    one = gate("break-in", *work, Step(miles=88712))
    assert (one.state, one.step) == ("closed", "pull")
    assert one.distance == pytest.approx(288 * MILE)
    assert gate("break-in", *work, Step(miles=89000)).state == "open"


def test_break_in_with_an_unknown_odometer_stays_closed_until_the_list_is_done():
    work = (FOUND, Step(CLUTCH, miles=None))
    assert shut(*work)["break-in"] == "pull"
    done = Step(kind="check", checks=[check("after-break-in", "pull")])
    assert "break-in" not in shut(*work, done)


def test_heat_cycles_are_not_counted_by_an_odometer_but_ticked():
    asked = {"tyres.part.condition": "new", "tyres.break_in.heat_cycles": 3}
    work = (FOUND, Step(asked, miles=88500), Step(miles=89500))
    assert shut(*work)["break-in"] == "pull"
    done = Step(kind="check", miles=89500, checks=[check("after-break-in", "pull")])
    assert "break-in" not in shut(*work, done)
    assert gate("break-in", Step(CAME | asked, kind="found", miles=1)).state == "open"


def test_an_open_fault_holds_up_full_load_until_it_is_closed():
    broke = Step(kind="fault", faults={"hose": {"symptom": "hiss"}})
    assert shut(FOUND, broke)["fault-open"] == "pull"
    closing = Step(kind="fault", faults={"hose-2": {"state": "closed", "closes": "hose"}})
    assert "fault-open" not in shut(FOUND, broke, closing)
    assert "fault-open" not in shut(FOUND, broke, Step(kind="fault", resolves=2))
    both = {"hose": {"symptom": "hiss"}, "hose-2": {"state": "closed", "closes": "hose"}}
    assert "fault-open" not in shut(FOUND, Step(kind="fault", faults=both))
    light = Step(kind="fault", faults={"lamp": {"symptom": "dim", "holds_up_full_load": False}})
    assert "fault-open" not in shut(FOUND, light)


def test_a_margin_past_its_limit_holds_up_a_pull():
    assert (
        shut(FOUND, margins={"clutch torque": "over", "fuel pump": "close"})["margin-over"]
        == "pull"
    )
    assert "margin-over" not in shut(FOUND, margins={"fuel pump": "unknown"})


def test_hand_back_waits_for_its_list_after_work():
    assert "hand-back" not in shut(FOUND)
    work = (FOUND, Step({"exhaust.mufflers": 1}, miles=88100))
    assert shut(*work)["hand-back"] == "hand-back"
    assert "hand-back" not in shut(
        *work, Step(kind="check", checks=[check("hand-back", "hand-back")])
    )


def test_a_calibration_mismatch_holds_up_a_pull():
    steps = (FOUND, Step({"induction.kind": "turbocharger"}, miles=88500))
    assert shut(*steps)["calibration-mismatch"] == "pull"


def test_no_gate_depends_on_a_dyno():
    """A street car that was never measured passes every gate, and says once that it never was."""
    steps = (
        Step(
            CAME, kind="found", miles=88000, checks=[intake(["9 bar", "9 bar"], ["5 percent"] * 2)]
        ),
        Step(TURBO | CLUTCH, miles=88500),
        Step(kind="check", miles=88501, checks=[check("first-start", "running")]),
        Step(kind="check", miles=88510, checks=[check("light-load-check", "pull")]),
        Step(kind="check", miles=89010, checks=[check("hand-back", "hand-back")]),
    )
    assert shut(*steps) == {}
    history, papers = tell(*steps)
    assert next_steps(history, papers).never_measured


# Pulls that were made all the same


def test_a_pull_before_break_in_is_kept_and_flagged_with_the_distance():
    history, papers = tell(
        FOUND,
        Step(CLUTCH, miles=88971),
        Step(kind="dyno", miles=89190, session={"odometer": "89183 mi"}),
        Step(miles=89600),
    )
    (finding,) = pull_findings(history, papers)
    assert finding.code == "pull-before-break-in"
    assert finding.text == "pulls made 212 of 500 mi into the break-in of the clutch"
    assert finding.paths == ("clutch",)
    assert papers.visits  # kept
    late = Step(kind="dyno", miles=89600, session={"odometer": "89600 mi"})
    assert flagged(FOUND, Step(CLUTCH, miles=88971), late) == []


def test_a_pull_without_a_light_load_check_or_with_an_open_fault_is_flagged():
    work = (FOUND, Step(TURBO, miles=88500))
    pulled = Step(kind="dyno", miles=88600, session={})
    assert flagged(*work, pulled) == ["pull-before-light-load-check"]
    done = Step(kind="check", checks=[check("light-load-check", "pull")])
    assert flagged(*work, done, pulled) == []
    assert flagged(*work, pulled, done) == ["pull-before-light-load-check"]  # too late for it
    broke = Step(kind="fault", faults={"hose": {"symptom": "hiss"}})
    assert flagged(*work, done, broke, pulled) == ["pull-with-open-fault"]
    mended = Step(kind="fault", resolves=4)
    assert flagged(*work, done, broke, mended, pulled) == []


@pytest.mark.parametrize(("days", "counts"), [(-1, True), (0, True), (1, False)])
def test_a_fault_counts_for_pulls_of_its_own_day_and_later(days: int, counts: bool) -> None:
    """A pull filed after the fault was found, but made before it, was made with a sound car."""
    day = dt.date(2026, 3, 14)
    fault = {"hose": {"symptom": "hiss", "date": day + dt.timedelta(days=days)}}
    story = (FOUND, Step(kind="fault", faults=fault), Step(kind="dyno", session={"date": day}))
    assert flagged(*story) == (["pull-with-open-fault"] if counts else [])


# Random histories

MOVES = st.lists(
    st.sampled_from(["turbo", "clutch", "calibration", "first-start", "light", "pull", "drive",
                     "fault", "mend", "handback"]),
    max_size=10,
)  # fmt: skip


def told(moves: list[str]) -> tuple[Step, ...]:
    miles, steps = 88000, [FOUND]
    broken = 0
    for place, move in enumerate(moves):
        miles += 300 if move == "drive" else 1
        lists = {"first-start": "running", "light": "pull", "handback": "hand-back"}
        names = {"light": "light-load-check", "handback": "hand-back"}
        put = {
            "turbo": {"induction.kind": "turbocharger", "induction.part.serial": f"T{place}"},
            "clutch": CLUTCH | {"clutch.part.serial": f"{place}"},
            "calibration": {"calibration.id": f"K{place}"},
        }.get(move, {})
        faults = {f"f{place}": {"symptom": "noise"}} if move == "fault" else {}
        done = [check(names.get(move, move), lists[move])] if move in lists else []
        steps.append(
            Step(put, miles=miles, session={} if move == "pull" else None, checks=done,
                 faults=faults, resolves=broken if move == "mend" and broken else None)
        )  # fmt: skip
        broken = place + 2 if move == "fault" else broken
    return tuple(steps)


@settings(max_examples=150)
@given(MOVES)
def test_a_session_changes_no_gate(moves: list[str]):
    """Gates are the same whether or not the car was ever on a dyno (but for the calibration,
    which a session proves)."""
    here = {c: s for c, s in shut(*told(moves)).items() if c != "calibration-mismatch"}
    without = [
        Step(
            s.put, miles=s.miles, checks=s.checks, faults=s.faults, resolves=s.resolves, kind=s.kind
        )
        for s in told(moves)
    ]
    there = {c: s for c, s in shut(*without).items() if c != "calibration-mismatch"}
    assert here == there


@settings(max_examples=150)
@given(MOVES)
def test_every_closed_gate_has_a_blocked_step_and_says_why(moves: list[str]):
    history, papers = tell(*told(moves))
    answer = next_steps(history, papers)
    shut_now = closed(gates(history, papers))
    assert {one.code for one in shut_now} == {one.gate for one in answer.blocked}
    assert all(one.why and one.who for one in (*answer.blocked, *answer.actions))


@settings(max_examples=100)
@given(MOVES)
def test_doing_what_is_asked_for_opens_the_gates(moves: list[str]):
    """After every list, a long drive, mended faults and a written_for, a pull is held up by
    nothing."""
    steps = told(moves)
    faults = [name for step in steps for name in step.faults]
    miles = max(step.miles or 0 for step in steps) + 5000
    lists = [check("first-start", "running"), check("light-load-check", "pull"),
             check("hand-back", "hand-back"), check("after-break-in", "pull"),
             intake(["9 bar", "9 bar"], ["5 percent", "5 percent"])]  # fmt: skip
    mended = {f"{name}-closed": {"state": "closed", "closes": name} for name in faults}
    last = Step({"calibration.id": "LAST"}, miles=miles, checks=lists, faults=mended)
    assert shut(*steps, last) == {}
