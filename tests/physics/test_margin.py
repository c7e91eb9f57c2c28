"""The rules of margins: states, worse end, missing data, order."""

from __future__ import annotations

import math
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import buildlog.physics
from buildlog.physics.numerics.band import Band
from buildlog.physics.parts.margin import (
    PRACTICE,
    Kind,
    Margin,
    Rule,
    State,
    choose,
    state_of,
    tightness,
)
from tests.physics.made_kinds import TEXTS, kind

PHYSICS = Path(buildlog.physics.__file__).parent

RATIO = kind("torque", Rule.RATIO, 0.10)
DISTANCE = kind("temperature", Rule.AT_MOST, 10.0)  # K
FLOOR = kind("pressure", Rule.AT_LEAST, 50e3)  # Pa


def of(kind: Kind, demand: float, capacity: float) -> Margin:
    return Margin(kind, Band.exact(demand), Band.exact(capacity))


@pytest.mark.parametrize(
    ("kind", "demand", "capacity", "left", "state"),
    [
        (RATIO, 382.0, 415.0, 0.0795, State.CLOSE),
        (RATIO, 300.0, 415.0, 0.2771, State.CLEAR),
        (RATIO, 415.0, 415.0, 0.0, State.CLOSE),
        (RATIO, 420.0, 415.0, -0.0120, State.OVER),
        (DISTANCE, 320.0, 345.0, 25.0, State.CLEAR),
        (DISTANCE, 340.0, 345.0, 5.0, State.CLOSE),
        (DISTANCE, 350.0, 345.0, -5.0, State.OVER),
        (FLOOR, 300e3, 200e3, 100e3, State.CLEAR),
        (FLOOR, 220e3, 200e3, 20e3, State.CLOSE),
        (FLOOR, 180e3, 200e3, -20e3, State.OVER),
    ],
)
def test_states_of_exact_figures(
    kind: Kind, demand: float, capacity: float, left: float, state: State
) -> None:
    margin = of(kind, demand, capacity)
    assert margin.left is not None
    assert margin.left.p50 == pytest.approx(left, abs=5e-5)
    assert margin.state is state


def test_edges_belong_to_the_state_inside() -> None:
    assert state_of(Band.exact(0.10), 0.10) is State.CLEAR
    assert state_of(Band.exact(0.0999), 0.10) is State.CLOSE
    assert state_of(Band(-0.5, 0.0, 0.5), 0.10) is State.CLOSE
    assert state_of(Band(-0.5, -1e-12, 0.5), 0.10) is State.OVER


def test_a_caution_band_has_a_width() -> None:
    with pytest.raises(ValueError, match="wider than zero"):
        kind("any", Rule.RATIO, 0.0)


@pytest.mark.parametrize("text", TEXTS)
def test_a_kind_without_one_of_its_texts_cannot_be_made(text: str) -> None:
    with pytest.raises(ValueError, match=f"any lacks its {text}"):
        kind("any", Rule.RATIO, 0.1, **{text: ""})


@pytest.mark.parametrize("text", [text for text in TEXTS if text != "caution_source"])
def test_a_kind_without_one_of_its_texts_is_no_kind(text: str) -> None:
    texts = {one: "x" for one in TEXTS if one != text}
    with pytest.raises(TypeError, match=text):
        Kind(name="any", unit="1", caution=0.1, **texts)  # type: ignore[arg-type]


def test_a_caution_band_that_names_no_source_has_none() -> None:
    texts = {one: "x" for one in TEXTS if one != "caution_source"}
    made = Kind(name="any", unit="1", caution=0.1, **texts)  # type: ignore[arg-type]
    assert made.caution_source == PRACTICE == "common practice, no source"


def test_worse_end_is_p90_of_demand_with_p10_of_capacity() -> None:
    demand, capacity = Band(80.0, 90.0, 100.0), Band(110.0, 120.0, 130.0)
    ratio = Margin(RATIO, demand, capacity).left
    assert ratio is not None
    assert ratio.p10 == pytest.approx(1 - 100 / 110)
    assert ratio.p90 == pytest.approx(1 - 80 / 130)
    assert Margin(DISTANCE, demand, capacity).left == Band(10.0, 30.0, 50.0)
    # For a floor the worse end is a low value against a high floor.
    assert Margin(FLOOR, capacity, demand).left == Band(10.0, 30.0, 50.0)


numbers = st.floats(0.0, 1e6)
bands = st.tuples(numbers, numbers, numbers).map(lambda v: Band(*sorted(v)))
kinds = st.builds(kind, st.just("any"), st.sampled_from(Rule), st.floats(1e-6, 1e5))


@given(kinds, bands, bands)
def test_a_band_that_crosses_the_caution_edge_is_never_clear(
    kind: Kind, demand: Band, capacity: Band
) -> None:
    margin = Margin(kind, demand, capacity)
    assert margin.left is not None
    if margin.left.p10 < kind.caution:
        assert margin.state is not State.CLEAR
    else:
        assert margin.state is State.CLEAR
    assert (margin.state is State.OVER) == (margin.left.p50 < 0)


MODULES = (
    *(f"parts.{path.stem}" for path in (PHYSICS / "parts").glob("[!_]*.py")),
    *("gases.charge", "gases.fuels", "gases.heat", "gases.knock", "gases.pipe_flow"),
    *("engines.crank", "engines.losses", "numerics.band"),
)


@given(kinds, st.none() | bands, st.none() | bands, st.lists(st.text(min_size=1), min_size=1))
def test_naming_anything_missing_is_unknown_whatever_numbers_are_there(
    kind: Kind, demand: Band | None, capacity: Band | None, missing: list[str]
) -> None:
    margin = Margin(kind, demand, capacity, tuple(missing))
    assert (margin.state, margin.left) == (State.UNKNOWN, None)


@pytest.mark.parametrize("sides", [(None, Band.exact(1.0)), (Band.exact(1.0), None), (None, None)])
def test_a_margin_without_numbers_must_name_what_is_missing(
    sides: tuple[Band | None, Band | None],
) -> None:
    with pytest.raises(ValueError, match="must name what is missing"):
        Margin(RATIO, *sides)


def test_no_left_is_unknown_for_every_caution_band() -> None:
    assert {state_of(None, caution) for caution in (1e-9, 0.1, math.inf)} == {State.UNKNOWN}


def test_state_cannot_be_set_from_outside() -> None:
    margin = of(RATIO, 420.0, 415.0)
    with pytest.raises(TypeError):
        Margin(RATIO, None, None, ("x",), state=State.CLEAR)  # type: ignore[call-arg]
    with pytest.raises(AttributeError):
        margin.state = State.CLEAR  # type: ignore[misc]


def test_declared_rating_wins_and_a_differing_computed_one_is_shown() -> None:
    computed = Band(550.0, 672.0, 720.0)
    assert choose(Band.exact(415.0), computed) == (Band.exact(415.0), computed)
    assert choose(None, computed) == (computed, None)
    assert choose(Band.exact(415.0), None) == (Band.exact(415.0), None)
    shown = [choose(Band.exact(400.0), Band.exact(c))[1] for c in (460.0, 460.1, 340.0, 339.9)]
    assert shown == [None, Band.exact(460.1), None, Band.exact(339.9)]


def test_nothing_asked_of_nothing_leaves_nothing() -> None:
    assert of(RATIO, 0.0, 0.0).left == Band.exact(0.0)


def test_negative_figures_have_no_ratio() -> None:
    with pytest.raises(ValueError, match="must not be negative"):
        of(RATIO, 10.0, -5.0)


def test_demand_on_a_capacity_that_ran_out_is_over_without_end() -> None:
    margin = of(RATIO, 1e-5, 0.0)
    assert margin.left == Band.exact(-math.inf)
    assert margin.state is State.OVER


def test_order_is_state_then_distance_in_caution_bands() -> None:
    over = of(RATIO, 420.0, 415.0)
    close_by_half = of(RATIO, 95.0, 100.0)
    close_by_a_tenth = of(DISTANCE, 344.0, 345.0)
    clear = of(RATIO, 50.0, 100.0)
    unknown = Margin(RATIO, None, None, ("limit",))
    spinning = of(kind("grip", Rule.RATIO, 0.10, information=True), 9000.0, 7000.0)
    shuffled = [unknown, clear, spinning, close_by_half, over, close_by_a_tenth]
    assert sorted(shuffled, key=tightness) == [
        over,
        close_by_a_tenth,
        close_by_half,
        clear,
        unknown,
        spinning,
    ]


@given(st.floats(0.01, 1.0), numbers, numbers, st.floats(0.1, 10.0))
def test_a_ratio_does_not_depend_on_the_unit(
    caution: float, demand: float, capacity: float, factor: float
) -> None:
    any_ = kind("any", Rule.RATIO, caution)
    one, other = of(any_, demand, capacity), of(any_, demand * factor, capacity * factor)
    assert one.left is not None
    assert other.left is not None
    assert other.left.p50 == pytest.approx(one.left.p50, rel=1e-9, abs=1e-9)


def test_margins_answer_without_numpy() -> None:
    imports = "\n".join(f"import buildlog.physics.{name}" for name in MODULES)
    code = f"import sys\n{imports}\nsys.exit('numpy' in sys.modules or 'pint' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
