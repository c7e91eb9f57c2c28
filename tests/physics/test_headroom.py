"""What gives first: the limits found are limits, with everything evaluated again."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from buildlog.physics.engines import crank
from buildlog.physics.engines.losses import wheel_force
from buildlog.physics.gases import heat, knock, pipe_flow
from buildlog.physics.gases.charge import (
    compressor_power,
    compressor_temperature,
    cooled_temperature,
)
from buildlog.physics.numerics.band import Band, propagate
from buildlog.physics.parts import (
    belt,
    clutch,
    driveshaft,
    gear_train,
    injectors,
    pump,
)
from buildlog.physics.parts.limit_search import Trial, headroom
from buildlog.physics.parts.margin import Kind, Margin, Rule, State
from tests.physics.made_kinds import kind

PSI = 6894.757
HP = 745.7


Side = tuple[Band | None, tuple[str, ...]]


def side(formula: Callable[..., float], inputs: Mapping[str, Any]) -> Side:
    """One side of a margin, and the data it lacks."""
    missing = tuple(name for name, value in inputs.items() if value is None)
    return (None if missing else propagate(formula, *inputs.values())), missing


def margin(kind: Kind, demand: Side, capacity: Side) -> Margin:
    return Margin(kind, demand[0], capacity[0], demand[1] + capacity[1])


def boost_for(power: float) -> float:
    """A car that makes 200 kW unboosted and proportionally more with absolute pressure."""
    return max(0.0, (power / 200e3 - 1) * 101_325)


def injector_trial(count: int = 6, cc: float = 550.0):
    def trial(power: float) -> Margin:
        differential = injectors.differential_pressure(300e3, boost_for(power), referenced=False)
        bsfc = Band.around(0.60 * 0.4536 / HP / 3600, 0.10)
        return margin(
            kind("injector duty"),
            side(injectors.fuel_demand, {"power": power, "bsfc": bsfc}),
            side(
                lambda q: count * injectors.mass_flow(q, 300e3, differential, 745.0),
                {"fuel.injectors.flow": cc * 1e-6 / 60},
            ),
        )

    return trial


def pump_trial(litres_per_hour: float = 255.0):
    point = pump.PumpPoint(litres_per_hour / 3.6e6, 300e3)

    def trial(power: float) -> Margin:
        pressure = pump.rail_gauge(300e3, boost_for(power), referenced=True)
        fuel = injectors.fuel_demand(power, 0.60 * 0.4536 / HP / 3600) / 745.0
        slope = Band(0.6e-6, 1.0e-6, 1.6e-6)
        return margin(
            kind("fuel pump"),
            side(float, {"fuel flow": fuel}),
            side(pump.flow_from_slope, {"fuel.pump": point, "loss": slope, "p": pressure}),
        )

    return trial


def clutch_trial(rating: float | None = 500.0):
    def trial(power: float) -> Margin:
        return margin(
            kind("clutch torque"),
            side(crank.torque, {"crank power": power, "engine speed": 5000 * math.pi / 30}),
            side(
                clutch.usable_torque,
                {"clutch.rated_torque": rating, "service factor": Band(1.1, 1.2, 1.4)},
            ),
        )

    return trial


def temperature_trial(power: float) -> Margin:
    ratio = (101_325 + boost_for(power)) / 101_325
    return margin(
        kind("charge temperature", Rule.AT_MOST, 10.0),
        side(lambda eta: compressor_temperature(298.15, ratio, eta), {"eta": Band(0.5, 0.6, 0.7)}),
        side(float, {"limit": 393.15}),
    )


def piston_trial(power: float) -> Margin:
    return margin(
        kind("mean piston speed"), side(float, {"speed": 17.0}), side(float, {"limit": 22.0})
    )


TRIALS = {
    "injector duty": injector_trial(),
    "fuel pump": pump_trial(),
    "clutch torque": clutch_trial(),
    "charge temperature": temperature_trial,
    "mean piston speed": piston_trial,
    "rotating assembly": clutch_trial(None),
}


def test_limits_are_sorted_and_those_apart_are_apart() -> None:
    result = headroom(TRIALS, 100e3, 900e3)
    middles = [reach.p50 for reach in result.reached]
    assert middles == sorted(middles)
    assert [m.kind.name for m in result.independent] == ["mean piston speed"]
    assert [m.missing for m in result.unknown] == [("clutch.rated_torque",)]
    names = {r.name for r in result.reached}
    assert names == {"injector duty", "fuel pump", "clutch torque", "charge temperature"}


def test_band_of_a_limit_surrounds_its_middle_and_narrows_with_knowledge() -> None:
    for reach in headroom(TRIALS, 100e3, 900e3).reached:
        assert reach.p10 is not None
        assert reach.p50 is not None
        assert reach.p90 is not None
        assert reach.p10 < reach.p50 < reach.p90
        assert reach.monotone


OMEGA = 5000 * math.pi / 30
RATIOS = [3.4, 2.0, 1.3, 1.0]


def against(kind: Kind, demand: Callable[[float], float], limit: float) -> Trial:
    """A trial whose demand follows power and whose limit is stated."""
    return lambda power: margin(kind, side(demand, {"power": power}), side(float, {"limit": limit}))


def boost_ratio(power: float) -> float:
    return 1 + boost_for(power) / 101_325


def charge(power: float) -> tuple[float, float, float]:
    """Air flow [kg/s], temperature before and after a charge cooler [K]."""
    fuel = injectors.fuel_demand(power, 0.60 * 0.4536 / HP / 3600)
    hot = compressor_temperature(298.15, boost_ratio(power), 0.6)
    return fuel * 0.82 * 14.7, hot, cooled_temperature(hot, 0.7, 308.15)


def first_gear(power: float) -> float:
    return gear_train.highest_output_torque(power / OMEGA, RATIOS, 1.0)


def octane(power: float) -> float:
    heat_rise = charge(power)[2] - charge(200e3)[2]
    return knock.octane_demand_change(
        0.0, boost_for(power), heat_rise, 0.0, 4.5, 2.4 / PSI, 0.18, -1.0
    )


def belt_power(power: float) -> float:
    air, hot, _ = charge(power)
    return compressor_power(air, 298.15, hot, 0.95)


BELT_SPEED = belt.belt_speed(OMEGA, 0.150)


def rail_trial(power: float) -> Margin:
    args = {"rail": 300e3, "boost": boost_for(power), "fuel.injectors.referenced": False}
    differential = side(injectors.differential_pressure, args)
    return margin(
        kind("rail differential", Rule.AT_LEAST, 50e3), differential, side(float, {"limit": 200e3})
    )


EVERY = {
    "injector duty": injector_trial(),
    "fuel pump": pump_trial(),
    "rail differential": rail_trial,
    "knock": against(kind("knock", Rule.AT_MOST, 2.0), octane, 8.0),
    "charge temperature": temperature_trial,
    "boost against relief": against(
        kind("boost against relief", Rule.AT_MOST, PSI), boost_for, 8 * PSI
    ),
    "boost against limit": against(
        kind("boost against limit", Rule.AT_MOST, PSI), boost_for, 10 * PSI
    ),
    "boost against sensor range": against(
        kind("boost against sensor range"), lambda p: 101_325 + boost_for(p), 200e3
    ),
    "belt grip": lambda power: margin(
        kind("belt grip"),
        side(belt.effective_tension, {"power": belt_power(power), "speed": BELT_SPEED}),
        side(belt.grip, {"T0": 400.0, "mu": Band(0.25, 0.3, 0.4), "wrap": math.pi}),
    ),
    "belt power per rib": against(
        kind("belt power per rib"), lambda p: belt.power_per_rib(belt_power(p), 6), 4e3
    ),
    "rotating assembly": against(kind("rotating assembly"), float, 300e3),
    "clutch torque": clutch_trial(),
    "gearbox torque": against(kind("gearbox torque"), lambda p: p / OMEGA, 550.0),
    "driveshaft torque": against(kind("driveshaft torque"), first_gear, 2000.0),
    "driveshaft stress": against(
        kind("driveshaft stress"),
        lambda p: driveshaft.shear_stress(first_gear(p), 0.0762, 0.00165),
        150e6,
    ),
    "final drive torque": against(kind("final drive torque"), first_gear, 1900.0),
    "grip": against(kind("grip"), lambda p: wheel_force(p, OMEGA, 3.4 * 3.7, 1.93), 14e3),
    "exhaust back-pressure": against(
        kind("exhaust back-pressure", Rule.AT_MOST, 5e3),
        lambda p: pipe_flow.scaled(24e3, 200e3, p),
        60e3,
    ),
    "heat to coolant": against(
        kind("heat to coolant"),
        lambda p: heat.to_coolant(injectors.fuel_demand(p, 100e-9), 43.4e6, 0.22),
        300e3,
    ),
    "charge cooler heat": against(
        kind("charge cooler heat"), lambda p: heat.from_charge(*charge(p)), 20e3
    ),
}


@pytest.mark.parametrize("name", EVERY)
def test_each_power_driven_margin_lies_on_either_side_of_its_limit(name: str) -> None:
    (reach,) = headroom({name: EVERY[name]}, 50e3, 900e3).reached
    assert reach.p50 is not None
    assert EVERY[name](reach.p50 * 0.99).state is not State.OVER
    assert EVERY[name](reach.p50 * 1.01).state is State.OVER


@settings(max_examples=25)
@given(st.floats(200.0, 1200.0), st.floats(80.0, 500.0), st.floats(250.0, 900.0), st.integers(4, 8))
def test_one_percent_either_side_of_a_limit_lies_on_either_side(
    cc: float, litres: float, rating: float, count: int
) -> None:
    trials = {
        "injector duty": injector_trial(count, cc),
        "fuel pump": pump_trial(litres),
        "clutch torque": clutch_trial(rating),
    }
    for reach in headroom(trials, 5e3, 2000e3).reached:
        assert reach.p50 is not None
        trial = trials[reach.name]
        assert trial(reach.p50 * 0.99).state is not State.OVER
        assert trial(reach.p50 * 1.01).state is State.OVER


def test_agrees_with_a_library_root_finder_and_a_closed_form() -> None:
    reached = {r.name: r for r in headroom(TRIALS, 100e3, 900e3).reached}
    for name in reached:

        def left(power: float, name: str = name) -> float:
            band = TRIALS[name](power).left
            assert band is not None
            return band.p50

        assert reached[name].p50 == pytest.approx(brentq(left, 100e3, 900e3), rel=1e-9)
    by_hand = 500.0 / 1.2 * 5000 * math.pi / 30
    assert reached["clutch torque"].p50 == pytest.approx(by_hand, rel=1e-12)
    assert reached["clutch torque"].p10 == pytest.approx(by_hand * 1.2 / 1.4, rel=1e-9)


def test_pump_flow_is_evaluated_again_at_each_boost() -> None:
    """With the flow frozen at its stated point the pump would promise more."""
    reach = headroom({"fuel pump": pump_trial()}, 100e3, 900e3).reached[0]
    frozen = 255 / 3.6e6 * 745.0 / (0.60 * 0.4536 / HP / 3600)
    assert reach.p50 is not None
    assert reach.p50 < 0.95 * frozen


def test_a_limit_beyond_the_range_and_one_below_it() -> None:
    result = headroom({"a": clutch_trial(5000.0), "b": clutch_trial(20.0)}, 100e3, 900e3)
    assert [r.name for r in result.not_reached] == ["a"]
    assert result.over_throughout == ("b",)
    assert result.reached == ()


def test_the_range_ends_where_it_was_said_to() -> None:
    power = 300e3  # where the rotating assembly of EVERY reaches its limit
    trials = {"rod": EVERY["rotating assembly"]}
    assert headroom(trials, 100e3, power * 0.999).reached == ()
    (reach,) = headroom(trials, 100e3, power * 1.001).reached
    assert reach.p50 == pytest.approx(power, rel=1e-9)


def test_first_of_several_crossings_is_given_and_said_not_to_be_monotone() -> None:
    def wave(x: float) -> Margin:
        left = math.cos(x)
        return Margin(
            kind("charge temperature", Rule.AT_MOST, 10.0), Band.exact(0.0), Band.exact(left)
        )

    reach = headroom({"wave": wave}, 0.1, 9.0).reached[0]
    assert reach.p50 == pytest.approx(math.pi / 2, rel=1e-9)
    assert not reach.monotone


def test_upgrading_the_first_limit_leaves_the_second() -> None:
    first, second = headroom(TRIALS, 100e3, 900e3).reached[:2]
    upgraded = {name: trial for name, trial in TRIALS.items() if name != first.name}
    assert headroom(upgraded, 100e3, 900e3).reached[0] == second


@pytest.mark.parametrize("ends", [(0.0, 1.0), (-1.0, 1.0), (2.0, 1.0), (1.0, 1.0), (1.0, math.nan)])
def test_impossible_ranges_are_refused(ends: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="must"):
        headroom(TRIALS, *ends)
