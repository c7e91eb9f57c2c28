"""Exhaust back-pressure against the library fluids, and its growth with flow."""

import tomllib
from math import pi
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.physics import exhaust

TABLES = Path(__file__).parents[2] / "shared" / "tables"
TABLE = tomllib.loads((TABLES / "margin-examples.toml").read_text(encoding="utf-8"))

flows = st.floats(0.01, 1.0)
diameters = st.floats(0.03, 0.1)
temperatures = st.floats(400, 1200)


@pytest.mark.parametrize(("millimetres", "pascal"), TABLE["exhaust"]["rows"])
def test_pipes_of_the_table(millimetres: float, pascal: float) -> None:
    """0.6 % wide: the table has the implicit friction factor and a real gas's viscosity."""
    t = TABLE["exhaust"]
    got = exhaust.pipe_drop(
        t["flow_kg_s"],
        millimetres / 1e3,
        1.0,
        t["temperature_k"],
        t["pressure_kpa"] * 1e3,
        t["roughness_mm"] / 1e3,
    )
    assert got == pytest.approx(pascal, rel=6e-3)


@pytest.mark.data
@given(st.floats(5e3, 1e7), st.floats(1e-5, 0.04))
def test_friction_factor_against_a_library(reynolds: float, roughness: float) -> None:
    fluids = pytest.importorskip("fluids", reason="the extra [data] is not installed")
    exact = fluids.friction.Colebrook(reynolds, roughness)
    assert exhaust.friction_factor(reynolds, roughness) == pytest.approx(exact, rel=0.035)


@pytest.mark.data
@given(flows, diameters, temperatures)
def test_pressure_loss_against_a_library(flow: float, diameter: float, kelvin: float) -> None:
    fluids = pytest.importorskip("fluids", reason="the extra [data] is not installed")
    rho, mu = exhaust.density(110e3, kelvin), exhaust.viscosity(kelvin)
    velocity = flow / rho / (pi / 4 * diameter**2)
    factor = exhaust.friction_factor(fluids.Reynolds(velocity, diameter, rho, mu), 46e-6 / diameter)
    k = fluids.core.K_from_f(factor, 2.0, diameter) + 0.5
    want = fluids.core.dP_from_K(k, rho, velocity)
    got = exhaust.pipe_drop(flow, diameter, 2.0, kelvin, 110e3, loss_coefficients=0.5)
    assert got == pytest.approx(want, rel=1e-9)


@pytest.mark.data
def test_darcy_is_five_percent_low_over_three_metres() -> None:
    """The limit named in the docstring: compressible isothermal flow of the same pipe."""
    fluids = pytest.importorskip("fluids", reason="the extra [data] is not installed")
    rho, mu = exhaust.density(110e3, 1000.0), exhaust.viscosity(1000.0)
    velocity = 0.125 / rho / (pi / 4 * 0.0635**2)
    factor = exhaust.friction_factor(rho * velocity * 0.0635 / mu, 46e-6 / 0.0635)
    # Outlet at 110 kPa less the compressible loss; density at the mean pressure.
    outlet = fluids.compressible.isothermal_gas(
        rho, factor, P1=110e3, P2=None, L=3.0, D=0.0635, m=0.125
    )
    darcy = exhaust.pipe_drop(0.125, 0.0635, 3.0, 1000.0, 110e3)
    assert (110e3 - outlet) / darcy - 1 == pytest.approx(0.05, abs=0.01)


@pytest.mark.data
def test_viscosity_against_coolprop() -> None:
    props = pytest.importorskip("CoolProp.CoolProp", reason="the extra [data] is not installed")
    for kelvin in (300.0, 600.0, 1000.0, 1200.0):
        real = props.PropsSI("V", "T", kelvin, "P", 110e3, "Air")
        assert exhaust.viscosity(kelvin) == pytest.approx(real, rel=0.055)


def test_blown_engine_through_an_unchanged_exhaust() -> None:
    """24 kPa at 0.225 kg/s is 51.6 kPa at 0.33 (computed independently)."""
    assert exhaust.scaled(24e3, 0.225, 0.33) / 1e3 == pytest.approx(51.6, abs=0.05)
    assert exhaust.scaled(24e3, 0.225, 0.33, 0.5) / 1e3 == pytest.approx(25.8, abs=0.05)


@given(st.floats(100, 1e5), flows, flows, st.floats(0.2, 5))
def test_scaling_there_and_back(drop: float, one: float, other: float, ratio: float) -> None:
    there = exhaust.scaled(drop, one, other, ratio)
    assert exhaust.scaled(there, other, one, 1 / ratio) == pytest.approx(drop, rel=1e-9)


@given(flows, diameters, temperatures)
def test_fittings_alone_scale_with_flow_squared(
    flow: float, diameter: float, kelvin: float
) -> None:
    """With friction taken out by a vanishing length the pipe obeys the scaling law."""
    one, other = (
        exhaust.pipe_drop(m, diameter, 1e-9, kelvin, loss_coefficients=3.0)
        for m in (flow, 1.5 * flow)
    )
    assert other == pytest.approx(exhaust.scaled(one, flow, 1.5 * flow), rel=1e-6)


def test_a_catalyst_grows_less_than_with_flow_squared() -> None:
    one, two = exhaust.catalyst_drop(0.1, 10e3, 50e3), exhaust.catalyst_drop(0.2, 10e3, 50e3)
    assert two < exhaust.scaled(one, 0.1, 0.2)
    turbulent = exhaust.catalyst_drop(0.2, 0.0, 50e3)
    assert turbulent == pytest.approx(exhaust.scaled(500.0, 0.1, 0.2))


def test_laminar_flow_is_poiseuille() -> None:
    """128 mu L q/(pi D^4)."""
    kelvin, diameter, flow = 400.0, 0.05, 1e-3
    rho, mu = exhaust.density(101_325.0, kelvin), exhaust.viscosity(kelvin)
    assert 4 * flow / (pi * diameter * mu) < 2300
    poiseuille = 128 * mu * 2.0 * (flow / rho) / (pi * diameter**4)
    got = exhaust.pipe_drop(flow, diameter, 2.0, kelvin)
    assert got == pytest.approx(poiseuille, rel=1e-9)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: exhaust.scaled(-1.0, 0.1, 0.2), "known drop"),
        (lambda: exhaust.scaled(1e3, 0.0, 0.2), "known flow"),
        (lambda: exhaust.scaled(1e3, 0.1, 0.2, 0.0), "resistance ratio"),
        (lambda: exhaust.catalyst_drop(-0.1, 1.0, 1.0), "flow"),
        (lambda: exhaust.pipe_drop(0.1, 0.0, 1.0, 800.0), "diameter"),
        (lambda: exhaust.pipe_drop(0.1, 0.06, 1.0, 0.0), "temperature"),
        (lambda: exhaust.friction_factor(0.0, 0.001), "reynolds"),
    ],
)
def test_nonsense_is_refused(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
