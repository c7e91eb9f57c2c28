"""Tightening records against published tables: the usual torque comes out of thread and grade."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from buildlog.analysis.car.history_files import HistoryFiles
from buildlog.analysis.car.version import Version
from buildlog.analysis.workshop.fastener_book import joints, judged
from buildlog.physics.parts.bolt_tension import grade_key
from buildlog.records.fasteners import Joint
from buildlog.units import unit
from tests.analysis.stories import MILE, Step, tell

DAY = dt.date(2026, 3, 7)
LBF_FT = unit("lb*ft", "torque").factor


def joint(*torques: str, **more: Any) -> Joint:
    pieces = [{"position": f"bolt {i}", "torque": t} for i, t in enumerate(torques, start=1)]
    return Joint.model_validate(
        {"format": 1, "joint": "flywheel", "date": DAY, "fastener": pieces} | more
    )


def codes(one: Joint) -> list[str]:
    return [finding.code for finding in judged("x", one)[0]]


@pytest.mark.parametrize(
    ("thread", "grade", "printed"),
    [
        # A hardware maker's table of torques at 75 % of proof, dry, K 0.20 (opened); lb*ft.
        ("3/8-16", "SAE 5", 31),
        ("7/16-14", "SAE 8", 70),
        ("1/2-13", "SAE 5", 75),
        ("1/2-13", "SAE 8", 106),
        ("1/2-20", "SAE 5", 85),
        ("1/2-20", "SAE 8", 120),
    ],
)
def test_the_usual_torque_is_that_of_a_published_table(thread: str, grade: str, printed: float):
    _, usual, proof = judged("x", joint("40 N*m", thread=thread, grade=grade, condition="dry"))
    assert usual is not None
    assert proof is not None
    assert usual / LBF_FT == pytest.approx(printed, abs=0.51)
    assert proof == pytest.approx(usual / 0.75)


@pytest.mark.parametrize("text", ["SAE 5", "grade 5", "Grade 5", "J429 5", "SAE J429 grade 5"])
def test_a_grade_is_read_as_people_write_it(text: str):
    assert grade_key(text) == "J429 5"


def test_a_torque_outside_the_spec_is_named_once_for_all_fasteners_that_got_it():
    one = joint(*["26 N*m"] * 5, "24 N*m", spec_low="22 N*m", spec_high="25 N*m")
    found = judged("x", one)[0]
    assert [finding.code for finding in found] == ["torque-outside-spec"]
    assert "bolt 1, bolt 2, bolt 3 and 2 more: 26 N*m is above" in found[0].text
    assert codes(joint("25 N*m", spec_low="22 N*m", spec_high="25 N*m")) == []


def test_a_torque_past_the_proof_load_is_named():
    """M10x1.5 10.9 dry: 72.2 N*m at 75 % of proof (computed in the reference), so 96.3 at proof."""
    put = {"thread": "M10x1.5", "grade": "10.9", "condition": "dry"}
    assert codes(joint("96 N*m", **put)) == []
    assert codes(joint("97 N*m", **put)) == ["torque-beyond-proof"]
    assert codes(joint("97 N*m", **put | {"condition": "plated"})) == []
    with_angle = joint("97 N*m", **put)
    turned = with_angle.model_copy(
        update={"fastener": (Joint.model_validate(
            {"format": 1, "joint": "x", "date": DAY,
             "fastener": [{"position": "1", "torque": "97 N*m", "angle": "90 deg"}]}
        ).fastener)}
    )  # fmt: skip
    assert codes(turned) == []


def test_pound_feet_written_as_newton_metres_of_a_tenth_is_noticed():
    put = {"thread": "M10x1.5", "grade": "10.9", "condition": "dry"}
    assert codes(joint("7.2 N*m", **put)) == ["torque-feeble"]


def test_bolts_that_serve_once_are_to_be_new():
    assert codes(joint("105 N*m", single_use=True)) == ["torque-single-use"]


def test_an_unknown_thread_or_grade_is_a_note_and_no_failure():
    assert codes(joint("20 N*m", thread="M9", grade="8.8")) == ["torque-grade"]
    assert codes(joint("20 N*m", thread="M8", grade="A2-70")) == ["torque-grade"]
    assert codes(joint("20 N*m", thread="M8")) == []


# Again after a distance


def told(*steps: Step, **named: Joint) -> dict[str, tuple[str, float | None]]:
    """Each record's state of re-tightening; "a" is filed with entry 2, others with the last."""
    history, _ = tell(*steps)
    placed: list[Version] = []
    for version in history:
        own = ("a",) if version.number == 2 else ()
        rest = tuple(n for n in named if n != "a") if version is history[-1] else ()
        placed.append(Version(**{**vars(version), "joints": own + rest}))
    states = joints(placed, HistoryFiles(joints=named))
    return {one.name: (one.due, one.left) for one in states}


HEADERS = Step({"exhaust.headers.kind": "cast"}, kind="found", miles=88000)
FIRST = joint("22 N*m", part="exhaust.headers", retorque_after="200 mi")


def test_a_joint_is_due_after_its_distance():
    state, left = told(HEADERS, Step(miles=88500), Step(miles=88620), a=FIRST)["a"]
    assert state == "later"
    assert left == pytest.approx(80 * MILE)
    assert told(HEADERS, Step(miles=88500), Step(miles=88700), a=FIRST)["a"][0] == "due"
    assert told(HEADERS, Step(miles=88500), Step(miles=None), a=FIRST)["a"] == ("unknown", None)


def test_a_record_that_repeats_it_settles_it():
    again = joint("22 N*m", retorque_of="a")
    states = told(HEADERS, Step(miles=88500), Step(miles=88900), a=FIRST, b=again)
    assert states["a"][0] == "done"


def test_a_part_that_was_taken_out_is_not_tightened_again():
    out = Step({"exhaust.headers.kind": "long-tube"}, miles=88900)
    assert told(HEADERS, Step(miles=88500), out, a=FIRST)["a"][0] == "gone"
