"""A margin worked on paper, beside its definition; a test works it out again by the program."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from buildlog.analysis.margins.figures.demand_figure import Source
from buildlog.analysis.margins.figures.margin_subject import Run
from buildlog.physics.numerics.band import Band


@dataclass(frozen=True, kw_only=True)
class Example:
    """A car of invented figures and both sides of its margin at the middle [unit of the kind].

    by_hand: the sum as it stands on paper. car: fields of car.toml, by path. run: what the
    engine puts out. before: what is changed to come to the last configuration that ran. joint:
    a tightening record. on: the day.
    """

    by_hand: str
    demand: float
    capacity: float
    car: Mapping[str, Any]
    run: Run | None = None
    before: Mapping[str, Any] | None = None
    joint: Mapping[str, Any] | None = None
    on: dt.date | None = None


_SOURCE = Source("a worked example")


def at_crank(
    power: float, omega: float, torque: float | None = None, boost: float | None = None
) -> Run:
    """A run at the flywheel: power [W] at a speed [rad/s], torque [N*m], boost [Pa gauge]."""
    torque_band, boost_band = (None if x is None else Band.exact(x) for x in (torque, boost))
    at = Band.exact(power)
    return Run(at, omega, "measured", _SOURCE, torque_band, at_crank=True, boost=boost_band)


def at_wheels(power: float, omega: float) -> Run:
    """A run at the wheels: power [W] at a speed [rad/s]."""
    return Run(Band.exact(power), omega, "measured", _SOURCE)
