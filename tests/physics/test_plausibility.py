"""Impossible levels: mean effective pressure, and wheel power against the rating."""

from __future__ import annotations

import numpy as np
import pytest

from buildlog.physics.parts.usual_ranges import BMEP_CEILINGS, against_rating, beyond_kind


def test_bmep_beyond_any_of_its_kind() -> None:
    # 200 N*m from 1.0 litre without boost: 2.5 MPa
    bmep = 4 * np.pi * 200 / 1.0e-3
    assert beyond_kind(bmep, "naturally aspirated spark ignition") == pytest.approx(
        bmep / 1.6e6 - 1
    )
    assert beyond_kind(bmep, "pressure-charged spark ignition") is None
    assert all(beyond_kind(1.0e6, kind) is None for kind in BMEP_CEILINGS)


def test_wheel_power_against_the_makers_rating() -> None:
    # Common practice, no source: wheel over 0.82 to 0.88; under 10 % loss is optimistic;
    # wheel power at the rating on an unmodified car is higher than one expects.
    usual = against_rating(150e3, 176e3)
    assert not usual.optimistic
    assert usual.crank_range[0] < 176e3 < usual.crank_range[1]
    assert against_rating(165e3, 176e3).optimistic
    assert against_rating(176e3, 176e3).at_or_above


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: beyond_kind(1e6, "electric"), "no ceiling"),
        (lambda: against_rating(0.0, 1.0), "above zero"),
    ],
)
def test_nonsense_is_a_sentence(call, words) -> None:
    with pytest.raises(ValueError, match=words):
        call()
