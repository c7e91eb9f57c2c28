"""What a predicted band must and must not do."""

from dataclasses import replace

import numpy as np
import pytest
from prediction_cases import ANCHOR, OMEGA, PRIORS, RPM, UNBOOSTED, WHEEL, Narrowed, mild

from buildlog.physics.engines.ensemble import STRUCTURE, predict
from buildlog.physics.engines.model import STRUCTURES
from buildlog.physics.engines.state import (
    BreathingEffect,
    Centrifugal,
    CoolerState,
    EngineState,
    PositiveDisplacement,
    Turbocharger,
    changed_groups,
    fill,
)
from buildlog.physics.gases.air import standard_atmosphere_pressure
from buildlog.physics.numerics.constants import ATM, PSI
from buildlog.physics.numerics.sampling import Uncertain, Uniform


def run(after, before=UNBOOSTED, priors=PRIORS, draws=1024, **more):
    return predict(ANCHOR, before, after, priors, draws=draws, **more)


@pytest.fixture(scope="module")
def stage():
    return run(mild(), draws=4096)


# -- the mild stage near 7 psi -------------------------------------------------------


def test_mild_stage_band(stage):
    """The band of the issue; 1.37 near 7 psi is what the trade has seen (common practice, no
    source): a check that the band holds it, never a value to hit."""
    ratio = stage.peak_power_ratio
    assert 1.20 <= ratio.p10 <= 1.37 <= ratio.p90 <= 1.70
    assert ratio.p10 < ratio.p50 < ratio.p90


def test_structures_disagree_as_the_trial_said(stage):
    """An independent trial of the model gave medians 1.52, 1.475 and 1.322 (computed): the order
    and the rough distance must hold, not the values."""
    first, second, third = (stage.structures[s.name].p50 for s in STRUCTURES)
    assert first > second > third
    assert 0.10 < first - third < 0.30


def test_more_boost_more_power():
    medians = [run(mild(psi)).peak_power_ratio.p50 for psi in (5, 6, 7, 8)]
    assert (np.diff(medians) > 0.01).all()


def test_cooling_helps_and_freer_exhaust_helps(stage):
    hot = run(mild(cooler=None)).peak_power_ratio
    tight = run(mild(exhaust_resistance=1.0)).peak_power_ratio
    assert hot.p50 < stage.peak_power_ratio.p50 - 0.02
    assert tight.p50 < stage.peak_power_ratio.p50


# -- no change -----------------------------------------------------------------------


@pytest.mark.parametrize(
    "state",
    [
        UNBOOSTED,
        mild(),
        mild(induction=PositiveDisplacement(displacement_per_rev=0.9e-3, drive_ratio=1.85)),
        mild(induction=Centrifugal(7 * PSI, 600.0)),
        mild(induction=Turbocharger(9 * PSI)),
        EngineState(3e-3),
    ],
)
@pytest.mark.parametrize("at", ["wheels", "crank"])
def test_no_change_is_exactly_one(state, at):
    same = predict(replace(ANCHOR, at=at), state, state, PRIORS, draws=64)
    for band in (same.peak_power_ratio, same.peak_torque_ratio):
        assert (band.p10, band.p50, band.p90, band.mean) == (1.0, 1.0, 1.0, 1.0)
    assert same.peak_power_delta.width == 0.0
    assert same.attribution.shares == ()
    assert same.dominant == ()
    if at == "wheels":
        np.testing.assert_array_equal(same.wheel_power.p90, np.asarray(ANCHOR.power))


def test_an_unanchored_estimate_is_wider_in_power_not_in_ratio():
    """From the maker's rated figures: the level is uncertain, what the stage multiplies is not."""
    rated = replace(ANCHOR, at="crank")
    loose = replace(rated, level=PRIORS["rated_level"])
    firm, wide = (predict(a, UNBOOSTED, mild(), PRIORS, draws=512) for a in (rated, loose))
    assert wide.peak_power.width > 1.02 * firm.peak_power.width
    assert wide.peak_power_ratio.p50 == pytest.approx(firm.peak_power_ratio.p50, abs=0.005)
    assert "rated_level" in {u.name for u in wide.assumed}
    same = predict(loose, UNBOOSTED, UNBOOSTED, PRIORS, draws=64)
    assert (same.peak_power_ratio.p10, same.peak_power_ratio.p90) == (1.0, 1.0)
    assert same.peak_power.width > 0


# -- the band ------------------------------------------------------------------------


def test_same_seed_same_result():
    one, two, other = run(mild()), run(mild()), run(mild(), seed=5)
    np.testing.assert_array_equal(one.wheel_power.p10, two.wheel_power.p10)
    assert one.attribution == two.attribution
    assert one.peak_power_ratio != other.peak_power_ratio
    assert one.peak_power_ratio.p50 == pytest.approx(other.peak_power_ratio.p50, abs=0.01)


def _narrowed(name):
    halved = Uncertain(name, Narrowed(PRIORS[name].distribution, 0.5))
    return {**PRIORS, name: halved}


def test_halving_a_prior_narrows_the_band():
    """What `predict` returns, strictly, for every input with over 1 % of the variance. Inputs
    with less are below the sampling error of a quantile; for every one of them the variance
    falls strictly: test_halving.py."""
    whole = run(mild(exhaust_resistance=0.6), groups=[])
    told = [d.name for d in whole.dominant if d.share > 0.01 and d.name != STRUCTURE]
    assert len(told) >= 6
    for name in told:
        halved = run(mild(exhaust_resistance=0.6), priors=_narrowed(name), groups=[])
        assert halved.peak_power_ratio.width < whole.peak_power_ratio.width, name


def test_halving_all_priors_narrows_each_structure():
    half = {n: Uncertain(n, Narrowed(p.distribution, 0.5)) for n, p in PRIORS.items()}
    wide, narrow = run(mild()), run(mild(exhaust_resistance=0.6), priors=half)
    for name, band in wide.structures.items():
        assert narrow.structures[name].width < 0.6 * band.width
    assert narrow.peak_power_ratio.width < wide.peak_power_ratio.width


def test_a_stated_value_narrows_and_leaves_the_assumed(stage):
    stated = run(mild(spark_retard=0.122, lambda_full_load=0.82), draws=4096)
    names = {u.name for u in stated.assumed}
    assert {"spark_retard_boosted", "lambda_boosted"}.isdisjoint(names)
    assert {"spark_retard_boosted", "lambda_boosted"} <= {u.name for u in stage.assumed}
    assert stated.peak_power_ratio.width < stage.peak_power_ratio.width


def test_assumed_lists_only_what_was_used(stage):
    names = {u.name for u in stage.assumed}
    assert {"boost_delivery", "cooler_effectiveness", "driveline_loss"} <= names
    unused = {"fuel_air_cycle_gamma", "displacement_choke", "turbocharger_threshold"}
    assert unused.isdisjoint(names)


def test_with_every_input_stated_only_the_structures_disagree():
    known = {n: p.median() for n, p in PRIORS.items()}
    anchor = fill(ANCHOR, known)
    after = fill(mild(exhaust_resistance=0.6, spark_retard=0.1), known)
    certain = predict(anchor, fill(UNBOOSTED, known), after, {}, draws=64)
    assert certain.assumed == ()
    assert [d.name for d in certain.dominant] == [STRUCTURE]
    assert all(band.width == 0 for band in certain.structures.values())
    assert certain.peak_power_ratio.width > 0.05


def test_dominant_inputs(stage):
    shares = {d.name: d.share for d in stage.dominant}
    assert next(iter(shares)) == STRUCTURE
    assert 0.9 < sum(shares.values()) <= 1.0
    assert all(a.share >= b.share for a, b in zip(stage.dominant, stage.dominant[1:], strict=False))
    known = [d for d in stage.dominant if d.width_if_known is not None]
    assert len(known) == 5
    assert known[0].width_if_known < stage.peak_power_ratio.width


def test_curve_and_peaks_belong_together(stage):
    curve = stage.wheel_power
    assert (curve.p10 < curve.p50).all()
    assert (curve.p50 < curve.p90).all()
    assert stage.peak_crank_power.p50 > curve.p50.max()
    assert stage.peak_power.p50 / WHEEL.max() == pytest.approx(stage.peak_power_ratio.p50)
    assert stage.peak_power.mean - WHEEL.max() == pytest.approx(stage.peak_power_delta.mean)
    assert stage.peak_torque.p50 >= (curve.p50 / OMEGA).max() * 0.99


def test_working_range_sets_the_mean():
    low = predict(replace(ANCHOR, working=(200.0, 400.0)), UNBOOSTED, mild(), PRIORS, draws=64)
    high = predict(replace(ANCHOR, working=(400.0, 628.0)), UNBOOSTED, mild(), PRIORS, draws=64)
    assert low.mean_power.p50 < high.mean_power.p50


# -- attribution ---------------------------------------------------------------------


def test_shares_sum_to_the_mean_delta(stage):
    shares = stage.attribution.shares
    assert {s.name for s in shares} == {
        "boost",
        "charge cooling",
        "exhaust back pressure",
        "mixture",
        "spark timing",
    }
    assert sum(s.delta for s in shares) == pytest.approx(stage.peak_power_delta.mean, rel=1e-9)
    by = {s.name: s.delta for s in shares}
    assert by["boost"] > by["charge cooling"] > 0 > by["spark timing"]


def test_a_group_without_change_gets_nothing():
    groups = changed_groups(fill(UNBOOSTED, PRIORS), fill(mild(), PRIORS))
    idle = replace(groups[0], name="idle", fields=("displacement",))
    shares = run(mild(), groups=[*groups, idle]).attribution.shares
    assert shares[-1].name == "idle"
    assert shares[-1].delta == 0.0


def test_interchangeable_effects_get_equal_shares():
    band = Uniform(1.01, 1.04)
    effects = tuple(
        BreathingEffect(n, Uncertain("same", band)) for n in ("engine.cam", "engine.ports")
    )
    shares = run(mild(effects=effects)).attribution.shares
    by = {s.name: s.delta for s in shares}
    assert by["engine.cam"] == pytest.approx(by["engine.ports"], rel=1e-9)
    assert by["engine.cam"] > 0


def test_order_of_groups_changes_nothing():
    groups = changed_groups(fill(UNBOOSTED, PRIORS), fill(mild(), PRIORS))
    straight = run(mild(), groups=groups, draws=64).attribution.shares
    turned = run(mild(), groups=groups[::-1], draws=64).attribution.shares
    for one, other in zip(straight, turned[::-1], strict=True):
        assert one.name == other.name
        assert one.delta == pytest.approx(other.delta, rel=1e-9)


def test_beyond_eight_groups_the_smallest_are_joined_and_named():
    effects = tuple(BreathingEffect(f"engine.part{i}", 1.0 + i / 1000) for i in range(1, 8))
    attribution = run(mild(effects=effects), draws=64).attribution
    assert len(attribution.shares) == 8
    assert any(" + " in s.name for s in attribution.shares)
    assert sum(s.delta for s in attribution.shares) == pytest.approx(attribution.total)


# -- other changes -------------------------------------------------------------------


def test_altitude_against_the_standard_atmosphere_and_j1349():
    """1 609 m: 83.432 kPa (ICAO standard atmosphere by an open library). SAE J1349's spark-
    ignition factor 1.18 (99/pd) sqrt(T/298) - 0.18 (secondary; outside its own limits here)
    between the same two airs gives 0.797."""
    thin = standard_atmosphere_pressure(1609.0)
    assert thin == pytest.approx(83_432, abs=20)
    ratio = run(replace(UNBOOSTED, ambient_pressure=thin)).peak_power_ratio

    def factor(pressure):
        return 1.18 * 99e3 / pressure - 0.18

    assert ratio.p50 == pytest.approx(factor(ATM) / factor(thin), abs=0.015)
    assert 0.75 < ratio.p10 < ratio.p90 < 0.86


def test_hot_day_at_1600_m_costs_more():
    thin = replace(UNBOOSTED, ambient_pressure=standard_atmosphere_pressure(1600.0))
    hot = replace(thin, ambient_temperature=308.15, vapour_pressure=2000.0)
    assert run(hot).peak_power_ratio.p50 < run(thin).peak_power_ratio.p50 - 0.02


def test_boost_held_to_an_absolute_pressure_feels_altitude_less():
    def at(how, pressure):
        return mild(induction=how, ambient_pressure=pressure)

    def loss(how):
        return run(at(how, 83.4e3), before=at(how, ATM), draws=256).peak_power_ratio.p50

    gauge, absolute = (loss(Turbocharger(9 * PSI, absolute=x)) for x in (False, True))
    geared = loss(PositiveDisplacement(7 * PSI))
    assert geared < gauge < absolute < 1.02


def test_ethanol_is_credited_only_with_its_energy_per_air():
    """Gasoline 2.955, 85 % ethanol 2.986 MJ per kg of air (DOE table, opened): about 1 %."""
    ratio = run(replace(UNBOOSTED, energy_per_air=2.986e6)).peak_power_ratio
    assert 1.0 < ratio.p10 < ratio.p90 < 1.02
    cooled = run(replace(UNBOOSTED, energy_per_air=2.986e6, evaporative_cooling=15.0))
    assert cooled.peak_power_ratio.p50 > ratio.p90


def test_an_alcohol_brings_doubt_on_both_sides_and_no_credit():
    heat = replace(UNBOOSTED, energy_per_air=2.986e6)
    plain, alcohol = run(heat).peak_power_ratio, run(replace(heat, alcohol=0.85)).peak_power_ratio
    assert alcohol.p50 == pytest.approx(plain.p50, abs=0.002)
    assert alcohol.p10 < 1.0 < plain.p10 < plain.p90 < alcohol.p90
    half = run(replace(heat, alcohol=0.425)).peak_power_ratio
    assert half.width == pytest.approx(alcohol.width / 2, rel=0.15)
    back = run(UNBOOSTED, before=replace(heat, alcohol=0.85)).peak_power_ratio
    assert back.p50 * alcohol.p50 == pytest.approx(1, abs=0.003)


def test_what_evaporates_cools_and_takes_room():
    """30 K less at the port: (298/268)^0.7 = +7.7 % charge, of which vapour takes 2.0 %."""
    ratio = run(replace(UNBOOSTED, evaporative_cooling=30.0))
    shares = ratio.attribution.shares
    assert [s.name for s in shares] == ["evaporation of the fuel"]
    third = ratio.structures[STRUCTURES[2].name].p50
    assert third == pytest.approx((298.15 / 268.15) ** 0.725 * 0.9798, abs=0.012)


def test_one_point_of_compression():
    """Practice: 2 to 4 % torque for a full point (common practice, no source); more at a wheel
    behind constant losses."""
    ratio = run(replace(UNBOOSTED, compression_ratio=10.2)).peak_power_ratio
    assert 1.02 < ratio.p50 < 1.06


def test_more_compression_costs_spark_where_nobody_states_it():
    """By hand: 2.5 degrees a point (half an octane slope of 4 to 5.6 at one a degree) later than
    3.2 of the middle engine: 0.045 (0.57^2 - 0.32^2) = 1.0 % of indicated work."""
    up = replace(UNBOOSTED, compression_ratio=10.2)
    said = replace(ANCHOR, compression_spark=0.0)
    free = predict(said, UNBOOSTED, up, PRIORS, draws=1024).peak_power_ratio
    held = run(up).peak_power_ratio
    assert free.p50 - held.p50 == pytest.approx(0.010 * 1.25, abs=0.005)
    assert held.width > free.width
    assert held.p90 <= free.p90 + 1e-3
    back = run(UNBOOSTED, before=up).peak_power_ratio
    assert back.p50 * held.p50 == pytest.approx(1, abs=0.004)


def test_displacement_gains_less_than_its_size():
    ratio = run(replace(UNBOOSTED, displacement=2.8e-3))
    size = 2.8 / 2.5935
    assert 1.0 < ratio.peak_power_ratio.p50 < size
    low = ratio.wheel_power.p50[0] / WHEEL[0]
    assert low == pytest.approx(size, abs=0.03)


def test_richer_than_best_costs_power():
    assert run(replace(UNBOOSTED, lambda_full_load=0.76)).peak_power_ratio.p90 < 1.0


def test_removing_the_blower_undoes_it():
    back = run(UNBOOSTED, before=mild()).peak_power_ratio
    assert 0.6 < back.p50 < 0.85


def test_centrifugal_gains_at_the_top_and_a_blower_everywhere():
    speed = OMEGA[-1]
    peaky = run(mild(induction=Centrifugal(7 * PSI, speed)), draws=256).wheel_power.p50 / WHEEL
    flat = run(mild(), draws=256).wheel_power.p50 / WHEEL
    assert peaky[0] < 1.1 < flat[0]
    assert peaky[-1] == pytest.approx(flat[-1], abs=0.06)


def test_relief_caps_the_boost():
    def capped(relief):
        return run(mild(induction=PositiveDisplacement(9 * PSI, relief=relief)), draws=256)

    free, held = capped(None).peak_power_ratio, capped(5 * PSI).peak_power_ratio
    five = run(mild(5.0), draws=256).peak_power_ratio
    assert held.p90 < free.p50
    assert held.p50 == pytest.approx(five.p50, abs=0.05)


def test_a_measured_boost_curve_replaces_what_is_said():
    curve = tuple(np.full(len(RPM), 6 * PSI))
    measured = run(mild(induction=PositiveDisplacement(curve)))
    said = run(mild(6.0))
    assert "boost_delivery" not in {u.name for u in measured.assumed}
    for name, band in said.structures.items():
        assert measured.structures[name].width < 0.95 * band.width


def test_turbocharged_models_of_1985_as_an_envelope():
    """Six pairs of one make and size, turbocharged and not, among the cars of 1985 (UCI
    automobile data, Ward's; opened): power ratio 1.00 to 1.50, median 1.33, compression ratio
    1 to 1.8 lower. An envelope, not a value."""
    turbo = mild(cooler=None, compression_ratio=7.8, exhaust_resistance=1.0)
    ratio = run(replace(turbo, induction=Turbocharger(7 * PSI))).peak_power_ratio
    assert 1.00 < ratio.p10 < ratio.p50 < 1.50


def test_turbocharger_back_pressure_costs():
    light, heavy = (
        run(mild(induction=Turbocharger(9 * PSI, back_pressure_ratio=x)), draws=256)
        for x in (0.9, 1.9)
    )
    assert heavy.peak_power_ratio.p50 < light.peak_power_ratio.p50


# -- refusals ------------------------------------------------------------------------


@pytest.mark.parametrize("system", ["nitrous", "charge injection", "twin charging"])
def test_undeclared_systems_are_refused(system):
    with pytest.raises(ValueError, match=f"no model covers {system}"):
        run(mild(unmodelled=(system,)))
    declared = BreathingEffect(system, Uncertain(system, Uniform(1.1, 1.2)))
    shares = run(mild(unmodelled=(system,), effects=(declared,)), draws=64).attribution.shares
    assert system in {s.name for s in shares}


@pytest.mark.parametrize(
    ("omega", "power", "words"),
    [
        ((300.0,), (1e5,), "two or more"),
        ((300.0, 200.0), (1e5, 1e5), "must rise"),
        ((300.0, 400.0), (1e5, -1.0), "above zero at every"),
        ((300.0, 400.0), (1e5,), "a power for each"),
    ],
)
def test_unusable_curves_are_refused(omega, power, words):
    broken = replace(ANCHOR, omega=omega, power=power)
    with pytest.raises(ValueError, match=words):
        predict(broken, UNBOOSTED, mild(), PRIORS, draws=64)


def test_a_blower_without_boost_or_size_is_refused():
    with pytest.raises(ValueError, match="needs a stated boost"):
        run(mild(induction=PositiveDisplacement()), draws=64)


def test_what_lies_beyond_the_checked_range_is_said():
    far = run(mild(18.0, lambda_full_load=0.70, displacement=3.6e-3), draws=64)
    assert "boost above 1 bar" in far.beyond
    assert "lambda outside 0.75 to 1.05" in far.beyond
    assert "displacement changed by more than a third" in far.beyond
    assert run(mild(), draws=64).beyond == ()


def test_cooler_alone_changes_nothing_on_an_unboosted_engine():
    assert run(replace(UNBOOSTED, cooler=CoolerState()), draws=64).peak_power_ratio.width == 0.0
