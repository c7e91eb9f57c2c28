"""From records to a band: what is used, what is refused, what cancels, what the air does."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from math import pi
from typing import Any

import numpy as np
import pytest

from buildlog.analysis.car.changes import power_neutral
from buildlog.analysis.car.priors import load, uncertain
from buildlog.analysis.prediction.learned import MeasuredPoint, PastStage, past_stage
from buildlog.analysis.prediction.predicted import Predicted, predicted
from buildlog.analysis.prediction.prediction_anchor import asked, day_of, from_rating, from_sheet
from buildlog.analysis.prediction.prediction_inputs import inputs
from buildlog.analysis.pulls.measured import measured
from buildlog.errors import InvalidInput
from buildlog.physics.engines.ensemble import DRAWS
from buildlog.physics.gases.air import standard_atmosphere_pressure
from buildlog.records.key_words import piece_words
from tests.builders import make_configuration, make_sheet, make_version

PRIORS = load()
DRAWN = uncertain(PRIORS)
BLOWER = {
    "induction.kind": "positive-displacement",
    "induction.boost.target_gauge": "7 psi",
    "induction.charge_cooler.kind": "air",
    "exhaust.pipe_diameter": "63 mm",
}
TURBO = {"induction.kind": "turbocharger", "induction.boost.target_gauge": "9 psi"}


def stage(
    after: Mapping[str, Any] | None,
    before: Mapping[str, Any] | None = None,
    session: Mapping[str, Any] | None = None,
    day: Mapping[str, float] | None = None,
    priors: Any = None,
    draws: int = 512,
) -> Predicted:
    """Predict a change of the invented car from its invented curve."""
    one = make_configuration(before)
    other = make_configuration({**(before or {}), **(after or {})})
    sheet = make_sheet([105_000] * 3, session, configuration=one)
    assert sheet.kept is not None
    start = from_sheet(sheet, sheet.kept, one, DRAWN)
    return predicted(
        make_version(1, one),
        make_version(2, other),
        start,
        priors or PRIORS,
        day=asked(start.day, **day) if day else None,
        draws=draws,
    )


def test_no_change_is_exactly_one_with_zero_width() -> None:
    for before in (None, TURBO, BLOWER, {"engine.compression_ratio": None}):
        result = stage(None, before)
        assert result.changes_nothing
        assert (result.ratio.p10, result.ratio.p90, result.ratio.mean) == (1.0, 1.0, 1.0)
        assert result.raw.attribution.shares == ()


def test_a_mild_cooled_blower_at_7_psi_gives_what_shops_see() -> None:
    """1.37 at about 7 psi: common practice, no source; a band check, not a target."""
    result = stage(BLOWER, draws=DRAWS)
    assert 1.20 < result.ratio.p10 < 1.37 < result.ratio.p90 < 1.70
    assert sum(s.delta for s in result.raw.attribution.shares) == pytest.approx(
        result.raw.peak_power_delta.mean
    )
    assert {s.name for s in result.raw.attribution.shares} >= {
        "boost", "charge cooling", "exhaust back pressure", "mixture", "spark timing"
    }  # fmt: skip


def test_medians_rise_with_boost() -> None:
    middles = [
        stage({**BLOWER, "induction.boost.target_gauge": f"{psi} psi"}).ratio.p50
        for psi in (5, 6, 7, 8)
    ]
    assert (np.diff(middles) > 0).all()


def test_what_the_file_states_narrows_the_band() -> None:
    stated = {
        **BLOWER,
        "induction.compressor.efficiency": 0.6,
        "induction.charge_cooler.effectiveness": 0.68,
        "calibration.spark_retard": "7 deg",
        "calibration.lambda_full_load": 0.82,
    }
    loose, known = stage(BLOWER), stage(stated)
    assert known.ratio.width < loose.ratio.width
    gone = {a.name for a in loose.assumed} - {a.name for a in known.assumed}
    assert {"positive_displacement_efficiency", "cooler_effectiveness"} <= gone
    assert {"spark_retard_boosted", "lambda_boosted"} <= gone


def test_every_assumption_has_a_range_and_a_source() -> None:
    result = stage(BLOWER)
    assert result.assumed
    assert all(one.words and one.source and one.meaning for one in result.assumed)


def test_a_ledgers_own_prior_replaces_the_default_and_says_so() -> None:
    own = load(
        "[spark_retard_boosted]\nunit = 'deg'\ndistribution = 'triangular'\nlow = 6.5\nmode = 7\n"
        "high = 7.5\nsource = 'own pulls, three cars'\n"
    )
    result = stage(BLOWER, priors=own)
    listed = {a.name: a for a in result.assumed}["spark_retard_boosted"]
    assert listed.basis == "priors.toml of this ledger"
    assert listed.source == "own pulls, three cars"
    assert result.ratio.width < stage(BLOWER).ratio.width


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"car.power_source": "electric"}, "no model for this power source"),
        ({"car.power_source": "compression-ignition"}, "no model for this power source"),
        ({"nitrous.kind": "wet"}, "no model covers nitrous"),
        ({"charge_injection.kind": "water"}, "no model covers charge injection"),
        ({**TURBO, "induction.boost": None}, "boost is missing"),
        ({"induction.kind": "centrifugal", "engine.rev_limit": None,
          "induction.boost.target_gauge": "6 psi"}, "engine speed at which the centrifugal"),
        ({**BLOWER, "induction.turbine.inlet_limit": "900 degC"}, "twin charging"),
        ({"fuel.kind": "lpg"}, "no model for a change of fuel"),
        ({"fuel.kind": "ethanol-blend"}, "ethanol content of the blend is missing"),
        ({"engine.layout": "rotary"}, "rotary"),
    ],
)  # fmt: skip
def test_what_no_model_covers_is_refused_in_a_sentence(
    changes: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(InvalidInput, match=sentence):
        stage(changes)


def test_a_car_without_displacement_is_refused() -> None:
    with pytest.raises(InvalidInput, match="displacement is missing"):
        stage(TURBO, {"engine.bore": None})


def test_declared_nitrous_is_predicted_and_named() -> None:
    declared = {
        "nitrous.kind": "wet",
        "nitrous.effect.breathing_low": "20 percent",
        "nitrous.effect.breathing_high": "30 percent",
    }
    result = stage(declared)
    assert [s.name for s in result.raw.attribution.shares] == ["nitrous"]
    assert 1.15 < result.ratio.p10 < result.ratio.p90 < 1.45


def test_nitrous_switched_off_on_the_rollers_is_not_in_the_way() -> None:
    one = make_configuration({"nitrous.kind": "wet"})
    other = make_configuration({"nitrous.kind": "wet", **TURBO})
    sheet = make_sheet([105_000], configuration=one, pulls=[{"nitrous": "off"}])
    assert sheet.kept is not None
    start = from_sheet(sheet, sheet.kept, one, DRAWN)
    assert inputs(one, other, start, start.day, DRAWN).after.unmodelled == ()


def test_a_camshaft_without_an_effect_is_said_to_be_left_out() -> None:
    result = stage({"engine.camshaft.kind": "270 deg"})
    assert result.changes_nothing
    assert result.not_covered == ("engine.camshaft",)
    declared = {
        "engine.camshaft.effect.breathing_low": "2 percent",
        "engine.camshaft.effect.breathing_high": "6 percent",
    }
    result = stage({"engine.camshaft.kind": "270 deg", **declared})
    assert result.not_covered == ()
    assert result.ratio.p10 > 1.01


SPARK = {"calibration.spark_retard": "2 deg"}


@pytest.mark.parametrize(
    ("after", "before", "named"),
    [
        ({"engine.cylinder_head.kind": "ported"}, {}, "engine.cylinder_head"),
        ({"intake.throttle_diameter": "70 mm"}, {"intake.throttle_diameter": None},
         "intake.throttle_diameter"),
        ({"exhaust.headers.kind": "long-tube"}, {"exhaust.headers": None}, "exhaust.headers"),
        ({"fuel.ron": 100}, {"fuel.ron": 95}, "fuel.ron"),
        ({"fuel.ron": 100}, {"fuel.ron": 95, **SPARK}, None),
        ({"calibration.id": "B"}, {"calibration.id": "A"}, "calibration.id"),
        ({"calibration.id": "B", "calibration.lambda_full_load": 0.86},
         {"calibration.id": "A", "calibration.lambda_full_load": 0.90}, None),
    ],
)  # fmt: skip
def test_silence_is_no_figure(
    after: dict[str, Any], before: dict[str, Any], named: str | None
) -> None:
    """Alone it is not predictable; beside a change that has a formula the band names it; with
    what the formula asks for it is predicted."""
    result = stage(after, before)
    assert result.not_covered == ((named,) if named else ())
    if named:
        assert str(result.unpredictable).endswith(f"covers {piece_words(named)}")
    beside = stage({**after, "engine.compression_ratio": 10.0}, before)
    assert beside.unpredictable is None
    assert beside.not_covered == result.not_covered


def test_no_change_at_all_is_a_figure() -> None:
    assert stage(None).unpredictable is None


def test_a_boost_target_asks_what_makes_the_boost() -> None:
    with pytest.raises(InvalidInput, match="what makes the boost") as caught:
        stage({"induction.kind": None, "induction.boost.target_gauge": "7 psi"})
    assert caught.value.hint == "set induction.kind"


def test_a_stage_that_no_model_covers_teaches_nothing() -> None:
    """Neither for nor against the model, however far the measured value lies off."""
    one = make_configuration()
    other = make_configuration(
        {"engine.camshaft.kind": "276 deg", "engine.compression_ratio": 10.0}
    )
    points = [
        MeasuredPoint(make_version(number, car), sheet, sheet.kept)
        for number, car, peak in ((1, one, 100_000), (2, other, 108_100))
        if (sheet := make_sheet([peak] * 3, configuration=car, name=f"v{number}")).kept is not None
    ]
    said = taught(points[0], points[1])
    assert isinstance(said, str)
    assert "engine.camshaft" in said


def test_tyres_and_final_drive_change_force_not_power() -> None:
    result = stage({"final_drive.ratio": 4.1})
    assert result.changes_nothing
    assert "final drive" in str(result.unpredictable)
    assert result.force_ratio == pytest.approx(4.1 / 3.7)


def test_a_compression_ratio_that_was_only_written_down_later_changes_nothing() -> None:
    result = stage({"engine.compression_ratio": 9.2}, {"engine.compression_ratio": None})
    assert result.changes_nothing
    assert any("compression ratio" in note for note in result.notes)


def test_a_makers_round_displacement_is_no_change() -> None:
    before = {"engine.bore": None, "engine.displacement": "2600 cc"}
    assert stage({"engine.bore": "84.0 mm"}, before).changes_nothing


def test_gasoline_to_e85_is_no_more_than_the_energy_of_its_air() -> None:
    """No knock limit, no charge cooling unless declared: only heat per kg of air moves."""
    result = stage({"fuel.kind": "ethanol-blend", "fuel.ethanol_content": "85 percent"})
    ethanol, gasoline = 11_585 * 2326 / 9.0, 18_676 * 2326 / 14.7  # US DOE AFDC table (opened)
    assert 1.0 < result.ratio.p50 < 1 + 1.2 * (ethanol / gasoline - 1)


EVAPORATION = {
    "fuel.evaporation.cooling_low": "10 K",
    "fuel.evaporation.cooling_high": "25 K",
    "fuel.evaporation.source": "manifold thermocouple, both fuels, one evening",
}
E85 = {"fuel.kind": "ethanol-blend", "fuel.ethanol_content": "85 percent"}


def test_declared_evaporation_counts_once_and_is_listed() -> None:
    plain, cooled = stage(E85), stage({**E85, **EVAPORATION})
    assert cooled.ratio.p50 > plain.ratio.p50 + 0.015
    assert any(
        "fuel.evaporation.cooling_low" in note and "K if all" in note for note in plain.notes
    )
    assert not any("cooling of the charge" in note for note in cooled.notes)
    listed = {a.name: a for a in cooled.assumed}
    assert (
        listed["fuel.evaporation (declared)"].words == "10 to 25 K cooler charge than with gasoline"
    )
    assert {s.name for s in cooled.raw.attribution.shares} == {"fuel", "evaporation of the fuel"}


def test_what_the_knock_limit_frees_counts_where_the_spark_is_declared() -> None:
    """Eight degrees regained: 1/(1 - 0.045 x 0.64) of indicated power by spark_factor, more at
    the wheel behind constant losses."""
    late, best = ({"calibration.spark_retard": x} for x in ("8 deg", "0 deg"))
    held, freed = stage(E85, late), stage({**E85, **best}, late)
    assert held.ratio.p50 == pytest.approx(stage(E85).ratio.p50, abs=0.003)
    gained = freed.ratio.p50 / held.ratio.p50
    assert 1 / (1 - 0.045 * 0.64) - 0.003 < gained < 1.045
    assert "spark timing" in {s.name for s in freed.raw.attribution.shares}


def test_evaporation_that_was_only_written_down_later_changes_nothing() -> None:
    assert stage(EVAPORATION, E85).changes_nothing
    assert all(power_neutral(path) for path in EVAPORATION)
    assert stage({"fuel.evaporation": None}, {**E85, **EVAPORATION}).changes_nothing


def test_back_to_gasoline_takes_the_evaporation_away() -> None:
    there = stage({**E85, **EVAPORATION}).ratio.p50
    gasoline = {
        "fuel.kind": "gasoline",
        "fuel.ethanol_content": "0 percent",
        "fuel.evaporation": None,
    }
    back = stage(gasoline, {**E85, **EVAPORATION}).ratio.p50
    assert there * back == pytest.approx(1, abs=0.005)


def test_a_single_stated_cooling_is_taken_as_known_and_a_turned_band_is_refused() -> None:
    one = {k: v for k, v in EVAPORATION.items() if "high" not in k}
    known = stage({**E85, **one})
    assert "fuel.evaporation (declared)" not in {a.name for a in known.assumed}
    assert known.ratio.p50 < stage({**E85, **EVAPORATION}).ratio.p50
    lots = stage({**E85, "fuel.evaporation.cooling_low": "120 K"})
    assert any("more than the 100 K" in note for note in lots.notes)
    turned = {**EVAPORATION, "fuel.evaporation.cooling_low": "40 K"}
    with pytest.raises(InvalidInput, match="least cooling is above the most"):
        stage({**E85, **turned})


def test_the_tank_of_the_day_holds_until_the_fuel_is_changed() -> None:
    tank = {"fuel.ethanol_content": "10 percent"}
    assert stage(None, session=tank).changes_nothing
    assert not stage({"fuel.ethanol_content": "30 percent"}, session=tank).changes_nothing


def test_a_stated_back_pressure_is_used_at_its_power() -> None:
    measured = {
        "exhaust.back_pressure": "20 kPa",
        "exhaust.back_pressure_at_power": "105 kW",
    }
    better = {"exhaust.back_pressure": "10 kPa", "exhaust.pipe_diameter": "63 mm"}
    one = make_configuration(measured)
    other = make_configuration({**measured, **better})
    sheet = make_sheet([105_000], configuration=one)
    assert sheet.kept is not None
    start = from_sheet(sheet, sheet.kept, one, DRAWN)
    found = inputs(one, other, start, start.day, DRAWN)
    assert found.anchor.back_pressure == pytest.approx(20e3, rel=0.01)
    assert found.after.exhaust_resistance == pytest.approx(0.5)
    stale = make_configuration({**measured, "exhaust.pipe_diameter": "63 mm"})
    found = inputs(one, stale, start, start.day, DRAWN)
    assert found.after.exhaust_resistance == DRAWN["exhaust_resistance_freer"]


def test_going_back_to_the_tighter_exhaust_undoes_the_gain() -> None:
    there = stage({"exhaust.pipe_diameter": "63 mm"}).ratio.p50
    back = stage({"exhaust.pipe_diameter": "57 mm"}, {"exhaust.pipe_diameter": "63 mm"}).ratio.p50
    assert there > 1 > back
    assert there * back == pytest.approx(1, abs=0.01)


def test_a_smaller_pulley_beside_an_old_target_raises_the_boost() -> None:
    driven = {
        **BLOWER,
        "induction.compressor.crank_pulley_diameter": "150 mm",
        "induction.compressor.compressor_pulley_diameter": "75 mm",
    }
    result = stage({"induction.compressor.compressor_pulley_diameter": "68 mm"}, driven)
    assert result.ratio.p10 > 1.02
    assert any("drive ratio 2 to 2.21" in note for note in result.notes)


def test_a_relief_valve_below_the_target_holds_the_boost() -> None:
    low = {**TURBO, "induction.boost.relief_gauge": "6 psi"}
    held, wanted = stage(low), stage({**TURBO, "induction.boost.target_gauge": "6 psi"})
    assert held.ratio == wanted.ratio
    high = {**TURBO, "induction.boost.relief_gauge": "10 psi"}
    assert stage({"induction.boost.relief_gauge": "11 psi"}, high).changes_nothing


# -- air -------------------------------------------------------------------------------


def test_thin_hot_air_costs_an_unboosted_engine_about_its_density() -> None:
    """Pressure at 1,600 m from the standard atmosphere (ISO 2533, checked with `air`)."""
    result = stage(None, day={"altitude": 1600.0})
    pressure = standard_atmosphere_pressure(1600.0) / 100e3
    assert pressure == pytest.approx(0.835, abs=0.001)
    assert result.ratio.p50 == pytest.approx(pressure, abs=0.04)
    hot = stage(None, day={"altitude": 1600.0, "temperature": 308.15})
    assert hot.ratio.p50 < result.ratio.p50
    assert [s.name for s in hot.raw.attribution.shares] == ["air of the day"]


def test_absolute_boost_control_makes_up_for_thin_air() -> None:
    spring = stage(None, {**TURBO, "induction.boost.control": "spring"}, day={"altitude": 1600.0})
    absolute = stage(
        None, {**TURBO, "induction.boost.control": "closed-loop-absolute"}, day={"altitude": 1600.0}
    )
    assert absolute.ratio.p50 > spring.ratio.p50


@pytest.mark.parametrize(
    "air",
    [{"altitude": 90_000.0}, {"altitude": 100.0, "pressure": 9e4}, {"humidity": 3.0}],
)
def test_air_of_no_place_is_refused(air: dict[str, float]) -> None:
    with pytest.raises(InvalidInput):
        asked(day_of("SAE J1349", None), **air)


def test_a_curve_in_a_standard_holds_for_its_reference_air() -> None:
    """SAE J1349: 25 degC, 99 kPa dry (secondary); as the correction module has it."""
    day = day_of("SAE J1349", (90e3, 310.0, 0.5))
    assert (day.temperature, day.pressure - day.vapour_pressure) == (298.15, 99e3)
    observed = day_of("none", (90e3, 310.0, 0.5))
    assert (observed.pressure, observed.temperature) == (90e3, 310.0)


# -- anchors ---------------------------------------------------------------------------


def test_an_estimate_from_the_rating_is_labelled_and_wider() -> None:
    rated = make_configuration({"engine.rated_power_speed": "5700 rpm"})
    start = from_rating(rated, DRAWN)
    other = make_version(2, make_configuration(TURBO))
    guess = predicted(make_version(1, rated), other, start, PRIORS, draws=512)
    assert not start.measured
    assert "NOT measured" in start.words
    assert "rated_level" in {a.name for a in guess.assumed}
    anchored = stage(TURBO)
    relative = [r.peak_power.width / r.peak_power.p50 for r in (guess, anchored)]
    assert relative[0] > relative[1]


@pytest.mark.parametrize("changes", [{}, {**TURBO, "engine.rated_power_speed": "5700 rpm"}])
def test_no_estimate_without_the_makers_figures_or_for_a_boosted_engine(
    changes: dict[str, Any],
) -> None:
    with pytest.raises(InvalidInput, match="no dyno session measured it"):
        from_rating(make_configuration(changes), DRAWN)


def test_a_session_without_engine_speed_cannot_be_started_from() -> None:
    one = make_configuration({"gearbox": None})
    columns = [
        {"channel": "road_speed", "name": "n", "unit": "km/h"},
        {"channel": "power", "name": "P", "unit": "kW"},
    ]
    sheet = make_sheet([105_000], {"column": columns}, configuration=one, rpm=(60, 200),
                       shape=lambda v: v / 200)  # fmt: skip
    assert sheet.kept is not None
    with pytest.raises(InvalidInput, match="no engine speed"):
        from_sheet(sheet, sheet.kept, one, DRAWN)


def test_the_anchor_is_the_measured_curve() -> None:
    one = make_configuration()
    sheet = make_sheet([105_000] * 3, configuration=one)
    assert sheet.kept is not None
    start = from_sheet(sheet, sheet.kept, one, DRAWN)
    assert start.peak == pytest.approx(sheet.kept.peak_power.value, rel=1e-3)
    assert np.diff(start.rpm) == pytest.approx(50)
    assert start.anchor.omega[0] == pytest.approx(start.rpm[0] * pi / 30)


@pytest.mark.parametrize(
    ("changes", "prior"),
    [
        ({}, "driveline_loss"),
        ({"gearbox.kind": "automatic"}, "driveline_loss_automatic"),
        ({"chassis.driven_wheels": "all"}, "driveline_loss_all_wheel"),
    ],
)
def test_the_driveline_loss_is_that_of_the_driveline(changes: dict[str, Any], prior: str) -> None:
    configuration = make_configuration(changes)
    sheet = make_sheet([105_000], configuration=configuration)
    assert sheet.kept is not None
    start = from_sheet(sheet, sheet.kept, configuration, DRAWN)
    assert start.anchor.driveline_loss == DRAWN[prior]


# -- past stages -----------------------------------------------------------------------


def taught(one: MeasuredPoint, other: MeasuredPoint) -> PastStage | str:
    found = measured(one.sheet, other.sheet, (one.group, other.group))
    return past_stage(one, other, found, PRIORS, "ledger")


def point(number: int, peak: float, changes: Mapping[str, Any] | None, name: str) -> MeasuredPoint:
    configuration = make_configuration(changes)
    sheet = make_sheet([peak] * 3, name=name, configuration=configuration)
    assert sheet.kept is not None
    return MeasuredPoint(make_version(number, configuration, stage=name), sheet, sheet.kept)


def test_a_stage_that_was_measured_is_a_result_with_its_scatter() -> None:
    one, other = point(1, 100_000, None, "a"), point(2, 140_000, BLOWER, "b")
    stage_ = taught(one, other)
    assert not isinstance(stage_, str)
    assert stage_.kind == "positive-displacement"
    assert stage_.result.measured == pytest.approx(1.4, rel=2e-3)
    assert stage_.result.inside
    assert 0 < stage_.result.measured_sd < 0.05


def test_pairs_that_teach_nothing_are_named() -> None:
    points = [
        point(1, 100_000, None, "a"),
        point(2, 101_000, {"clutch.rated_torque": "300 N*m"}, "b"),
        point(3, 150_000, {"car.power_source": "electric"}, "c"),
    ]
    left_out = [taught(one, other) for one, other in pairwise(points)]
    assert all(isinstance(one, str) for one in left_out)
    assert "nothing that has a formula" in str(left_out[0])
