"""Injector flow and fuel demand against trade examples and published tables."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.physics.gases.fuels import blend
from buildlog.physics.parts import injectors as inj

TABLES = Path(__file__).parents[2] / "shared" / "tables"
TABLE = tomllib.loads((TABLES / "margin-examples.toml").read_text(encoding="utf-8"))
PSI = 6894.757
LB_H = 0.45359237 / 3600
LB_HP_H = LB_H / 745.699872

positive = st.floats(1e-3, 1e3)


@pytest.mark.parametrize(("psi", "lb_h"), TABLE["injector"]["rows"])
def test_square_root_law(psi: float, lb_h: float) -> None:
    rated = TABLE["injector"]
    flow = inj.flow_at_pressure(rated["rated_lb_h"], rated["rated_psi"] * PSI, psi * PSI)
    assert flow == pytest.approx(lb_h, abs=6e-4)


def test_boost_eats_into_a_rail_without_reference() -> None:
    """39.15 psi less 7 psi of boost: 9.4 % less flow (trade pages' law, computed)."""
    differential = inj.differential_pressure(39.15 * PSI, 7.0 * PSI, referenced=False)
    flow = inj.flow_at_pressure(24.0, 39.15 * PSI, differential)
    assert flow / 24.0 - 1 == pytest.approx(-0.094, abs=5e-4)
    held = inj.differential_pressure(39.15 * PSI, 7.0 * PSI, referenced=True)
    assert held == 39.15 * PSI


def test_injector_size_of_the_trade_example() -> None:
    t = TABLE["injector_size"]
    demand = inj.fuel_demand(t["horsepower"] * 745.699872, t["lb_per_hp_h"] * LB_HP_H)
    each = demand / t["count"] / LB_H
    assert each / t["flow_lb_h"] == pytest.approx(t["duty"], abs=5e-4)
    assert each / 0.85 == pytest.approx(t["flow_at_85_percent_lb_h"], abs=0.01)


def test_ethanol_needs_half_as_much_again() -> None:
    """Mass times 1.498 at equal air and lambda, DOE table; energy per air 1 % more."""
    by_energy = [
        inj.specific_consumption(0.25, fuel.lower_heating_value) * fuel.energy_per_air
        for fuel in (blend(0.0), blend(0.85))
    ]
    assert by_energy[1] / by_energy[0] == pytest.approx(1.498, abs=1e-3)


@given(positive, positive, positive)
def test_flow_back_at_the_rated_pressure_is_the_rated_flow(
    q: float, p: float, other: float
) -> None:
    there = inj.flow_at_pressure(q, p, other)
    assert inj.flow_at_pressure(there, other, p) == pytest.approx(q, rel=1e-9)


@given(positive, positive, positive, st.floats(600, 900), st.floats(600, 900))
def test_mass_flow_obeys_bernoulli(
    q: float, rated: float, differential: float, density: float, rated_density: float
) -> None:
    """The pressure that drives each flow is the same multiple of m^2/rho."""
    loss = (q * rated_density) ** 2 / rated_density / rated
    mass = inj.mass_flow(q, rated, differential, density, rated_density)
    assert mass**2 / density / differential == pytest.approx(loss, rel=1e-9)


def test_no_differential_no_flow() -> None:
    assert inj.flow_at_pressure(24.0, 300e3, 0.0) == 0.0
    assert inj.flow_at_pressure(24.0, 300e3, -50e3) == 0.0


@pytest.mark.parametrize(
    "call",
    [
        lambda: inj.flow_at_pressure(0.0, 300e3, 300e3),
        lambda: inj.flow_at_pressure(1.0, 0.0, 300e3),
        lambda: inj.mass_flow(1.0, 1.0, 1.0, density=-745.0),
        lambda: inj.differential_pressure(0.0, 0.0, True),
        lambda: inj.fuel_demand(-1.0, 1.0),
        lambda: inj.fuel_demand(1.0, 0.0),
        lambda: inj.fuel_demand(float("nan"), 1.0),
        lambda: inj.specific_consumption(0.0, 43e6),
    ],
)
def test_nonsense_is_refused(call) -> None:
    with pytest.raises(ValueError, match="must"):
        call()
