"""A rotating ring: a data handbook, and an equilibrium of forces."""

import tomllib
from math import cos, pi
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from buildlog.physics.parts import flywheel

TABLES = Path(__file__).parents[2] / "shared" / "tables"
TABLE = tomllib.loads((TABLES / "margin-examples.toml").read_text(encoding="utf-8"))

speeds = st.floats(10, 1500)
radii = st.floats(0.02, 0.3)
densities = st.floats(1500, 9000)


def test_handbook_ring() -> None:
    t = TABLE["rotating_disc"]
    omega = t["revolutions_per_minute"] * pi / 30
    ring = flywheel.ring_stress(omega, t["radius_m"], t["density"])
    assert ring / 1e6 == pytest.approx(t["ring_mpa"], abs=0.005)


@given(speeds, radii, densities)
def test_ring_holds_the_centrifugal_force_of_its_half(
    omega: float, radius: float, density: float
) -> None:
    """Two cut faces of unit area carry the pull of half a ring."""
    pull = quad(lambda a: density * radius * omega**2 * radius * cos(a), -pi / 2, pi / 2)[0]
    assert 2 * flywheel.ring_stress(omega, radius, density) == pytest.approx(pull, rel=1e-9)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: flywheel.ring_stress(800, 0.0, 7200), "radius"),
        (lambda: flywheel.ring_stress(800, 0.1, 0.0), "density"),
        (lambda: flywheel.ring_stress(-800, 0.1, 7200), "speed must not be negative"),
    ],
)
def test_nonsense_is_refused(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
