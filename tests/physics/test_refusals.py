"""Every formula refuses each input by itself that makes no sense and takes what is at the edge;
worked values that a factor, a sign or an exponent would move."""

from __future__ import annotations

from collections.abc import Callable
from math import pi
from typing import Any

import pytest

from buildlog.physics.engines import crank, cycle, losses
from buildlog.physics.gases import fuels, heat, pipe_flow
from buildlog.physics.numerics.band import Band
from buildlog.physics.numerics.between_days import stated_days
from buildlog.physics.parts import belt, clutch, driveshaft, injectors, traction

# A formula, inputs that make sense, and for each that must be above zero (or not below it) a value
# at which it does not.
REFUSED: list[tuple[Callable[..., Any], dict[str, Any], dict[str, float]]] = [
    (belt.tension_ratio, {"friction": 0.3, "wrap": pi, "groove": 0.7},
     {"friction": 0, "wrap": 0, "groove": 0}),
    (belt.grip, {"installed_tension": 300.0, "friction": 0.3, "wrap": pi, "mass_per_length": 0.1,
                 "speed": 20.0}, {"mass_per_length": -1e-9, "speed": -1e-9}),
    (injectors.mass_flow, {"rated_volume_flow": 4e-6, "rated_pressure": 3e5, "differential": 3e5,
                           "density": 740.0, "rated_density": 690.0},
     {"density": 0, "rated_density": 0}),
    (injectors.specific_consumption, {"brake_efficiency": 0.3, "heating_value": 43e6},
     {"brake_efficiency": 0, "heating_value": 0}),
    (driveshaft.inner_diameter, {"outer_diameter": 0.07, "wall": 0.002},
     {"outer_diameter": 0, "wall": 0}),
    (traction.grip_force, {"friction": 1.0, "axle_mass": 600.0}, {"friction": 0, "axle_mass": 0}),
    (traction.torque_at_grip, {"force": 6e3, "overall_ratio": 3.7, "radius": 0.3},
     {"overall_ratio": 0, "radius": 0}),
    (heat.from_charge, {"air_flow": 0.2, "temperature_in": 380.0, "temperature_out": 320.0},
     {"temperature_in": 0, "temperature_out": 0}),
    (heat.to_coolant, {"fuel_flow": 0.01, "heating_value": 43e6, "share": 0.2},
     {"share": -1e-9, "fuel_flow": -1e-9}),
    (pipe_flow.scaled, {"known_drop": 5e3, "known_flow": 0.1, "flow": 0.2},
     {"known_drop": -1e-9, "known_flow": 0, "flow": -1e-9}),
    (crank.displacement, {"bore": 0.086, "stroke": 0.09, "cylinders": 4},
     {"bore": 0, "stroke": 0, "cylinders": 0}),
    (losses.road_speed, {"omega": 300.0, "overall_ratio": 3.7, "rolling_circumference": 1.9},
     {"overall_ratio": 0, "rolling_circumference": 0}),
    (fuels.stoichiometric_ratio, {"c": 2, "h": 6, "o": 1}, {"c": -1, "h": -1, "o": -1}),
]  # fmt: skip


@pytest.mark.parametrize(
    ("formula", "inputs", "bad"), REFUSED, ids=[f"{f.__module__}.{f.__name__}" for f, *_ in REFUSED]
)
def test_each_input_is_refused_by_itself(
    formula: Callable[..., Any], inputs: dict[str, Any], bad: dict[str, float]
) -> None:
    formula(**inputs)
    for name, value in bad.items():
        with pytest.raises(ValueError, match=r"\w"):
            formula(**inputs | {name: value})


def test_what_stands_at_the_edge_is_taken() -> None:
    assert heat.to_coolant(0.01, 43e6, 0.0) == 0
    assert heat.to_coolant(0.01, 43e6, 1.0) == 0.01 * 43e6
    assert pipe_flow.scaled(5e3, 0.1, 0.0) == 0
    assert driveshaft.inner_diameter(0.06, 0.03) == 0  # a solid bar


def test_a_belt_at_rest_loses_nothing_to_centrifugal_force() -> None:
    """Neither without a mass nor without a speed."""
    still = belt.grip(300.0, 0.3, pi)
    assert belt.grip(300.0, 0.3, pi, mass_per_length=0.4) == still
    assert belt.grip(300.0, 0.3, pi, speed=30.0) == still
    assert belt.grip(300.0, 0.3, pi, mass_per_length=0.1, speed=30.0) < still


def test_one_efficiency_is_one_consumption() -> None:
    """25.5 % on gasoline of 43.4 MJ/kg is 325 g/kWh: 1/(0.255 * 43.4e6) kg/J."""
    assert injectors.specific_consumption(0.255, 43.4e6) * 3.6e9 == pytest.approx(325.3, abs=0.1)


def test_road_speed_in_an_overdriven_gear() -> None:
    """Below one to one: 300 rad/s, 0.8, 1.9 m."""
    assert losses.road_speed(300.0, 0.8, 1.9) == pytest.approx(300 / (2 * pi * 0.8) * 1.9)


def test_spark_loses_as_the_square() -> None:
    """4.5 % at ten degrees is 1.125 % at five and 18 % at twenty."""
    for degrees, loss in ((0, 0.0), (5, 0.01125), (10, 0.045), (20, 0.18)):
        assert cycle.spark_factor(degrees * pi / 180, 0.045) == pytest.approx(1 - loss, abs=1e-12)


def test_a_blend_carries_the_latent_heat_of_both_by_mass() -> None:
    gasoline, ethanol = fuels.FUELS["gasoline"], fuels.FUELS["ethanol"]
    e85 = fuels.blend(0.85)
    w = 0.85 * ethanol.density / (0.85 * ethanol.density + 0.15 * gasoline.density)
    assert e85.latent_heat == pytest.approx(
        w * ethanol.latent_heat + (1 - w) * gasoline.latent_heat, rel=1e-9
    )
    assert e85.name == "E85"
    assert gasoline.latent_heat < fuels.blend(0.3).latent_heat < e85.latent_heat


def test_a_band_turned_round_and_one_without_spread() -> None:
    assert Band.exact(3.0) == Band(3.0, 3.0, 3.0)
    assert -Band(1.0, 2.0, 4.0) == Band(-4.0, -2.0, -1.0)


def test_what_a_shop_states_of_days_is_its_own_figure() -> None:
    found = stated_days(0.008, "twelve visits")
    assert (found.key, found.u, found.basis) == ("another day", 0.008, "twelve visits")


def test_a_facing_needs_both_diameters() -> None:
    for outer, inner in ((0.0, 0.15), (0.24, 0.0), (0.15, 0.24), (0.2, 0.2)):
        with pytest.raises(ValueError, match="diameter"):
            clutch._check_ring(outer, inner)
