"""Exhaust back-pressure and its growth with flow."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.physics.gases import pipe_flow

flows = st.floats(0.01, 1.0)


def test_blown_engine_through_an_unchanged_exhaust() -> None:
    """24 kPa at 0.225 kg/s is 51.6 kPa at 0.33 (computed independently)."""
    assert pipe_flow.scaled(24e3, 0.225, 0.33) / 1e3 == pytest.approx(51.6, abs=0.05)
    assert pipe_flow.scaled(24e3, 0.225, 0.33, 0.5) / 1e3 == pytest.approx(25.8, abs=0.05)


@given(st.floats(100, 1e5), flows, flows, st.floats(0.2, 5))
def test_scaling_there_and_back(drop: float, one: float, other: float, ratio: float) -> None:
    there = pipe_flow.scaled(drop, one, other, ratio)
    assert pipe_flow.scaled(there, other, one, 1 / ratio) == pytest.approx(drop, rel=1e-9)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: pipe_flow.scaled(-1.0, 0.1, 0.2), "known drop"),
        (lambda: pipe_flow.scaled(1e3, 0.0, 0.2), "known flow"),
        (lambda: pipe_flow.scaled(1e3, 0.1, 0.2, 0.0), "resistance ratio"),
    ],
)
def test_nonsense_is_refused(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
