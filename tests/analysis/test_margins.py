"""Margins from the records: what answers, what is unknown and why, and nonsense."""

from __future__ import annotations

import math
import subprocess
import sys
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildlog.analysis.margins.all_margins import findings, margins, states
from buildlog.analysis.margins.figures.demand_figure import SESSION
from buildlog.analysis.margins.figures.fuel_demand import air_flow, tank
from buildlog.analysis.margins.figures.margin_car import MarginCar, Subject, with_power
from buildlog.analysis.margins.figures.margin_rows import Row, worth_asking
from buildlog.analysis.margins.figures.shaft_demand import crank_power
from buildlog.analysis.margins.margin_changes import MarginChange, margin_changes
from buildlog.analysis.margins.margin_table import FILES
from buildlog.physics.parts.margin import State
from buildlog.records.car.configuration import Configuration
from buildlog.records.paths import field_at
from tests.analysis.margin_cars import BLOWN, TURBO, example, planned, run, subject


def row(found: list[Row], name: str) -> Row:
    return next(one for one in found if one.kind.name == name)


def middle(one: Row) -> tuple[float, float]:
    assert one.margin.demand is not None
    assert one.margin.capacity is not None
    return one.margin.demand.p50, one.margin.capacity.p50


LOGGED_ONLY = {"turbine inlet temperature", "battery power"}  # of a planned car nobody knows it


@pytest.mark.parametrize("base", [TURBO, BLOWN], ids=["turbocharged", "blown"])
@pytest.mark.parametrize("name", FILES)
def test_a_whole_car_that_states_what_the_example_states_answers(
    name: str, base: dict[str, Any]
) -> None:
    """Measured and planned; each side says what it rests on."""
    stated = {**base, **example(name)["car"]}
    cars = [subject(base=stated), planned(base=stated)]
    found = [one for car in cars for one in margins(car) if one.kind.name == name]
    assert found
    for one in found[: 1 if name in LOGGED_ONLY else None]:
        assert one.kind.information or one.state is not State.UNKNOWN, one.ask
        assert one.problem is None
        assert one.capacity.sources
        assert one.demand.sources or one.demand.basis == "computed" or one.demand.missing
        assert one.kind.information or one.basis != "missing"


def test_figures_by_hand() -> None:
    """Worked on paper from the car of the test, with the priors' middles."""
    car = subject()
    found = margins(car)
    loss, eta = (
        car.priors[n].quantile(0.5) for n in ("driveline_loss", "brake_efficiency_boosted")
    )
    crank = 200 * 745.7 / (1 - loss)
    assert middle(row(found, "rotating assembly"))[0] == pytest.approx(crank)
    # One fluid of 10 % ethanol: 0.1 x 11585 x 0.789 and 0.9 x 18676 x 0.745 Btu/lb by mass.
    fuel = tank(MarginCar(car))[0]
    assert fuel is not None
    rich = 0.80 / car.priors["lambda_boosted"].quantile(0.5)
    expected = crank / (eta * rich * fuel.lower_heating_value)
    assert middle(row(found, "injector duty"))[0] == pytest.approx(expected)
    torque = crank / (5400 * math.pi / 30) * car.priors["torque_rise"].quantile(0.5)
    assert middle(row(found, "clutch torque")) == pytest.approx((torque, 430.0))
    light = margins(subject({"chassis.wheelbase": None}))
    assert middle(row(light, "driveshaft torque"))[0] == pytest.approx(torque * 3.3)
    # Gillespie, ch. 2: mu m g/(1 - mu h/L) at the tyres, times r/i at the pinion.
    radius = 0.6319 / 1.032 / 2
    mu = car.priors["tyre_friction"].quantile(0.5)
    grip = mu * 690 * 9.80665 / (1 - mu * 520 / 2600) * radius / 3.7
    assert grip < torque * 3.3
    assert middle(row(found, "driveshaft torque"))[0] == pytest.approx(grip, rel=1e-3)
    # 2 S n = 2 x 0.078 m x 105 turns a second
    assert middle(row(found, "mean piston speed"))[0] == pytest.approx(16.38)
    assert middle(row(found, "boost against relief"))[1] == pytest.approx(11 * 6894.757, rel=1e-6)
    sensor = middle(row(found, "boost against sensor range"))
    assert sensor[0] == pytest.approx(101_325 + 8 * 6894.757, rel=1e-6)
    # v = omega (pi D/1.032)/(2 pi i): 205/55 R16 is 631.9 mm across
    speed = 6300 / 60 / (0.8 * 3.7) * math.pi * 0.6319 / 1.032
    assert middle(row(found, "tire speed")) == pytest.approx((speed, 75.0), rel=1e-4)
    # Two tyres of 615 kg, of which a W tyre keeps 0.85 at 270 km/h and all at 240.
    load = 1230 * (1 - 0.15 * (speed * 3.6 - 240) / 30)
    assert middle(row(found, "tire load")) == pytest.approx((695.0, load), rel=1e-3)


def test_the_fuel_pump_delivers_less_against_more_boost() -> None:
    low, high = (
        middle(row(margins(subject({"induction.boost.target_gauge": b})), "fuel pump"))[1]
        for b in ("5 psi", "10 psi")
    )
    assert high < low


def test_injectors_pass_less_where_the_regulator_does_not_feel_the_boost() -> None:
    one, other = (
        middle(row(margins(subject({"fuel.injectors.referenced": r})), "injector duty"))[1]
        for r in (True, False)
    )
    boost = 8 * 6894.757
    assert other / one == pytest.approx(math.sqrt((300e3 - boost) / 300e3), rel=1e-6)


def test_the_highest_ethanol_content_allowed_counts() -> None:
    plain = row(margins(subject()), "injector duty")
    flexible = row(
        margins(subject({"fuel.ethanol_range": ["0 percent", "85 percent"]})), "injector duty"
    )
    assert middle(flexible)[0] > 1.3 * middle(plain)[0]


def test_a_rating_wins_and_a_computed_capacity_that_differs_is_shown_beside_it() -> None:
    geometry = {
        "clutch.faces": 2, "clutch.outer_diameter": "240 mm", "clutch.inner_diameter": "155 mm",
        "clutch.clamp_force": "6.3 kN", "clutch.friction_coefficient": 0.32,
    }  # fmt: skip
    both = row(margins(subject(geometry)), "clutch torque")
    assert middle(both)[1] == 430.0
    assert both.alternative is not None
    assert both.alternative.band is not None
    # n mu F (D + d)/4 = 398.2 N*m, over the service factor
    factor = subject().priors["clutch_service_factor"].quantile(0.5)
    assert both.alternative.band.p50 == pytest.approx(398.16 / factor, rel=1e-4)
    alone = row(margins(subject({**geometry, "clutch.rated_torque": None})), "clutch torque")
    assert alone.capacity.basis == "computed"
    assert alone.state is not State.UNKNOWN


def test_an_automatic_has_no_clutch_row_and_another_loss() -> None:
    automatic = subject({"gearbox.kind": "automatic"})
    assert not any(one.kind.name == "clutch torque" for one in margins(automatic))
    powers = [crank_power(MarginCar(car)).p50 or 0 for car in (automatic, subject())]
    assert powers[0] > powers[1]


@pytest.mark.parametrize("source", ["compression-ignition", "hybrid", "electric"])
def test_no_gasoline_figure_for_another_power_source(source: str) -> None:
    car = subject({"car.power_source": source})
    found = margins(car)
    names = {one.kind.name for one in found}
    fuel = {"injector duty", "fuel pump", "full-load lambda", "knock", "heat to coolant"}
    assert not names & fuel
    assert "tire load" in names
    (said,) = [one for one in findings(found, car) if one.code == "no-model"]
    assert "no model for this power source" in said.text


def test_a_car_without_any_known_power() -> None:
    found = margins(replace(subject(), run=None, no_run="nobody measured it"))
    clutch = row(found, "clutch torque")
    assert clutch.state is State.UNKNOWN
    assert clutch.ask == (SESSION,)
    assert row(found, "mean piston speed").state is not State.UNKNOWN
    assert worth_asking(found)[0] == SESSION


def test_knock_compares_with_what_ran_and_never_says_an_octane() -> None:
    itself = row(margins(subject()), "knock")
    assert itself.kind.information  # it ran itself: told, but no limit
    assert itself.state is State.UNKNOWN
    assert itself.ask == ("the octane that this engine needs",)
    assert itself.basis == "missing"
    assert not MarginChange("knock", row(margins(planned({"fuel.kind": "gasoline"})), "knock"),
                            itself).tighter  # fmt: skip
    more = row(margins(planned({"induction.boost.target_gauge": "10 psi"})), "knock")
    assert more.state is State.OVER
    less = row(margins(planned({"engine.compression_ratio": 8.4})), "knock")
    assert less.state is State.CLEAR
    other = row(margins(planned({"fuel.ron": 100})), "knock")
    assert other.state is State.UNKNOWN
    unsaid = planned({"calibration.id": "T26-009", "calibration.spark_retard": None})
    assert row(margins(unsaid), "knock").ask == ("calibration.spark_retard",)


def test_two_sets_of_tyres_have_a_row_each() -> None:
    marked = {"load_index": 91, "made": "0426"}
    axles = {
        "tyres.front": {"size": "205/55 R16", "speed_symbol": "H", **marked},
        "tyres.rear": {"size": "225/50 R16", "speed_symbol": "W", **marked},
    }
    found = margins(subject(axles))
    assert {one.what for one in found if one.kind.name == "tire speed"} == {"front", "rear"}


def test_zr_alone_is_clear_below_its_speed_and_unknown_above() -> None:
    """ZR: above 240 km/h, no upper end stated (table of tyre makers, physics/parts/tyres.py)."""
    zr = {"tyres.size": "205/55 ZR16", "tyres.speed_symbol": None}

    def at(limit: str) -> Row:
        return row(margins(subject(zr | {"calibration.speed_limit": limit})), "tire speed")

    assert at("235 km/h").state is State.CLEAR
    fast = zr | {"gearbox.ratios": [3.2, 1.9, 1.3, 0.6]}
    beyond = row(margins(subject(fast)), "tire speed")
    assert beyond.state is State.UNKNOWN
    assert beyond.ask == ("tyres.speed_symbol",)
    marked = row(margins(subject(fast | {"tyres.speed_symbol": "V"})), "tire speed")
    assert marked.state is State.OVER


def test_a_primary_reduction_multiplies_torque_and_divides_speed() -> None:
    plain, reduced = (
        {one.name: one for one in margins(subject(changes))}
        for changes in ({}, {"gearbox.primary_ratio": 1.5})
    )

    def ratio(name: str) -> float:
        bands = [found[name].margin.demand for found in (reduced, plain)]
        assert bands[0] is not None
        assert bands[1] is not None
        return bands[0].p50 / bands[1].p50

    for name in ("clutch torque", "gearbox torque", "grip"):
        assert ratio(name) == pytest.approx(1.5), name
    for name in ("tire speed", "driveshaft critical speed"):
        assert ratio(name) == pytest.approx(1 / 1.5), name


# Missing data never become a state that reassures.


OPTIONAL = [path for path in TURBO if not path.startswith("chassis")] + [
    "chassis.driven_axle_load", "chassis.front_axle_load", "fuel.kind", "gearbox.ratios",
    "final_drive.ratio", "tyres.size", "engine.stroke", "engine.rev_limit", "clutch.rated_torque",
    "fuel.injectors.count", "fuel.injectors.flow", "fuel.injectors.referenced", "fuel.pump.count",
    "fuel.injectors.rated_pressure", "fuel.injectors.system_pressure", "fuel.pump.flow",
    "fuel.pump.at_pressure", "induction.boost.target_gauge", "induction.compressor.stated_speed",
    "chassis.driven_wheels", "induction.compressor.speed_limit", "driveshaft.outer_diameter",
    "engine.compression_ratio", "flywheel.diameter", "exhaust.back_pressure_at_power",
]  # fmt: skip
# A margin may take these from elsewhere: a prior, another field, or a usual limit.
REPLACED = {
    "mean piston speed": {"engine.mean_piston_speed_limit", "calibration.rev_limit"},
    "driveshaft critical speed": {"calibration.rev_limit"},
}


@settings(max_examples=60)
@given(st.sets(st.sampled_from(OPTIONAL), min_size=1), st.booleans())
def test_no_missing_datum_is_ever_clear_or_a_number(gone: set[str], unmeasured: bool) -> None:
    car = subject(dict.fromkeys(sorted(gone)))
    car = replace(car, run=None) if unmeasured else car
    for one in margins(car):
        needed = one.demand.missing or one.capacity.missing
        if one.demand.band is None or one.margin.capacity is None:
            assert one.state is State.UNKNOWN, one.name
            assert one.margin.left is None
            assert one.ask, one.name
            assert needed
        else:
            assert one.state is not State.UNKNOWN
        if one.state is State.CLEAR:
            assert one.margin.left is not None
            assert one.margin.left.p10 >= one.kind.caution


ALL = {one.name for one in margins(subject())}


@pytest.mark.parametrize("path", OPTIONAL)
def test_one_missing_datum_makes_unknown_what_needed_it(path: str) -> None:
    """What is answered without the datum is answered by the same figures as with it."""
    before = {one.name: one for one in margins(subject())}
    after = {one.name: one for one in margins(subject({path: None}))}
    for name, one in after.items():
        if one.state is State.UNKNOWN or name not in before:
            continue
        read = set(before[name].demand.paths + before[name].capacity.paths)
        if path in read:  # it did use the datum: another source must be named
            assert one.sources != before[name].sources or one.basis != before[name].basis, name


@pytest.mark.parametrize("path", OPTIONAL)
def test_what_is_asked_for_is_a_field_that_can_be_set(path: str) -> None:
    for one in margins(subject({path: None})):
        for name in one.ask if not one.kind.information else ():
            field_at(Configuration, name)


def test_a_band_that_crosses_the_caution_edge_is_never_clear() -> None:
    """Power raised until the worse end of the clutch crosses the edge, middle still outside."""
    crossing = [row(margins(subject(power=run(hp))), "clutch torque") for hp in range(100, 300, 5)]
    for one in crossing:
        assert one.margin.left is not None
        if one.margin.left.p10 < 0.10:
            assert one.state is not State.CLEAR
    assert any(
        one.margin.left.p50 > 0.10 and one.state is State.CLOSE  # type: ignore[union-attr]
        for one in crossing
    )


# Nonsense becomes a finding.


@pytest.mark.parametrize(
    ("changes", "name", "text"),
    [
        ({"induction.boost.relief_gauge": "0 psi"}, "boost against relief", "above zero"),
        ({"calibration.boost_limit_gauge": "0 kPa"}, "boost against limit", "above zero"),
        (
            {
                "clutch.rated_torque": None, "clutch.faces": 2, "clutch.clamp_force": "6 kN",
                "clutch.friction_coefficient": 0.3, "clutch.outer_diameter": "150 mm",
                "clutch.inner_diameter": "240 mm",
            },
            "clutch torque",
            "must be smaller than the outer",
        ),
        ({"driveshaft.wall": "50 mm"}, "driveshaft stress", "does not fit"),
        ({"fuel.pump.second_flow": "250 L/h", "fuel.pump.second_at_pressure": "500 kPa"},
         "fuel pump", "cannot rise with pressure"),
        ({"tyres.made": "9926"}, "tire age", "week"),
        ({"tyres.made": "0430"}, "tire age", "after the date"),
        ({"tyres.speed_symbol": "X"}, "tire speed", "speed symbol"),
        ({"tyres.load_index": 45}, "tire load", "load index"),
        ({"induction.compressor.stated_pressure_ratio": 1.0}, "compressor speed", "above 1"),
    ],
)  # fmt: skip
def test_nonsense_is_unknown_with_a_finding(changes: dict[str, Any], name: str, text: str) -> None:
    car = subject(changes)
    found = margins(car)
    one = row(found, name)
    assert one.state is State.UNKNOWN
    assert one.ask
    told = [f for f in findings(found, car) if f.text.startswith(name)]
    assert told[0].severity == "error"
    assert text in told[0].text


def test_a_tyre_size_that_no_tyre_has_is_missing() -> None:
    found = margins(subject({"tyres.size": "round", "tyres.speed_symbol": None}))
    assert row(found, "tire speed").state is State.UNKNOWN


def test_the_order_is_state_then_distance() -> None:
    found = margins(subject(power=run(300), changes={"gearbox.rated_torque": None}))
    order = [State.OVER, State.CLOSE, State.CLEAR, State.UNKNOWN]
    counted = [one for one in found if not one.kind.information]
    places = [order.index(one.state) for one in counted]
    assert places == sorted(places)
    assert found[: len(counted)] == counted


def test_states_for_the_gates_leave_information_out() -> None:
    found = margins(subject(power=run(400)))
    assert states(found)["clutch torque"] == "over"
    assert "grip" not in states(found)


# Nitrous and charge injection: working and failed, the worse first.


def test_nitrous_working_asks_for_power_and_failed_leans_the_mixture() -> None:
    kit = {"nitrous": {"kind": "dry", "flow": "40 g/s"}}
    with_it, without = margins(subject(kit)), margins(subject())
    clutch = row(with_it, "clutch torque")
    assert clutch.case == "working"
    # 40 g/s of nitrous oxide hold as much oxygen as 62.8 g/s of air (molar masses).
    air = air_flow(MarginCar(subject())).p50
    assert air is not None
    gain = 1 + 0.040 * (15.999 / 44.013) / 0.2314 / air
    assert middle(clutch)[0] == pytest.approx(gain * middle(row(without, "clutch torque"))[0])
    mixture = row(with_it, "full-load lambda")
    assert mixture.case == "failed"
    assert middle(mixture)[0] == pytest.approx(0.80 * gain)
    assert middle(row(with_it, "injector duty"))[0] > middle(row(without, "injector duty"))[0]


def test_a_wet_kit_brings_its_own_fuel_past_the_injectors_not_past_the_pump() -> None:
    kit = {"nitrous": {"kind": "wet", "flow": "40 g/s"}}
    wet, without = margins(subject(kit)), margins(subject())
    assert middle(row(wet, "injector duty")) == middle(row(without, "injector duty"))
    assert middle(row(wet, "fuel pump"))[0] > middle(row(without, "fuel pump"))[0]


def test_a_kit_without_its_flow_leaves_what_it_drives_unknown() -> None:
    found = margins(subject({"nitrous": {"kind": "dry"}}))
    assert row(found, "clutch torque").state is State.UNKNOWN
    assert "nitrous.flow" in row(found, "clutch torque").ask
    assert row(found, "mean piston speed").state is not State.UNKNOWN


@pytest.mark.parametrize(
    ("rated", "without", "with_it"),
    [(1.5, State.CLEAR, State.UNKNOWN), (1.06, State.CLOSE, State.UNKNOWN),
     (0.8, State.OVER, State.OVER)],
)  # fmt: skip
def test_a_case_that_cannot_be_known_is_beaten_by_one_past_its_limit_alone(
    rated: float, without: State, with_it: State
) -> None:
    asked = middle(row(margins(subject()), "clutch torque"))[0]
    clutch = {"clutch.rated_torque": f"{rated * asked:.1f} N*m"}
    assert row(margins(subject(clutch)), "clutch torque").state is without
    kit = clutch | {"nitrous": {"kind": "dry"}}
    assert row(margins(subject(kit)), "clutch torque").state is with_it


def test_nitrous_that_was_on_in_the_pulls_is_not_counted_twice() -> None:
    kit = {"nitrous": {"kind": "dry", "flow": "40 g/s"}}
    power = replace(run(), nitrous_on=True)
    measured = row(margins(subject(kit, power=power)), "clutch torque")
    assert middle(measured) == middle(row(margins(subject()), "clutch torque"))


def test_methanol_that_stays_away_leans_the_mixture_and_water_does_not() -> None:
    lean = {
        kind: middle(row(margins(subject(
            {"charge_injection": {"kind": kind, "flow": "300 cc/min"}})), "full-load lambda"))[0]
        for kind in ("methanol", "water")
    }  # fmt: skip
    assert lean["water"] == 0.80
    assert lean["methanol"] > 0.82


# Before and after


def changes_of(before: Subject, after: Subject) -> Any:
    return margin_changes(margins(before), margins(after))


def test_more_power_tightens_what_power_drives_and_nothing_else() -> None:
    found = changes_of(subject(), subject(power=run(230)))
    tighter = {one.name for one in found.tighter}
    assert {"clutch torque", "injector duty", "gearbox torque", "heat to coolant"} <= tighter
    assert not {"engine speed", "mean piston speed", "tire load"} & tighter
    assert found.first is not None
    assert found.first.name == margins(subject(power=run(230)))[0].name
    shown = {one.name for one in found.telling()}
    assert tighter - {"grip"} <= shown


def test_nothing_changed_nothing_tighter() -> None:
    found = changes_of(subject(), subject())
    assert found.tighter == ()
    assert not any(one.state_changed for one in found.changes)
    assert len(found.telling()) == 5


def test_a_datum_that_got_lost_counts_as_tighter() -> None:
    found = changes_of(subject(), subject({"gearbox.rated_torque": None}))
    assert [one.name for one in found.tighter] == ["gearbox torque"]


def test_a_plan_that_passes_a_limit_names_what_else_must_change() -> None:
    assert changes_of(subject(), subject()).needs == ()
    found = {one.name: one for one in changes_of(subject(), subject(power=run(400))).needs}
    assert found["clutch torque"].outgrown
    assert not {"engine speed", "tire load", "grip"} & found.keys()
    still = changes_of(subject(power=run(400)), subject(power=run(400)))
    assert still.needs == ()  # past it already: no matter of the plan


def test_a_limit_passed_at_the_worse_end_only_is_doubtful_not_outgrown() -> None:
    rated = {"clutch.rated_torque": "300 N*m"}
    seen = []
    for kilowatt in range(100, 300, 5):
        found = changes_of(subject(rated, power=run(100)), subject(rated, power=run(kilowatt)))
        one = next(c for c in found.changes if c.name == "clutch torque")
        assert not (one.outgrown and one.doubtful)
        seen.append("over" if one.outgrown else "doubtful" if one.doubtful else "holds")
    assert list(dict.fromkeys(seen)) == ["holds", "doubtful", "over"]


def test_a_power_driven_limit_without_its_datum_is_named() -> None:
    found = changes_of(
        subject(), subject({"clutch.rated_torque": None, "gearbox.rated_torque": None})
    )
    assert {"clutch torque", "gearbox torque"} & {one.name for one in found.blind}
    assert "engine speed" not in {one.name for one in found.blind}


def test_the_fuel_in_use_counts_where_the_range_was_not_set_anew() -> None:
    """A range left at 0 to 10 % must not hide that the car is to run on 85 %."""
    old = {"fuel.kind": "ethanol-blend", "fuel.ethanol_range": ["0 percent", "10 percent"]}
    duty = {
        share: middle(
            row(margins(subject({**old, "fuel.ethanol_content": share})), "injector duty")
        )
        for share in ("10 percent", "85 percent")
    }
    assert duty["85 percent"][0] > 1.3 * duty["10 percent"][0]


def test_margins_need_no_numpy() -> None:
    code = (
        "import sys; sys.path.insert(0, '.');"
        "import buildlog.analysis.margins.first_reached, buildlog.analysis.margins.margin_changes,"
        "buildlog.report.as_text.margins_text, buildlog.report.as_text.headroom_text,"
        "buildlog.desk.questions.limits;"
        "print('numpy' in sys.modules)"
    )
    from tests.conftest import ROOT

    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert done.stdout.strip() == "False"


LINE = {
    "induction.compressor.surge_pressure_ratios": [1.2, 1.6, 2.4],
    "induction.compressor.surge_flows": ["0.02 kg/s", "0.03 kg/s", "0.06 kg/s"],
    "induction.boost.threshold_speed": "3000 rpm",
}


def test_surge_is_judged_where_full_boost_is_first_held() -> None:
    """A turbocharger that spools later passes more air when it does, and is further from it."""
    early, late = (
        row(margins(subject(LINE | {"induction.boost.threshold_speed": at})), "surge")
        for at in ("2500 rpm", "4500 rpm")
    )
    assert early.margin.demand == late.margin.demand
    assert early.margin.capacity is not None
    assert late.margin.capacity is not None
    assert late.margin.capacity.p50 == pytest.approx(early.margin.capacity.p50 * 4500 / 2500)


@pytest.mark.parametrize(
    ("changes", "ask", "note"),
    [
        ({"induction.compressor.surge_flows": None}, "induction.compressor.surge_flows", None),
        ({"induction.compressor.surge_pressure_ratios": [1.2, 1.3, 1.4]},
         "induction.compressor.surge_pressure_ratios", "1.2 to 1.4"),
    ],
)  # fmt: skip
def test_surge_beyond_what_is_stated_is_unknown(
    changes: dict[str, Any], ask: str, note: str | None
) -> None:
    found = row(margins(subject(LINE | changes)), "surge")
    assert (found.state, found.ask) == (State.UNKNOWN, (ask,))
    assert note is None or note in str(found.note)


def test_a_surge_line_that_does_not_rise_is_nonsense() -> None:
    bent = {"induction.compressor.surge_pressure_ratios": [1.2, 1.9, 1.6]}
    asked = subject(LINE | bent | {"induction.boost.target_gauge": "4 psi"})
    assert "must rise" in str(row(margins(asked), "surge").problem)


@pytest.mark.parametrize("kind", ["positive-displacement", "naturally-aspirated"])
def test_what_cannot_surge_has_no_such_margin(kind: str) -> None:
    assert all(one.name != "surge" for one in margins(subject(LINE | {"induction.kind": kind})))


def test_no_formula_stands_in_for_a_probe_before_the_turbine() -> None:
    """Measured 1,120 K against 950 degC; of more power, of a plan and unlogged: unknown."""
    limit = {"induction.turbine.inlet_limit": "950 degC"}
    name, measured = "turbine inlet temperature", subject(limit)
    found = row(margins(measured), name)
    assert found.demand.basis == "measured"
    assert found.margin.left is not None
    assert found.margin.left.p50 == pytest.approx(950 + 273.15 - 1120)
    raised = with_power(measured, 1.1 * measured.run.power.p50) if measured.run else measured
    for car in (planned(limit), raised):
        assert row(margins(car), name).state is State.UNKNOWN


PACK = {
    "battery.rated_power": "150 kW",
    "battery.low_charge.state_of_charge": "20 percent",
    "battery.low_charge.rated_power": "50 kW",
}


def packs(car: Subject) -> dict[str, Row]:
    return {one.name: one for one in margins(car) if one.kind.name == "battery power"}


def test_a_pack_is_held_to_what_is_stated_for_its_charge() -> None:
    """120 kW at 80 % of charge, of 150; 60 kW at 15 %, of 50: by hand 20 % left, and 20 % over."""
    found = packs(subject(PACK))
    full, low = found["battery power"], found["battery power: at a low charge"]
    assert full.margin.left is not None
    assert low.margin.left is not None
    assert full.margin.left.p50 == pytest.approx(1 - 120 / 150)
    assert low.margin.left.p50 == pytest.approx(1 - 60 / 50)
    assert (full.state, low.state) == (State.CLEAR, State.OVER)
    assert (full.basis, low.basis) == ("declared", "declared")
    assert full.demand.basis == "measured"
    # the instruments' 1 %, as P10 to P90 of a normal distribution (from memory: 1.2816)
    assert full.margin.demand is not None
    assert full.margin.demand.p90 == pytest.approx(120e3 * (1 + 1.2816 * 0.01))


@pytest.mark.parametrize(
    ("change", "name", "missing"),
    [
        ({"battery.low_charge.state_of_charge": None}, "battery power: at a low charge",
         "battery.low_charge.state_of_charge"),
        ({"battery.low_charge.state_of_charge": "10 percent"}, "battery power: at a low charge",
         "a session that logs pack_power at 10 % of charge or less"),
        ({"battery.low_charge.state_of_charge": "90 percent"}, "battery power",
         "a session that logs pack_power above 90 % of charge"),
        ({"car.power_source": "electric", "battery.rated_power": None}, "battery power",
         "battery.rated_power"),
    ],
)  # fmt: skip
def test_what_is_missing_of_a_pack_is_named(
    change: dict[str, Any], name: str, missing: str
) -> None:
    one = packs(subject(PACK | change))[name]
    assert one.state is State.UNKNOWN
    assert one.ask == (missing,)


def test_a_pack_that_nobody_logged_is_unknown() -> None:
    assert {one.state for one in packs(planned(PACK)).values()} == {State.UNKNOWN}
    assert packs(planned()) == {}


@pytest.mark.parametrize(("source", "known"), [("electric", True), ("hybrid", False)])
def test_of_more_power_a_pack_gives_its_share_where_it_gives_all(source: str, known: bool) -> None:
    """By a quarter more at the wheels 120 kW become 150, which is all; beside an engine nobody
    knows whose the quarter is."""
    car = subject(PACK | {"car.power_source": source})
    assert car.run is not None
    raised = packs(with_power(car, 1.25 * car.run.power.p50))["battery power"]
    assert (raised.state is not State.UNKNOWN) is known
    if known:
        assert raised.demand.basis == "computed"
        assert raised.margin.left is not None
        assert raised.margin.left.p50 == pytest.approx(0.0, abs=1e-12)
