"""Headroom on records: each limit found lies between one per cent less and one more power."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildlog.analysis.margins.all_margins import margins
from buildlog.analysis.margins.figures.margin_car import MarginCar, Subject, with_power
from buildlog.analysis.margins.figures.margin_rows import Row
from buildlog.analysis.margins.first_reached import boost_for, room
from buildlog.errors import InvalidInput
from buildlog.physics.parts.margin import State
from tests.analysis.margin_cars import BLOWN, TURBO, run, subject

NATURAL = {
    "induction.kind": "naturally-aspirated", "induction.compressor": None, "induction.boost": None,
    "induction.charge_cooler": None,
}  # fmt: skip


def at(car: Subject, name: str, power: float) -> Row:
    """A margin with everything worked out anew at a power."""
    raised = with_power(car, power, boost_for(MarginCar(car))(power))
    return next(one for one in margins(raised) if one.name == name)


def left(one: Row) -> float:
    assert one.margin.left is not None
    return one.margin.left.p50


@settings(max_examples=6)
@given(
    st.integers(150, 230), st.integers(5, 9), st.sampled_from(["turbo", "blown"]),
    st.booleans(), st.integers(300, 500),
)  # fmt: skip
def test_one_per_cent_below_and_above_lie_on_either_side(
    horsepower: int, psi: int, kind: str, referenced: bool, injector: int
) -> None:
    changes: dict[str, Any] = {
        "induction.boost.target_gauge": f"{psi} psi",
        "fuel.injectors.referenced": referenced,
        "fuel.injectors.flow": f"{injector} cc/min",
    }
    car = subject(changes, BLOWN if kind == "blown" else TURBO, run(horsepower))
    found = room(car)
    assert found.limits
    for limit in found.limits:
        power = limit.power.p50
        assert power is not None
        assert left(at(car, limit.name, 0.99 * power)) >= 0, limit.name
        beyond = at(car, limit.name, 1.01 * power)
        assert beyond.state is State.OVER, limit.name


def test_pump_flow_and_pressure_are_worked_out_anew() -> None:
    """The pump's limit lies lower than where its flow of today would set it."""
    car = subject({"fuel.pump.flow": "120 L/h"})
    now = next(one for one in margins(car) if one.name == "fuel pump")
    assert now.margin.demand is not None
    assert now.margin.capacity is not None
    fixed = 200 * 745.7 * now.margin.capacity.p50 / now.margin.demand.p50
    limit = next(one for one in room(car).limits if one.name == "fuel pump")
    assert limit.power.p50 is not None
    assert limit.power.p50 < 0.995 * fixed


def test_limits_are_in_order_with_bands_and_boost() -> None:
    found = room(subject())
    middles = [one.power.p50 for one in found.limits]
    assert all(x is not None for x in middles)
    assert middles == sorted(middles, key=lambda x: x or 0.0)
    for one in found.limits:
        assert one.boost is not None
        if one.power.p90 is not None and one.boost.p90 is not None:
            assert one.power.p10 <= one.power.p50 <= one.power.p90  # type: ignore[operator]
            assert one.boost.p10 <= one.boost.p50 <= one.boost.p90  # type: ignore[operator]


def test_limits_that_power_does_not_drive_stand_apart() -> None:
    found = room(subject())
    names = {one.name for one in found.independent}
    assert {"engine speed", "mean piston speed", "tire load", "tire age", "flywheel speed"} <= names
    assert not names & {one.name for one in found.limits}
    assert "grip" not in names | {one.name for one in found.limits}


def test_unknown_ones_are_named_with_what_they_lack() -> None:
    found = room(subject({"gearbox.rated_torque": None}))
    assert [(one.name, one.ask) for one in found.unknown] == [
        ("compressor flow", ("induction.compressor.flow_limit",)),
        ("gearbox torque", ("gearbox.rated_torque",)),
    ]


def test_without_a_compressor_power_is_raised_and_no_boost_is_named() -> None:
    found = room(subject(NATURAL, power=run(140)))
    assert found.boost is None
    assert found.limits
    assert all(one.boost is None for one in found.limits)


def test_a_larger_first_part_lets_the_second_limit_be_reached() -> None:
    first, second = room(subject()).limits[:2]
    larger = {"gearbox torque": {"gearbox.rated_torque": "900 N*m"},
              "clutch torque": {"clutch.rated_torque": "900 N*m"},
              "rotating assembly": {"engine.rotating_assembly_limit": "600 hp"},
              "boost against relief": {"induction.boost.relief_gauge": "40 psi"}}  # fmt: skip
    again = room(subject(larger[first.name])).limits[0]
    assert again.name == second.name
    assert again.power.p50 == pytest.approx(second.power.p50, rel=1e-6)


def test_what_is_over_now_has_no_headroom() -> None:
    found = room(subject({"clutch.rated_torque": "200 N*m"}))
    assert "clutch torque" in [one.name for one in found.over]


def test_crank_ratings_are_told_as_wheel_power() -> None:
    car = subject(NATURAL, power=run(170))
    assert car.run is not None
    rated = replace(car, run=replace(car.run, at_crank=True))
    assert room(rated).power < 170 * 745.7


def test_no_power_no_headroom() -> None:
    with pytest.raises(InvalidInput, match="no power"):
        room(replace(subject(), run=None, no_run="nobody measured it"))
