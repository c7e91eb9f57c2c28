"""Mixed-up units and impossible levels, with unit sizes taken from scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import constants

from buildlog.physics.plausibility import (
    AMBIENT_RANGE,
    BMEP_CEILINGS,
    FULL_LOAD_MANIFOLD_RANGE,
    against_rating,
    beyond_kind,
    power_torque_identity,
    pressure_mix_ups,
)

OMEGA = np.linspace(200, 650, 200)
TORQUE = 280 - 50 * ((OMEGA - 420) / 220) ** 2
POWER = TORQUE * OMEGA
PS = 75 * constants.g
POUND_FOOT = constants.lbf * constants.foot


def noisy(values: np.ndarray, sd: float = 0.002) -> np.ndarray:
    return values * np.random.default_rng(1).normal(1, sd, values.size)


def test_the_identity_holds_in_a_sound_file() -> None:
    found = power_torque_identity(noisy(POWER), TORQUE, OMEGA)
    assert found.holds
    assert found.explained_by == ()
    assert found.spread == pytest.approx(0.002, rel=0.3)


@pytest.mark.parametrize(
    ("number_unit", "read_as_unit", "true", "read"),
    [
        (constants.hp, 1000.0, "hp", "kW"),
        (1000.0, constants.hp, "kW", "hp"),
        (PS, constants.hp, "PS", "hp"),
        (constants.hp, PS, "hp", "PS"),
        (PS, 1000.0, "PS", "kW"),
        (1000.0, PS, "kW", "PS"),
    ],
)
def test_power_in_the_wrong_unit_is_named(number_unit, read_as_unit, true, read) -> None:
    written = noisy(POWER) / number_unit  # what the file holds
    found = power_torque_identity(written * read_as_unit, TORQUE, OMEGA)
    assert not found.holds
    assert ("power", true, read) in [
        (m.channel, m.true_unit, m.read_as) for m in found.explained_by
    ]
    if (true, read) in {("hp", "kW"), ("kW", "hp"), ("PS", "hp"), ("hp", "PS")}:
        assert (found.explained_by[0].true_unit, found.explained_by[0].read_as) == (true, read)


def test_torque_in_the_wrong_unit_is_named_and_the_rival_too() -> None:
    # pound-feet read as newton-metres (1.3558) and PS read as kW (1.3596) lie 0.3 % apart
    found = power_torque_identity(POWER, noisy(TORQUE) / POUND_FOOT, OMEGA)
    named = [(m.channel, m.true_unit) for m in found.explained_by]
    assert named[0] == ("torque", "lbf*ft")
    assert ("power", "PS") in named


def test_torque_at_the_rollers_is_no_unit_mix_up() -> None:
    found = power_torque_identity(POWER, TORQUE * 3.9, OMEGA)
    assert not found.holds
    assert found.explained_by == ()
    assert found.ratio == pytest.approx(1 / 3.9)


def test_pressures_in_the_wrong_unit() -> None:
    assert pressure_mix_ups(101.3e3, AMBIENT_RANGE) is None
    # a barometer of 29.9 read as kPa
    names = [(m.true_unit, m.read_as) for m in pressure_mix_ups(29.9e3, AMBIENT_RANGE) or ()]
    assert names == [("inHg", "kPa")]
    # 150 kPa in the manifold read as 150 psi
    found = pressure_mix_ups(150 * constants.psi, FULL_LOAD_MANIFOLD_RANGE)
    assert ("kPa", "psi") in [(m.true_unit, m.read_as) for m in found or ()]
    kpa = next(m for m in found or () if m.true_unit == "kPa")
    assert 150 * constants.psi / kpa.factor == pytest.approx(150e3, rel=1e-9)
    # 22 psi absolute read as 22 kPa
    found = pressure_mix_ups(22e3, FULL_LOAD_MANIFOLD_RANGE)
    assert ("psi", "kPa") in [(m.true_unit, m.read_as) for m in found or ()]
    # nothing explains this
    assert pressure_mix_ups(1e12, AMBIENT_RANGE) == ()


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
        (lambda: power_torque_identity([1.0], [1.0, 2.0], [1.0]), "rows"),
        (lambda: power_torque_identity(-POWER, TORQUE, OMEGA), "10 rows"),
        (lambda: pressure_mix_ups(float("nan"), AMBIENT_RANGE), "not a number"),
        (lambda: beyond_kind(1e6, "electric"), "no ceiling"),
        (lambda: against_rating(0.0, 1.0), "above zero"),
    ],
)
def test_nonsense_is_a_sentence(call, words) -> None:
    with pytest.raises(ValueError, match=words):
        call()
