"""Everything a margin may ask for: the configuration, what the engine puts out, what ran before."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import hypot
from typing import Any

from buildlog.analysis.car.priors import Prior
from buildlog.analysis.margins.figures.demand_figure import Z90, Basis, DemandFigure, Source
from buildlog.physics.numerics.band import Band
from buildlog.records.configuration import Configuration
from buildlog.records.fasteners import Joint


@dataclass(frozen=True)
class Run:
    """What the engine puts out at full load, as far as anybody knows.

    power [W] at `omega` [rad/s] and torque [N*m], at the wheels or hubs unless `at_crank`; torque
    is None where only the power peak is known. boost [Pa gauge] and lambda_ only if they were
    logged. basis: measured, predicted, or declared (the maker's rating).
    """

    power: Band
    omega: float | None
    basis: Basis
    source: Source
    torque: Band | None = None
    at_crank: bool = False
    boost: Band | None = None
    lambda_: float | None = None
    note: str | None = None
    nitrous_on: bool = False


def measured_run(
    power: float,
    omega: float | None,
    pulls: int,
    source: Source,
    accuracy: float | None = None,
    **facts: Any,
) -> Run:
    """A run from a measured peak [W].

    The band holds the scatter of the mean of its pulls, 1 % for one pull (common practice), and
    the dyno's stated accuracy, which here does not cancel, as an even spread.
    """
    u = hypot(0.01 / max(1, pulls) ** 0.5, (accuracy or 0.0) / 3**0.5)
    return Run(Band.around(power, Z90 * u), omega, "measured", source, **facts)


@dataclass(frozen=True)
class KnownGood:
    """The last configuration before this one that ran under full load on the same fuel."""

    name: str
    configuration: Configuration
    run: Run | None


@dataclass(frozen=True)
class Subject:
    """Everything a margin may ask for. joints: tightening records by name, newest of each.

    gain: what power is multiplied by while nitrous flows, injected_gain: the same for the fuel
    through the injectors, lean: what lambda is multiplied by when its fuel stays away.
    """

    configuration: Configuration
    run: Run | None
    priors: Mapping[str, Prior]
    on: dt.date | None = None
    joints: Mapping[str, Joint] = field(default_factory=dict)
    known_good: KnownGood | None = None
    no_run: str | None = None
    gain: DemandFigure | None = None
    injected_gain: DemandFigure | None = None
    lean: DemandFigure | None = None


def with_power(subject: Subject, power: float, boost: Band | None = None) -> Subject:
    """The subject at another power [W], at the wheels or crank as its run is; all else as it is.

    Torque grows with power. `boost` [Pa gauge] is the boost that goes with it.
    """
    run = subject.run
    if run is None:
        return subject
    share = power / run.power.p50
    raised = replace(run, power=run.power * share, torque=run.torque and run.torque * share)
    if boost is not None:
        raised = replace(raised, boost=boost)
    return replace(subject, run=raised)
