"""Rotating rings and discs: a data handbook, an equilibrium of forces, special cases."""

import tomllib
from math import cos, pi
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from buildlog.physics import flywheel

TABLES = Path(__file__).parents[2] / "shared" / "tables"
TABLE = tomllib.loads((TABLES / "margin-examples.toml").read_text(encoding="utf-8"))

speeds = st.floats(10, 1500)
radii = st.floats(0.02, 0.3)
densities = st.floats(1500, 9000)
poissons = st.floats(0.0, 0.5)


def test_handbook_ring_and_disc() -> None:
    t = TABLE["rotating_disc"]
    omega = t["revolutions_per_minute"] * pi / 30
    ring = flywheel.ring_stress(omega, t["radius_m"], t["density"])
    disc = flywheel.disc_stress(omega, t["radius_m"], t["density"], t["poisson"])
    assert ring / 1e6 == pytest.approx(t["ring_mpa"], abs=0.005)
    assert disc / 1e6 == pytest.approx(t["disc_mpa"], abs=0.005)


def test_annulus_of_the_same_size() -> None:
    t, a = TABLE["rotating_disc"], TABLE["rotating_annulus"]
    omega = t["revolutions_per_minute"] * pi / 30
    bore = flywheel.annulus_stress(
        omega, t["radius_m"], a["inner_radius_m"], t["density"], t["poisson"]
    )
    assert bore / 1e6 == pytest.approx(a["bore_mpa"], abs=0.005)


@given(speeds, radii, densities)
def test_ring_holds_the_centrifugal_force_of_its_half(
    omega: float, radius: float, density: float
) -> None:
    """Two cut faces of unit area carry the pull of half a ring."""
    pull = quad(lambda a: density * radius * omega**2 * radius * cos(a), -pi / 2, pi / 2)[0]
    assert 2 * flywheel.ring_stress(omega, radius, density) == pytest.approx(pull, rel=1e-9)


@given(speeds, radii, densities, poissons)
def test_annulus_lies_between_a_pierced_disc_and_a_ring(
    omega: float, radius: float, density: float, poisson: float
) -> None:
    disc = flywheel.disc_stress(omega, radius, density, poisson)
    pierced = flywheel.annulus_stress(omega, radius, radius * 1e-6, density, poisson)
    assert pierced == pytest.approx(2 * disc, rel=1e-6)
    thin = flywheel.annulus_stress(omega, radius, radius * (1 - 1e-9), density, poisson)
    assert thin == pytest.approx(flywheel.ring_stress(omega, radius, density), rel=1e-6)


def test_stresses_balance_in_the_full_disc_solution() -> None:
    """Mean hoop stress over the section equals the pull of half the annulus (equilibrium).

    Lame's rotating-disc field (Roark, from memory) has at its bore the formula under test.
    """
    omega, ro, ri, rho, nu = 800.0, 0.15, 0.05, 7200.0, 0.27
    k, c = (3 + nu) / 8 * rho * omega**2, (1 + 3 * nu) / (3 + nu)

    def hoop(r: float) -> float:
        return k * (ro**2 + ri**2 + (ro * ri / r) ** 2 - c * r**2)

    assert hoop(ri) == pytest.approx(flywheel.annulus_stress(omega, ro, ri, rho, nu), rel=1e-12)
    pull = quad(lambda r: 2 * rho * omega**2 * r**2, ri, ro)[0]
    assert 2 * quad(hoop, ri, ro)[0] == pytest.approx(pull, rel=1e-9)


@given(st.floats(1e6, 1e9), speeds, radii, densities)
def test_speed_at_stress_is_the_inverse(
    limit: float, omega: float, radius: float, density: float
) -> None:
    stress = flywheel.ring_stress(omega, radius, density)
    there = flywheel.speed_at_stress(limit, stress, omega)
    assert flywheel.ring_stress(there, radius, density) == pytest.approx(limit, rel=1e-9)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: flywheel.ring_stress(800, 0.0, 7200), "outer radius"),
        (lambda: flywheel.ring_stress(-800, 0.1, 7200), "speed must not be negative"),
        (lambda: flywheel.disc_stress(800, 0.1, 0.0, 0.3), "density"),
        (lambda: flywheel.disc_stress(800, 0.1, 7200, 0.6), "Poisson"),
        (lambda: flywheel.disc_stress(800, 0.1, 7200, 0.51), "Poisson"),
        (lambda: flywheel.annulus_stress(800, 0.1, 0.2, 7200, 0.3), "must be smaller"),
        (lambda: flywheel.annulus_stress(800, 0.1, 0.1, 7200, 0.3), "must be smaller"),
        (lambda: flywheel.annulus_stress(800, 0.1, 0.0, 7200, 0.3), "inner radius"),
        (lambda: flywheel.speed_at_stress(0.0, 1.0, 1.0), "stress limit"),
    ],
)
def test_nonsense_is_refused(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
