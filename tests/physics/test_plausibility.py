"""Impossible levels: mean effective pressure, and wheel power against the rating."""

from __future__ import annotations

import numpy as np
import pytest

from buildlog.physics.parts.usual_ranges import (
    BMEP_CEILINGS,
    against_crank,
    beyond_kind,
    usual_loss,
)


def test_bmep_beyond_any_of_its_kind() -> None:
    # 200 N*m from 1.0 litre without boost: 2.5 MPa
    bmep = 4 * np.pi * 200 / 1.0e-3
    assert beyond_kind(bmep, "naturally aspirated spark ignition") == pytest.approx(
        bmep / 1.6e6 - 1
    )
    assert beyond_kind(bmep, "pressure-charged spark ignition") is None
    assert all(beyond_kind(1.0e6, kind) is None for kind in BMEP_CEILINGS)


def test_wheel_power_against_a_figure_for_the_crank() -> None:
    """Common practice, no source: 12 to 18 % at the tires of a manual rear-drive car of 176 kW are
    usual, 6 % too few, 30 % too many; a small engine, a converter, a second axle lose more."""
    usual = usual_loss(176e3, "manual", "rear")
    for wheel in (0.88 * 176e3, 0.82 * 176e3):
        found = against_crank(wheel, 176e3, usual)
        assert (found.optimistic, found.low) == (False, False)
    assert against_crank(165e3, 176e3, usual).optimistic
    assert against_crank(0.70 * 176e3, 176e3, usual).low
    assert against_crank(176e3, 176e3, usual).at_or_above
    assert not against_crank(176e3, 176e3, usual).optimistic
    for more in (
        usual_loss(50e3, "manual", "rear"),
        usual_loss(176e3, "automatic", "rear"),
        usual_loss(176e3, "manual", "all"),
    ):
        assert more[0] > usual[0]
        assert more[1] > usual[1]
    wide = usual_loss(176e3, "manual", "rear", two_standards=True, gross=True)
    assert wide[0] < usual[0]
    assert wide[1] > usual[1] + 0.2


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: beyond_kind(1e6, "electric"), "no ceiling"),
        (lambda: against_crank(0.0, 1.0, (0.1, 0.3)), "above zero"),
        (lambda: usual_loss(0.0, None, None), "above zero"),
    ],
)
def test_nonsense_is_a_sentence(call, words) -> None:
    with pytest.raises(ValueError, match=words):
        call()
