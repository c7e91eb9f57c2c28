"""Clutch capacity against two textbook examples and by integration over the facing."""

import tomllib
from math import pi
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from buildlog.physics.numerics.band import Band, propagate
from buildlog.physics.parts import clutch

TABLES = Path(__file__).parents[2] / "shared" / "tables"
TABLE = tomllib.loads((TABLES / "margin-examples.toml").read_text(encoding="utf-8"))

diameters = st.tuples(st.floats(0.05, 0.5), st.floats(0.05, 0.5)).filter(
    lambda d: abs(d[0] - d[1]) > 1e-4
)
frictions = st.floats(0.05, 0.6)
forces = st.floats(100, 5e4)


def test_example_11_1() -> None:
    t = TABLE["clutch_11_1"]
    size = (t["outer_mm"] / 1e3, t["inner_mm"] / 1e3, t["faces"])
    torque = clutch.capacity_uniform_wear(t["friction"], t["force_n"], *size)
    assert torque * 1e3 == pytest.approx(t["torque_nmm"], rel=1e-6)
    power = torque * t["revolutions_per_minute"] * pi / 30
    assert power / 1e3 == pytest.approx(t["power_kw"], rel=1e-5)


def test_example_11_6_worn() -> None:
    t = TABLE["clutch_11_6"]
    size = (t["outer_mm"] / 1e3, t["inner_mm"] / 1e3, t["faces"])
    force = t["springs"] * t["spring_force_n"]
    worn = clutch.capacity_uniform_wear(t["friction"], force, *size) / t["torque_nm"]
    assert worn == pytest.approx(t["reserve_worn"], rel=1e-6)


def test_slip_after_that_wear_is_exactly_the_torque() -> None:
    """Hooke's law on the way back: the springs' remaining force holds 250 N*m and no more."""
    t = TABLE["clutch_11_6"]
    force = t["springs"] * t["spring_force_n"]
    left = force * (1 - t["wear_to_slip_mm"] / t["compression_mm"])
    size = (t["outer_mm"] / 1e3, t["inner_mm"] / 1e3, t["faces"])
    held = clutch.capacity_uniform_wear(t["friction"], left, *size)
    assert held == pytest.approx(t["torque_nm"], rel=1e-6)


@given(frictions, st.floats(1e4, 1e6), diameters)
def test_capacity_is_friction_integrated_over_the_facing(
    mu: float, pressure: float, d: tuple[float, float]
) -> None:
    """Force = integral of p 2 pi r dr, torque = integral of mu p r 2 pi r dr, p r even (worn)."""
    outer, inner = max(d), min(d)
    ro, ri = outer / 2, inner / 2
    force = quad(lambda r: pressure * ri / r * 2 * pi * r, ri, ro)[0]
    worn_in = quad(lambda r: mu * pressure * ri / r * 2 * pi * r**2, ri, ro)[0]
    worn = clutch.capacity_uniform_wear(mu, force, outer, inner, 1)
    assert worn == pytest.approx(worn_in, rel=1e-6)


def test_handbook_friction_spans_a_capacity_band() -> None:
    """A moulded or woven facing of the handbook's range bears 430 N*m at 10 kN."""
    rows = {name: values for name, *values in TABLE["facings"]["rows"]}
    low, high = rows["woven"][:2]
    band = propagate(
        clutch.capacity_uniform_wear, Band(low, (low + high) / 2, high), 10e3, 0.2667, 0.1778, 2
    )
    assert band.p10 == pytest.approx(666.75 * low / 0.30, rel=1e-3)
    assert band.p90 / band.p10 == pytest.approx(high / low)


@given(forces, st.floats(1.0, 3.0))
def test_a_service_factor_is_taken_off_the_capacity(capacity: float, factor: float) -> None:
    assert clutch.usable_torque(capacity, factor) * factor == pytest.approx(capacity, rel=1e-9)
    assert clutch.usable_torque(capacity, 1.0) == capacity


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: clutch.capacity_uniform_wear(0.3, 1e4, 0.2, 0.25, 2), "must be smaller"),
        (lambda: clutch.capacity_uniform_wear(0.3, 1e4, 0.2, 0.2, 2), "must be smaller"),
        (lambda: clutch.capacity_uniform_wear(0.0, 1e4, 0.25, 0.2, 2), "friction coefficient"),
        (lambda: clutch.capacity_uniform_wear(0.3, -1e4, 0.25, 0.2, 2), "clamp force"),
        (lambda: clutch.capacity_uniform_wear(0.3, 1e4, 0.25, 0.2, 0), "friction faces"),
        (lambda: clutch.capacity_uniform_wear(0.3, 1e4, 0.25, 0.0, 2), "inner diameter"),
        (lambda: clutch.usable_torque(300.0, 0.9), "service factor"),
        (lambda: clutch.usable_torque(-1.0, 1.2), "must not be negative"),
    ],
)
def test_nonsense_is_refused(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
