"""What a comparison points at beside what changed."""

from __future__ import annotations

from dataclasses import replace

from buildlog.analysis.answers.comparison import replaced, standing
from tests.analysis.stories import MILE, Step, tell

CAME = {
    "calibration.id": "A", "induction.kind": "naturally-aspirated",
    "exhaust.catalysts.kind": "original", "clutch.part.condition": "used",
}  # fmt: skip
CLUTCH = {
    "clutch.part.serial": "1", "clutch.part.condition": "new", "clutch.break_in.distance": "500 mi",
}  # fmt: skip
STORY = (
    Step(CAME, kind="found", miles=88000),
    Step(kind="dyno", miles=88010, session={}),
    Step(
        {"induction.kind": "turbocharger", "exhaust.catalysts.kind": "none"} | CLUTCH, miles=88500
    ),
    Step({"calibration.id": "B"}, kind="correction", corrects=3, miles=88500),
    Step(kind="dyno", miles=88700, session={}),
)


def test_the_mismatch_comes_first_and_goes_with_the_correction():
    history, papers = tell(*STORY)
    found = standing(history, papers, history[1], history[2])
    assert found[0].code == "calibration-mismatch"
    codes = [f.code for f in standing(history, papers, history[1], history[4])]
    assert "calibration-mismatch" not in codes
    assert codes == [
        "pull-before-break-in", "pull-before-light-load-check", "emission-equipment", "sound-level",
    ]  # fmt: skip


def test_only_pulls_between_the_two_are_named():
    history, papers = tell(*STORY, Step({"exhaust.mufflers": 1}, miles=89500))
    codes = [f.code for f in standing(history, papers, history[5], history[5])]
    assert codes == []


def test_a_plan_is_taken_to_follow_the_last_entry():
    history, papers = tell(*STORY)
    plan = replace(history[2], number=0, id="", kind="plan", plan="big", odometer=None)
    assert standing(history, papers, history[4], plan)[0].code == "calibration-mismatch"


def test_parts_that_came_and_went_with_their_distance():
    history, _ = tell(*STORY)
    found = {(one.path, one.since): one for one in replaced(history, history[1], history[4])}
    new, old = found["clutch", "entry 3"], found["clutch", "before entry 1"]
    assert new.distance is not None
    assert abs(new.distance - 200 * MILE) < 1e-6
    assert old.distance is None
    assert "nothing says since when" in str(old.why_unknown)
    assert {path for path, _ in found} == {"clutch", "induction", "exhaust.catalysts"}
