"""Driveshaft: the published critical speed, torsion by integration, gearing."""

import tomllib
from math import pi, sqrt
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from buildlog.physics.engines import losses
from buildlog.physics.parts import driveshaft as shaft
from buildlog.physics.parts import gear_train

TABLES = Path(__file__).parents[2] / "shared" / "tables"
TABLE = tomllib.loads((TABLES / "margin-examples.toml").read_text(encoding="utf-8"))
STEEL = shaft.MATERIALS["steel"]

outers = st.floats(0.02, 0.2)
shares = st.floats(0.01, 0.5)
lengths = st.floats(0.3, 3.0)


def test_published_critical_speed() -> None:
    """11,390 rpm; 0.1 % off with E 207 GPa and 7850 kg/m^3, limit 0.2 %."""
    t = TABLE["driveshaft"]
    tube = (t["length_in"] * 0.0254, t["outer_in"] * 0.0254, t["wall_in"] * 0.0254)
    rpm = shaft.critical_speed(*tube, STEEL) * 30 / pi
    assert rpm == pytest.approx(t["critical_revolutions_per_minute"], rel=2e-3)


def test_aluminium_whirls_where_steel_does() -> None:
    """Stiffness over density of the two metals is nearly alike: sound travels at 5.1 km/s
    in bars of both (handbooks, from memory), so a tube gains little by the metal alone."""
    for material in shaft.MATERIALS.values():
        assert sqrt(material.youngs_modulus / material.density) == pytest.approx(5.1e3, rel=0.01)


def test_the_second_page_s_example_follows_its_formula_not_its_figure() -> None:
    """48 x 3.0 x 0.12 in is 8428 rpm by the formula; that page prints "near 7200"."""
    rpm = shaft.critical_speed(48 * 0.0254, 3.0 * 0.0254, 0.12 * 0.0254, STEEL) * 30 / pi
    assert rpm == pytest.approx(8428, rel=2e-3)


@given(lengths, outers, shares)
def test_critical_speed_by_the_static_sag_of_the_beam(
    length: float, outer: float, share: float
) -> None:
    """Rayleigh's way, another formula: omega^2 = (pi^4/(384/5)) g/sag for an even load."""
    wall = share * outer
    inner = outer - 2 * wall
    area, inertia = pi / 4 * (outer**2 - inner**2), pi / 64 * (outer**4 - inner**4)
    g = 9.81
    load = STEEL.density * area * g
    sag = 5 * load * length**4 / (384 * STEEL.youngs_modulus * inertia)
    omega = sqrt(pi**4 * 5 / 384 * g / sag)
    got = shaft.critical_speed(length, outer, wall, STEEL)
    assert got == pytest.approx(omega, rel=1e-6)


@given(st.floats(1, 5000), outers, shares)
def test_torque_is_the_shear_stress_integrated_over_the_section(
    torque: float, outer: float, share: float
) -> None:
    wall = share * outer
    inner = shaft.inner_diameter(outer, wall)
    surface = shaft.shear_stress(torque, outer, wall)
    total = quad(lambda r: surface * r / (outer / 2) * 2 * pi * r**2, inner / 2, outer / 2)[0]
    assert total == pytest.approx(torque, rel=1e-6)


@given(st.floats(1, 5000), st.floats(0.05, 0.2))
def test_a_thin_tube_carries_torque_by_its_wall(torque: float, outer: float) -> None:
    """Bredt: tau = 2 T/(pi D^2 t) for a thin wall."""
    wall = outer * 1e-4
    bredt = 2 * torque / (pi * (outer - wall) ** 2 * wall)
    assert shaft.shear_stress(torque, outer, wall) == pytest.approx(bredt, rel=1e-3)


def test_worked_stress() -> None:
    """430 N*m in a 3.38 first gear, 76.2 x 1.65 mm: 103.1 MPa (computed independently)."""
    torque = gear_train.highest_output_torque(430.0, [3.38, 2.0, 1.3, 1.0, 0.8], 1.0)
    assert shaft.shear_stress(torque, 0.0762, 0.00165) / 1e6 == pytest.approx(103.1, abs=0.05)


RATIOS = [3.38, 2.0, 1.3, 1.0, 0.8]


def test_gearing_keeps_power() -> None:
    """Torque times speed is the same on both sides of a gear without loss."""
    omega, torque = 600.0, 300.0
    first = [max(RATIOS)]
    power = gear_train.highest_output_torque(torque, RATIOS, 1.0) * gear_train.fastest_shaft(
        omega, first
    )
    assert power == pytest.approx(omega * torque)
    lossy = gear_train.highest_output_torque(torque, RATIOS, 0.95)
    assert lossy * gear_train.fastest_shaft(omega, first) == pytest.approx(0.95 * power)


@given(st.permutations(RATIOS))
def test_fastest_gear_is_found_in_any_order(ratios: list[float]) -> None:
    speed = gear_train.fastest_at_limiter(680.0, ratios, 3.73, 1.93)
    every = [losses.road_speed(680.0, ratio * 3.73, 1.93) for ratio in ratios]
    assert speed == max(every)
    assert gear_train.fastest_shaft(680.0, ratios) == pytest.approx(850.0)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: gear_train.check_ratios([]), "without ratios"),
        (lambda: gear_train.check_ratios([3.4, 0.0]), "ratio 2 of the gearbox"),
        (lambda: gear_train.fastest_at_limiter(600.0, [], 3.7, 1.9), "without ratios"),
        (lambda: gear_train.fastest_at_limiter(600.0, [1.0], 0.0, 1.9), "above zero"),
        (lambda: gear_train.fastest_at_limiter(-1.0, [1.0], 3.7, 1.9), "engine speed"),
        (lambda: gear_train.fastest_shaft(600.0, [-1.0]), "ratio 1 of the gearbox"),
        (lambda: gear_train.highest_output_torque(300.0, [1.0], 1.1), "efficiency"),
        (lambda: gear_train.highest_output_torque(300.0, [1.0], 0.0), "efficiency"),
        (lambda: gear_train.highest_output_torque(-300.0, [1.0], 1.0), "torque"),
        (lambda: shaft.inner_diameter(0.05, 0.03), "does not fit"),
        (lambda: shaft.shear_stress(-1.0, 0.07, 0.002), "torque must not be negative"),
        (lambda: shaft.critical_speed(0.0, 0.07, 0.002, STEEL), "length"),
        (lambda: shaft.critical_speed(1.0, 0.07, 0.0, STEEL), "wall"),
    ],
)
def test_nonsense_is_refused(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
