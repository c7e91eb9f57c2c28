"""Three-way merge of leaves: laws that hold for any three sides, and trade examples."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from buildlog.records.merge import Merged, merge
from buildlog.records.paths import Value, leaves, same_value
from buildlog.units import parse
from tests.builders import make_configuration

PATHS = ["engine.bore", "induction.boost.target_gauge", "clutch.rated_torque", "work[seats].note"]
VALUES: st.SearchStrategy[Value] = st.sampled_from(
    [
        parse("3.551 in", ("length",)),
        parse("90.2 mm", ("length",)),
        parse("91.0 mm", ("length",)),
        parse("7 psi", ("pressure",)),
        9.2,
        "seats",
        (3.2, 1.9),
        True,
    ]
)
SIDES = st.dictionaries(st.sampled_from(PATHS), VALUES)


def alike(one: dict[str, Value], other: dict[str, Value]) -> bool:
    return all(same_value(one.get(p), other.get(p)) for p in {*one, *other})


@given(SIDES, SIDES)
def test_a_side_that_changed_nothing_gives_way(
    base: dict[str, Value], new: dict[str, Value]
) -> None:
    for merged in (merge(base, base, new), merge(base, new, base)):
        assert merged.conflicts == ()
        assert alike(merged.values, new)


@given(SIDES, SIDES)
def test_equal_sides_merge_to_themselves(base: dict[str, Value], new: dict[str, Value]) -> None:
    merged = merge(base, new, dict(new))
    assert merged == Merged(new, {}, ())


@given(SIDES, SIDES, SIDES)
def test_conflicts_do_not_depend_on_who_merges(
    base: dict[str, Value], ours: dict[str, Value], theirs: dict[str, Value]
) -> None:
    one, other = merge(base, ours, theirs), merge(base, theirs, ours)
    assert {c.path for c in one.conflicts} == {c.path for c in other.conflicts}
    open_paths = {c.path for c in one.conflicts}
    for path in {*one.values, *other.values} - open_paths:
        assert same_value(one.values.get(path), other.values.get(path))


@given(SIDES, SIDES, SIDES)
def test_what_is_taken_makes_ours_the_merged(
    base: dict[str, Value], ours: dict[str, Value], theirs: dict[str, Value]
) -> None:
    merged = merge(base, ours, theirs)
    done = {p: v for p, v in ours.items() if p not in merged.taken}
    done |= {p: v for p, v in merged.taken.items() if v is not None}
    assert done == merged.values
    assert not {c.path for c in merged.conflicts} & set(merged.taken)


@given(SIDES, SIDES, SIDES)
def test_a_decision_settles_every_conflict(
    base: dict[str, Value], ours: dict[str, Value], theirs: dict[str, Value]
) -> None:
    paths = [c.path for c in merge(base, ours, theirs).conflicts]
    for side, chosen in (("ours", ours), ("theirs", theirs)):
        merged = merge(base, ours, theirs, dict.fromkeys(paths, side))  # type: ignore[arg-type]
        assert merged.conflicts == ()
        assert all(same_value(merged.values.get(p), chosen.get(p)) for p in paths)


def test_the_same_bore_in_two_units_is_no_conflict() -> None:
    base, ours, theirs = (
        leaves(make_configuration({"engine.bore": text}))
        for text in ("84.0 mm", "90.2 mm", "3.551 in")
    )
    merged = merge(base, ours, theirs)
    assert merged.conflicts == ()
    assert merged.taken == {}
    assert str(merged.values["engine.bore"]) == "90.2 mm"


def test_two_boosts_are_a_question_and_a_clutch_is_not() -> None:
    base = leaves(make_configuration({"induction.boost.target_gauge": "6 psi"}))
    ours = leaves(make_configuration({"induction.boost.target_gauge": "7 psi"}))
    theirs = leaves(
        make_configuration(
            {"induction.boost.target_gauge": "9 psi", "clutch.rated_torque": "400 N*m"}
        )
    )
    merged = merge(base, ours, theirs)
    assert [(c.path, str(c.ours), str(c.theirs)) for c in merged.conflicts] == [
        ("induction.boost.target_gauge", "7 psi", "9 psi")
    ]
    assert str(merged.values["clutch.rated_torque"]) == "400 N*m"
    assert str(merged.values["induction.boost.target_gauge"]) == "7 psi"
