"""What gives first: the limits found are limits, with everything evaluated again."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from buildlog.physics import clutch, engine, injectors, margin_kinds, pump
from buildlog.physics.band import Band
from buildlog.physics.charge import compressor_temperature
from buildlog.physics.headroom import headroom
from buildlog.physics.margin import Margin, Side, State, assess, stated

PSI = 6894.757
HP = 745.7


def boost_for(power: float) -> float:
    """A car that makes 200 kW unboosted and proportionally more with absolute pressure."""
    return max(0.0, (power / 200e3 - 1) * 101_325)


def injector_trial(count: int = 6, cc: float = 550.0):
    def trial(power: float) -> Margin:
        differential = injectors.differential_pressure(300e3, boost_for(power), referenced=False)
        bsfc = Band.around(0.60 * 0.4536 / HP / 3600, 0.10)
        return assess(
            margin_kinds.INJECTOR_DUTY,
            Side(injectors.fuel_demand, {"power": power, "bsfc": bsfc}),
            Side(
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
        return assess(
            margin_kinds.FUEL_PUMP,
            Side(float, {"fuel flow": fuel}),
            Side(pump.flow_from_slope, {"fuel.pump": point, "loss": slope, "p": pressure}),
        )

    return trial


def clutch_trial(rating: float | None = 500.0):
    def trial(power: float) -> Margin:
        return assess(
            margin_kinds.CLUTCH_TORQUE,
            Side(engine.torque, {"crank power": power, "engine speed": 5000 * math.pi / 30}),
            Side(
                clutch.usable_torque,
                {"clutch.rated_torque": rating, "service factor": Band(1.1, 1.2, 1.4)},
            ),
        )

    return trial


def temperature_trial(power: float) -> Margin:
    ratio = (101_325 + boost_for(power)) / 101_325
    return assess(
        margin_kinds.CHARGE_TEMPERATURE,
        Side(lambda eta: compressor_temperature(298.15, ratio, eta), {"eta": Band(0.5, 0.6, 0.7)}),
        stated("limit", 393.15),
    )


def piston_trial(power: float) -> Margin:
    return assess(margin_kinds.PISTON_SPEED, Side(float, {"speed": 17.0}), stated("limit", 22.0))


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


@settings(max_examples=25, deadline=None)
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


def test_first_of_several_crossings_is_given_and_said_not_to_be_monotone() -> None:
    def wave(x: float) -> Margin:
        left = math.cos(x)
        return Margin(margin_kinds.CHARGE_TEMPERATURE, Band.exact(0.0), Band.exact(left))

    reach = headroom({"wave": wave}, 0.1, 9.0).reached[0]
    assert reach.p50 == pytest.approx(math.pi / 2, rel=1e-9)
    assert not reach.monotone


def test_upgrading_the_first_limit_leaves_the_second() -> None:
    first, second = headroom(TRIALS, 100e3, 900e3).reached[:2]
    upgraded = {name: trial for name, trial in TRIALS.items() if name != first.name}
    assert headroom(upgraded, 100e3, 900e3).reached[0] == second


@pytest.mark.parametrize("ends", [(0.0, 1.0), (-1.0, 1.0), (2.0, 1.0), (1.0, math.nan)])
def test_impossible_ranges_are_refused(ends: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="must"):
        headroom(TRIALS, *ends)
