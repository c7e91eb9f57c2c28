"""Checks of the driveline, and of wheel force and road speed."""

from math import pi

import pytest

from buildlog.physics.engines import losses


@pytest.mark.parametrize("share", [0.0, 0.4, 1.0])
def test_the_stated_loss_is_met_at_the_stated_point(share):
    line = losses.driveline_at(85e3, 586.0, 0.15, share)
    assert losses.crank_power(85e3, 586.0, line) == pytest.approx(100e3)
    assert losses.wheel_power(100e3, 586.0, line) == pytest.approx(85e3)


def test_a_constant_part_weighs_less_at_more_power():
    line = losses.driveline_at(85e3, 586.0, 0.15, 0.5)
    more = losses.wheel_power(150e3, 586.0, line)
    assert more / 150e3 > 0.85
    assert losses.crank_power(more, 586.0, line) == pytest.approx(150e3)


def test_road_speed_of_a_published_tyre():
    """245/45R17, 810.46 rev/mile (70 cars of 1990 gave k 1.032, computed): 60 mph at 1956 rpm
    in 0.68 x 3.55; 6000 rpm in 1:1 x 3.55 is 125.1 mph."""
    mile = 1609.344
    turn = mile / 810.46
    slow = losses.road_speed(1956 * pi / 30, 0.68 * 3.55, turn)
    assert slow * 3600 / mile == pytest.approx(60, abs=0.02)


def test_final_drive_changes_force_not_power():
    short, long = (losses.wheel_force(100e3, 500.0, ratio, 2.0) for ratio in (4.0, 3.5))
    assert short / long == pytest.approx(4.0 / 3.5)
    for ratio, force in ((4.0, short), (3.5, long)):
        assert force * losses.road_speed(500.0, ratio, 2.0) == pytest.approx(100e3)


def test_smaller_tyre_more_force():
    assert losses.wheel_force(1e5, 500.0, 4.0, 1.9) > losses.wheel_force(1e5, 500.0, 4.0, 2.0)
    with pytest.raises(ValueError, match="above zero"):
        losses.wheel_force(1e5, 500.0, 4.0, 0.0)
