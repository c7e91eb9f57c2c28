"""The tests' own engine must itself be a plausible engine, and keep its accounts.

Typical figures (brake mean effective pressure of road engines, residual trends, boost gains)
are common practice, no source; the relations are textbook ones, from memory.
"""

from dataclasses import replace

import independent_model as model
import numpy as np
import pytest

from tests.counting import lines_run

SPEEDS = np.linspace(1800.0, 6200.0, 12)
HORSEPOWER = 745.7
ROAD_CAR = model.Car()
COOLED_BLOWER = replace(
    ROAD_CAR,
    induction="positive-displacement",
    boost_gauge_pa=48.3e3,  # 7 psi
    compressor_efficiency=0.6,
    charge_cooler_effectiveness=0.7,
    lambda_full_load=0.83,
)


def peak(car: model.Car, **day: float) -> float:
    return float(model.wheel_power(car, SPEEDS, **day).max())


def working_speeds(car: model.Car) -> np.ndarray:
    return np.linspace(0.4, 1.4, 12) * car.peak_torque_speed_rpm


def stage_ratio(car: model.Car, stage: model.Car) -> np.ndarray:
    speeds = working_speeds(car)
    return model.wheel_power(stage, speeds) / model.wheel_power(car, speeds)


def boosted(kind: str, boost: float, **changes: float) -> model.Car:
    return replace(ROAD_CAR, induction=kind, boost_gauge_pa=boost, **changes)


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.one_in(6)
def test_unblown_engines_have_the_torque_of_road_engines(seed: int) -> None:
    car = model.draw_car(np.random.default_rng(seed))
    pressures = model.brake_mean_effective_pressure(car, working_speeds(car))
    assert 8e5 < pressures.max() < 11.5e5
    litres = car.displacement * 1e3
    assert 30e3 < model.wheel_power(car, working_speeds(car)).max() / litres < 65e3


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.one_in(3)
def test_torque_peaks_near_the_speed_asked_for_and_power_well_above_it(seed: int) -> None:
    car = model.draw_car(np.random.default_rng(seed))
    speeds = np.linspace(0.4, 1.4, 21) * car.peak_torque_speed_rpm
    pressures = model.brake_mean_effective_pressure(car, speeds)
    assert 0.7 < speeds[pressures.argmax()] / car.peak_torque_speed_rpm < 1.1
    powers = model.wheel_power(car, speeds)
    assert speeds[powers.argmax()] >= 1.2 * car.peak_torque_speed_rpm


def test_a_2_6_litre_engine_makes_130_to_160_horsepower_at_the_wheels() -> None:
    assert ROAD_CAR.displacement == pytest.approx(2.6e-3, rel=0.01)
    assert 130 < peak(ROAD_CAR) / HORSEPOWER < 160


def test_seven_psi_cooled_from_a_lobe_blower_gains_what_shops_see() -> None:
    ratio = stage_ratio(ROAD_CAR, COOLED_BLOWER)
    assert 1.2 < np.median(ratio) < 1.6


@pytest.mark.parametrize("kind", model.CHARGERS)
@pytest.mark.one_in(3)
def test_more_boost_makes_more_power_at_the_same_charge_temperature(kind: str) -> None:
    # octane high enough to stay off the knock limit; full cooling holds the temperature
    steps = [
        boosted(kind, boost, charge_cooler_effectiveness=0.999, ethanol_content=0.85)
        for boost in (10e3, 25e3, 40e3, 55e3, 70e3)
    ]
    curves = np.array([model.wheel_power(car, SPEEDS[3:]) for car in steps])
    assert (np.diff(curves[:, -1]) > 0).all()
    assert (np.diff(curves.max(axis=1)) > 0).all()


def test_a_centrifugal_blower_gains_most_at_the_top_and_a_turbocharger_does_not() -> None:
    wheel = stage_ratio(ROAD_CAR, boosted("centrifugal", 40e3, charge_cooler_effectiveness=0.7))
    turbo = stage_ratio(ROAD_CAR, boosted("turbocharger", 40e3, charge_cooler_effectiveness=0.7))
    assert (np.diff(wheel) > 0).all()
    assert (np.abs(turbo[5:] / turbo[5] - 1) < 0.05).all()  # the waste gate holds it level


def test_a_charge_cooler_helps_where_the_charge_is_hot() -> None:
    assert peak(COOLED_BLOWER) > 1.03 * peak(replace(COOLED_BLOWER, charge_cooler_effectiveness=0))


def test_altitude_costs_unblown_power_a_little_more_than_the_pressure_does() -> None:
    # friction and driveline drag do not shrink with the air; the pipe's outlet pressure does
    ratio = peak(ROAD_CAR, ambient_pressure=80e3) / peak(ROAD_CAR)
    assert 80 / 99 - 0.06 < ratio < 80 / 99 + 0.005


def test_a_hot_day_costs_power() -> None:
    ratio = peak(ROAD_CAR, ambient_temperature=313.15) / peak(ROAD_CAR)
    assert 298.15 / 313.15 - 0.02 < ratio < 0.99


@pytest.mark.parametrize("share", [0.3, 0.6])
def test_a_freer_exhaust_gains_little_and_most_at_the_top(share: float) -> None:
    ratio = stage_ratio(ROAD_CAR, replace(ROAD_CAR, exhaust_restriction=share))
    assert 1.0 < ratio.max() < 1.10
    assert ratio[-1] > ratio[0]


def test_compression_gains_off_the_knock_limit_follow_the_ideal_cycle_in_sign_and_size() -> None:
    # Otto efficiency 1 - r**(1 - gamma), any thermodynamics text; brake gains come out near it
    car = replace(ROAD_CAR, ethanol_content=0.85)
    ratio = peak(replace(car, compression_ratio=11.0)) / peak(car)
    ideal = (1 - 11.0**-0.3) / (1 - 9.5**-0.3)
    assert 1 + 0.4 * (ideal - 1) < ratio < 1 + 2.0 * (ideal - 1)


def test_knock_retards_a_blown_engine_on_petrol_and_ethanol_gives_it_back() -> None:
    petrol = model.simulate(COOLED_BLOWER, SPEEDS)
    ethanol = model.simulate(replace(COOLED_BLOWER, ethanol_content=0.85), SPEEDS)
    assert model.knock_limited_phasing(petrol).max() > model.PHASING_DEG[0] + 3
    assert (model.knock_limited_phasing(ethanol) == model.PHASING_DEG[0]).all()


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.one_in(4)
def test_energy_account_closes(seed: int) -> None:
    for car in model.draw_stage(np.random.default_rng(seed)):
        run = model.simulate(car, working_speeds(car))
        gap = run.released - run.work - run.wall_heat - run.enthalpy_rise
        assert np.abs(gap / run.released).max() < 2e-3
        assert (run.wall_heat / run.released > 0.08).all()
        assert (run.wall_heat / run.released < 0.35).all()


def test_indicated_efficiency_stays_below_the_ideal_cycle() -> None:
    run = model.simulate(ROAD_CAR, SPEEDS)
    ideal = 1 - ROAD_CAR.compression_ratio**-0.4
    assert (run.work / run.released < 0.8 * ideal).all()
    assert (run.work[:, 0] / run.released[:, 0] > 0.55 * ideal).all()


def test_halving_the_step_hardly_moves_the_power(monkeypatch: pytest.MonkeyPatch) -> None:
    coarse = model.wheel_power(COOLED_BLOWER, SPEEDS)
    monkeypatch.setattr(model, "STEP_DEG", 1.0)
    monkeypatch.setattr(model, "OVERLAP_STEP_DEG", 0.25)
    np.testing.assert_allclose(model.wheel_power(COOLED_BLOWER, SPEEDS), coarse, rtol=0.01)


def test_more_cycles_hardly_move_the_power() -> None:
    for kind in model.CHARGERS:
        car = boosted(kind, 50e3, charge_cooler_effectiveness=0.7)
        few, many = (model.simulate(car, SPEEDS, cycles=n) for n in (model.CYCLES, 10))
        powers = [model.crank_power(car, run) for run in (few, many)]
        np.testing.assert_allclose(powers[0], powers[1], rtol=4e-3)


def test_valve_flow_follows_the_isentropic_nozzle() -> None:
    # compressible nozzle flow, any fluid-mechanics text; the ellipse stays within a few per cent
    gamma, gas = 1.35, 287.0 * 300
    down = np.array([30e3, 60e3, 75e3, 90e3, 97e3])
    one = np.ones_like(down)
    got = model.valve_flow(1e-6 * one, (1e5 * one, gas * one), (down, gas * one), 1.0 * one)
    critical = (2 / (gamma + 1)) ** (gamma / (gamma - 1))
    ratio = np.maximum(down / 1e5, critical)
    root = ratio ** (2 / gamma) - ratio ** ((gamma + 1) / gamma)
    exact = 1e-6 * 1e5 / np.sqrt(gas) * np.sqrt(2 * gamma / (gamma - 1) * root)
    np.testing.assert_allclose(got, exact, rtol=0.04)


def test_valve_flow_never_passes_equal_pressure() -> None:
    one = np.ones(1)
    inward = model.valve_flow(one, (1e5 * one, 1e5 * one), (9e4 * one, 1e5 * one), 1e-9 * one)
    outward = model.valve_flow(one, (9e4 * one, 1e5 * one), (1e5 * one, 1e5 * one), 1e-9 * one)
    assert inward == pytest.approx(1e-5)
    assert outward == pytest.approx(-1e-5)


def test_crank_volume_spans_clearance_and_sweep() -> None:
    top, bottom = model.crank_volume(ROAD_CAR, np.array([360.0, 540.0]))
    assert bottom / top == pytest.approx(ROAD_CAR.compression_ratio)
    assert (bottom - top) * ROAD_CAR.cylinders == pytest.approx(ROAD_CAR.displacement)


def test_closed_motored_compression_keeps_the_isentrope() -> None:
    # a closed adiabatic cylinder: ds = 0, so cv(T) dT / T = -R dV / V, integrated by hand
    car = replace(ROAD_CAR, compression_ratio=10.0)
    walk = model.walk_of(car)
    shut = replace(
        walk, wall_area=0 * walk.wall_area, inlet_area=0 * walk.inlet_area,
        exhaust_area=0 * walk.exhaust_area,
    )  # fmt: skip
    up = replace(shut, wall_area=shut.wall_area[: np.argmin(walk.volume[:300])])
    fuel, speeds = model.fuel_of(car), np.array([[3000.0]])
    mass = np.full((1, 5), 5e-4)
    gas = model.Cylinder(mass, mass * model.energy_of(np.full((1, 5), 340.0)), 0 * mass, 287.0)
    burnt = model.burnt_fraction(car, fuel, walk, speeds)
    supply = model.supply_for(car, fuel, speeds, (99e3, 298.15), 0 * mass + 0.05, 0 * mass + 1150)
    model.run_cycle(gas, up, fuel, burnt[: len(up.wall_area) + 1], supply, mass, speeds, speeds)
    hot = gas.temperature[0, 0]
    entropy = model.CV_A * np.log(hot / 340) + model.CV_B * (hot - 340)
    squeeze = 287.0 * np.log(walk.volume[0] / walk.volume.min())
    assert entropy == pytest.approx(squeeze, rel=0.005)


def test_energy_and_temperature_are_inverse() -> None:
    temperatures = np.array([250.0, 300.0, 1000.0, 2800.0])
    np.testing.assert_allclose(
        model.temperature_of(model.energy_of(temperatures)), temperatures, rtol=1e-12
    )
    enthalpies = model.energy_of(temperatures) + 287.0 * temperatures
    np.testing.assert_allclose(model.enthalpy_temperature(enthalpies, 287.0), temperatures)


def test_draws_repeat_from_their_seed_and_cover_every_kind() -> None:
    for kind in model.STAGE_KINDS:
        first, again = (model.draw_stage(np.random.default_rng(5), kind) for _ in range(2))
        assert first == again
        assert first[0].induction == "none"
        assert first[0] != first[1]


@pytest.mark.long
def test_measured_curves_scatter_as_asked() -> None:
    rng = np.random.default_rng(3)
    true = model.wheel_power(ROAD_CAR, SPEEDS)
    days = [model.measured(rng, ROAD_CAR, SPEEDS, pulls=6) for _ in range(25)]
    level = np.array([(pulls / true).mean(axis=1) for pulls in days])
    assert days[0].shape == (6, len(SPEEDS))
    assert 0.003 < level.std(axis=1, ddof=1).mean() < 0.007
    assert 0.006 < level.mean(axis=1).std(ddof=1) < 0.015


def test_a_power_curve_takes_all_its_speeds_at_once() -> None:
    """The back-test draws thousands of curves: no loop over the speeds of one."""
    counts = []
    for places in (10, 20):
        with lines_run() as run:
            model.wheel_power(ROAD_CAR, np.linspace(1500.0, 6500.0, places))
        counts.append(run.number)
    assert counts[1] < 1.2 * counts[0]
