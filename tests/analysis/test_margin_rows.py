"""A row by itself: which capacity serves, what is missing, what to ask for first."""

from __future__ import annotations

from dataclasses import replace

import pytest

from buildlog.analysis.margins.figures.demand_figure import (
    SESSION,
    DemandFigure,
    absent,
    as_limit,
    exact,
)
from buildlog.analysis.margins.figures.margin_rows import (
    Row,
    State,
    row,
    tightest_first,
    worth_asking,
)
from tests.analysis.test_margin_changes import KIND, TOLD, left

DEMAND, STATED, COMPUTED = exact(80.0, "a"), exact(100.0, "b"), exact(120.0, "c", "computed")
NONSENSE = as_limit(exact(-1.0, path="clutch.rated_torque"))


@pytest.mark.parametrize(
    ("demand", "capacity", "computed", "serving", "ask", "state"),
    [
        (DEMAND, STATED, None, STATED, (), State.CLEAR),
        (DEMAND, STATED, COMPUTED, STATED, (), State.CLEAR),
        (DEMAND, absent("x"), COMPUTED, COMPUTED, (), State.CLEAR),
        (DEMAND, absent("x"), absent("y"), absent("x"), ("x",), State.UNKNOWN),
        (absent("z"), absent("x", "z"), None, absent("x", "z"), ("z", "x"), State.UNKNOWN),
        (absent("z"), STATED, None, STATED, ("z",), State.UNKNOWN),
    ],
)
def test_a_stated_capacity_wins_and_what_is_missing_is_asked_for(
    demand: DemandFigure, capacity: DemandFigure, computed: DemandFigure | None,
    serving: DemandFigure, ask: tuple[str, ...], state: State,
) -> None:  # fmt: skip
    found = row(KIND, demand, capacity, computed)
    assert (found.capacity, found.ask, found.state) == (serving, ask, state)
    assert found.problem is None


def test_a_computed_capacity_that_differs_stands_beside_the_stated_one() -> None:
    found = row(KIND, DEMAND, STATED, COMPUTED)
    assert found.alternative == COMPUTED
    assert found.margin.alternative == COMPUTED.band
    assert row(KIND, DEMAND, STATED, STATED).alternative is None


def test_nonsense_is_a_problem_and_leaves_it_unknown() -> None:
    found = row(KIND, DEMAND, NONSENSE)
    assert found.state is State.UNKNOWN
    assert found.finding is not None
    assert found.finding.paths == ("clutch.rated_torque",)
    less = row(KIND, exact(-5.0, path="fuel.pump.flow"), STATED)
    assert (less.state, less.ask) == (State.UNKNOWN, ("fuel.pump.flow",))
    assert less.problem is not None


def test_pieces_of_a_kind_stand_in_the_order_of_their_names() -> None:
    same = [replace(left(0.5), what=what) for what in ("rear", None, "Front")]
    told = left(0.1, kind=TOLD)
    found = tightest_first([told, left(None), *same, left(0.05), left(-0.1)])
    assert [(one.state, one.what) for one in found[:5]] == [
        (State.OVER, None), (State.CLOSE, None), (State.CLEAR, None), (State.CLEAR, "Front"),
        (State.CLEAR, "rear"),
    ]  # fmt: skip
    assert found[5:] == [left(None), told]


def asking(*names: str) -> Row:
    return row(KIND, absent(*names), STATED)


def test_what_answers_the_most_is_asked_for_first() -> None:
    rows = [asking("clutch.limit.value", "b"), asking("a", "clutch.limit.value"),
            asking("clutch.limit.value", "c"), asking("c", SESSION)]  # fmt: skip
    assert worth_asking(rows) == [SESSION, "c", "b", "a", "clutch.limit.value"]
    assert worth_asking([left(0.5)]) == []
