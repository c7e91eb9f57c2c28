"""Part life by the rules of the ledger's design; there is no outside source for these."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildlog.analysis.answers.comparison import replaced
from buildlog.analysis.workshop import partlife
from buildlog.analysis.workshop.partlife import PartLife, part, part_at, parts, since
from tests.analysis.stories import MILE, Step, tell

NEW_CLUTCH = {
    "clutch.part.maker": "Tolvane",
    "clutch.part.serial": "1",
    "clutch.part.condition": "new",
    "clutch.break_in.distance": "500 mi",
}


def clutch(history: list, at: int | None = None) -> PartLife:
    found = parts(history) if at is None else part_at(history, history[at])
    one = part(found, "clutch")
    assert one is not None
    return one


def test_a_part_of_the_first_found_entry_is_older_than_the_ledger():
    history, _ = tell(
        Step({"clutch.part.condition": "used"}, kind="found", miles=88000), Step(miles=88500)
    )
    one = clutch(history)
    assert one.fitted is None
    assert one.since == "before entry 1"
    assert one.by is None
    assert one.distance is None
    assert "nothing says since when" in str(one.why_unknown)


def test_a_part_of_a_later_found_entry_is_before_that_entry():
    history, _ = tell(
        Step(kind="found", miles=88000),
        Step(NEW_CLUTCH, kind="found", miles=88500),
        Step(miles=89000),
    )
    one = clutch(history)
    assert one.since == "before entry 2"
    assert one.distance is None
    assert one.break_in_left is None
    assert "cannot be known" in str(one.break_in_why)


def test_a_fitted_part_counts_from_its_entry():
    history, _ = tell(
        Step(kind="found", miles=88000), Step(NEW_CLUTCH, miles=88500), Step(miles=88712)
    )
    one = clutch(history)
    assert (one.since, one.by) == ("entry 2", "D-07")
    assert one.distance == pytest.approx(212 * MILE)
    assert one.break_in_left == pytest.approx(288 * MILE)


def test_break_in_is_done_at_exactly_its_distance():
    history, _ = tell(Step(NEW_CLUTCH, miles=88971), Step(miles=89471))
    assert clutch(history).break_in_left == 0.0


@pytest.mark.parametrize(
    ("told", "miles"),
    [
        ({"clutch.part.fitted_at_odometer": "71200 mi"}, 16800.0),
        ({"clutch.part.distance_before": "5000 mi"}, 5000.0),
        (
            {
                "clutch.part.fitted_at_odometer": "80000 mi",
                "clutch.part.distance_before": "5000 mi",
            },
            13000.0,
        ),
    ],
)
def test_what_the_part_says_of_its_past_counts_for_a_found_one(told: dict, miles: float):
    history, _ = tell(Step(told, kind="found", miles=88000))
    one = clutch(history)
    assert one.distance == pytest.approx(miles * MILE)
    assert one.basis == "declared"


def test_a_statement_left_over_from_the_part_before_says_nothing_of_this_one():
    history, _ = tell(
        Step({"clutch.part.fitted_at_odometer": "71200 mi"}, kind="found", miles=88000),
        Step(NEW_CLUTCH, miles=88500),
        Step(miles=88600),
    )
    assert clutch(history).distance == pytest.approx(100 * MILE)


def test_a_used_part_has_run_before_and_nobody_knows_how_far():
    put = NEW_CLUTCH | {"clutch.part.condition": "used"}
    history, _ = tell(Step(put, miles=88500), Step(miles=88600))
    one = clutch(history)
    assert one.distance is None
    assert "used when it was fitted" in str(one.why_unknown)


@pytest.mark.parametrize("changed", ["maker", "number", "serial"])
def test_another_identity_is_another_part(changed: str):
    put = NEW_CLUTCH | {"clutch.part.number": "TC-240"}
    history, _ = tell(
        Step(put, miles=88000),
        Step({f"clutch.part.{changed}": "other"}, miles=88300),
        Step(miles=88400),
    )
    assert clutch(history).since == "entry 2"
    ended = [life for life in partlife.lives(history) if life.path == "clutch" and life.ended]
    assert ended[0].distance == pytest.approx(300 * MILE)
    assert ended[0].ended is history[1]


@pytest.mark.parametrize("kind", ["correction", "earlier"])
def test_a_correction_and_a_word_about_the_past_end_no_life(kind: str):
    history, _ = tell(
        Step(NEW_CLUTCH, miles=88000),
        Step({"clutch.part.serial": "2"}, kind=kind, corrects=1, miles=88300),
        Step(miles=88400),
    )
    one = clutch(history)
    assert one.since == "entry 1"
    assert one.identity.serial == "2"
    assert one.distance == pytest.approx(400 * MILE)


def test_a_part_forgotten_and_written_down_by_a_correction_was_fitted_in_the_corrected_entry():
    history, _ = tell(
        Step(kind="found", miles=88000), Step(miles=88500),
        Step(NEW_CLUTCH, kind="correction", corrects=2, miles=88600),
    )  # fmt: skip
    one = clutch(history)
    assert one.since == "entry 2"
    assert one.distance == pytest.approx(100 * MILE)


def test_a_wrong_exchange_that_is_corrected_never_happened():
    history, _ = tell(
        Step(NEW_CLUTCH, miles=88000),
        Step({"clutch.part.serial": "9"}, miles=88100),
        Step({"clutch.part.serial": "1"}, kind="correction", corrects=2, miles=88200),
    )
    one = clutch(history)
    assert one.since == "entry 1"
    assert one.distance == pytest.approx(200 * MILE)


def test_a_refitted_serial_keeps_its_distance_less_the_time_out():
    history, _ = tell(
        Step(NEW_CLUTCH, miles=88000),
        Step({"clutch.part.serial": "2"}, miles=88300),
        Step({"clutch.part.serial": "1"}, miles=88500),
        Step(miles=88600),
    )
    one = clutch(history)
    assert one.since == "entry 3"
    assert one.distance == pytest.approx(400 * MILE)
    assert one.break_in_left == pytest.approx(100 * MILE)


def test_a_new_engine_ends_its_parts_but_those_with_the_same_serial():
    engine = {
        "engine.part.serial": "E1",
        "engine.pistons.kind": "cast",
        "engine.camshaft.part.serial": "C7",
        "engine.rated_power": "170 hp",
    }
    history, _ = tell(
        Step(engine, miles=88000),
        Step({"engine.part.serial": "E2", "engine.part.condition": "new"}, miles=88500),
        Step(miles=88600),
    )
    found = parts(history)
    pistons, camshaft = part(found, "engine.pistons"), part(found, "engine.camshaft")
    assert pistons is not None
    assert camshaft is not None
    assert pistons.distance == pytest.approx(100 * MILE)
    assert camshaft.distance == pytest.approx(600 * MILE)
    assert not partlife.rating_is_of_this_engine(history)
    history, _ = tell(Step(engine, kind="found", miles=88000))
    assert partlife.rating_is_of_this_engine(history)


def test_sub_parts_of_a_used_engine_have_run_as_far_as_it():
    engine = {"engine.part.serial": "E1", "engine.pistons.kind": "cast"}
    swap = {"engine.part.serial": "E2", "engine.part.distance_before": "40000 mi"}
    history, _ = tell(Step(engine, miles=88000), Step(swap, miles=88500), Step(miles=88600))
    pistons = part(parts(history), "engine.pistons")
    assert pistons is not None
    assert pistons.distance == pytest.approx(40100 * MILE)


def test_an_unknown_odometer_leaves_the_distance_unknown_with_its_reason():
    history, _ = tell(Step(NEW_CLUTCH, miles=None), Step(miles=88000))
    one = clutch(history)
    assert one.distance is None
    assert "odometer is unknown at entry 1" in str(one.why_unknown)
    history, _ = tell(Step(NEW_CLUTCH, miles=88000), Step(miles=None))
    assert "odometer is unknown at entry 2" in str(clutch(history).why_unknown)


def test_a_replaced_instrument_does_not_stop_the_count():
    offset = {"odometer_offset": None}
    history, _ = tell(Step(NEW_CLUTCH, miles=88000), Step(miles=88400), Step(offset, miles=10))
    assert clutch(history).distance is None  # the reading went back and nothing explains it
    told = [{"key": "new-instrument", "distance": "88450 mi", "reason": "instrument renewed"}]
    history, _ = tell(
        Step(NEW_CLUTCH, miles=88000), Step(miles=88400), Step({"odometer_offset": told}, miles=10)
    )
    assert clutch(history).distance == pytest.approx(460 * MILE)


def test_since_says_where_a_field_got_its_present_value():
    history, _ = tell(
        Step({"engine.compression_ratio": 9.2, "engine.bore": "90.2 mm"}),
        Step({"engine.compression_ratio": 9.0}),
        Step({"engine.bore": "3.551 in"}),
    )
    assert since(history, "engine.compression_ratio") is history[1]
    assert since(history, "engine.bore") is history[0]  # one bore, written in another unit
    assert since(history, "engine.stroke") is None


# Random histories: parts are fitted, taken out and put back while the car runs on.

moves = st.lists(
    st.tuples(st.sampled_from(["1", "2", "3", None]), st.integers(0, 900)), min_size=1, max_size=12
)


def story(moves: list[tuple[str | None, int]]) -> list:
    miles, steps = 50_000, []
    for serial, run in moves:
        miles += run
        put = {"clutch.part.serial": serial, "clutch.part.maker": "Tolvane" if serial else None}
        steps.append(Step(put, miles=miles))
    return tell(*steps)[0]


@settings(max_examples=200)
@given(moves)
def test_distance_on_a_part_is_what_the_car_ran_while_it_was_fitted(moves: list):
    history = story(moves)
    for at in range(len(history)):
        for one in part_at(history, history[at]):
            car = sum(run for _, run in moves[1 : at + 1])
            own = sum(moves[k + 1][1] for k in range(at) if moves[k][0] == one.identity.serial)
            assert one.distance is not None
            assert one.distance == pytest.approx(own * MILE, abs=1e-3)
            assert one.distance <= car * MILE + 1e-3


@settings(max_examples=100)
@given(moves, st.data())
def test_a_correction_never_shortens_a_life(moves: list, data: st.DataObject):
    """Whatever serial a correction writes, the part has run as far as before it."""
    history = story(moves)
    before = part(parts(history), "clutch")
    if before is None:
        return
    serial = data.draw(st.sampled_from(["7", "8"]))
    steps = [Step({"clutch.part.serial": s, "clutch.part.maker": "Tolvane" if s else None},
                  miles=v.odometer / MILE)
             for (s, _), v in zip(moves, history, strict=True)]  # fmt: skip
    steps.append(Step({"clutch.part.serial": serial}, kind="correction",
                      corrects=len(moves), miles=history[-1].odometer / MILE))  # fmt: skip
    after = clutch(tell(*steps)[0])
    assert after.identity.serial == serial
    run = sum(moves[k + 1][1] for k in range(before.first_seen.number - 1, len(moves) - 1))
    assert after.distance == pytest.approx(run * MILE, abs=1e-3)


@pytest.mark.parametrize("later", [0, 1, 2])
def test_the_distance_of_a_removed_part_ends_where_it_was_removed(later: int) -> None:
    """Fitted at 88,500, out at 88,867, and whatever is compared afterwards says 367 mi."""
    history, _ = tell(
        Step(kind="found", miles=88000),
        Step(NEW_CLUTCH, miles=88500),
        Step(miles=88538),
        Step(dict.fromkeys(NEW_CLUTCH), miles=88867),
        *(Step(miles=90000 + 1000 * n) for n in range(later)),
    )
    told = [one for one in replaced(history, history[2], history[-1]) if one.path == "clutch"]
    assert [one.distance for one in told] == [pytest.approx(367 * MILE)]
    assert not told[0].came
    (life,) = [one for one in partlife.lives(history) if one.path == "clutch" and one.ended]
    assert life.distance == pytest.approx(367 * MILE)
