"""Past stages that were predicted and then measured, and what they teach the next prediction."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

from buildlog.analysis.car.priors import Prior, uncertain
from buildlog.analysis.car.version import Version
from buildlog.analysis.prediction.prediction_anchor import from_sheet
from buildlog.analysis.prediction.prediction_inputs import inputs
from buildlog.analysis.prediction.uncovered import not_covered
from buildlog.analysis.pulls.measured import Delta, Measured
from buildlog.analysis.pulls.sheet import PullGroup, Sheet
from buildlog.errors import BuildlogError
from buildlog.physics.engines import learning
from buildlog.physics.engines.ensemble import predict
from buildlog.records.car.configuration import Configuration

DRAWS = 512


@dataclass(frozen=True)
class MeasuredPoint:
    """A version with the curve that was measured of it."""

    version: Version
    sheet: Sheet
    group: PullGroup


@dataclass(frozen=True)
class PastStage:
    """A stage that was predicted from the measured curve before it, and then measured.

    start_peak: peak wheel power of the curve before [W]; odometer: where the car stood when
    the stage was measured [m].
    """

    car: str
    ledger: str
    before: str
    after: str
    number: int
    date: dt.date
    kind: str
    result: learning.Result
    start_peak: float = 0.0
    odometer: float | None = None


@dataclass(frozen=True)
class KindReport:
    """Past bands of one induction kind, raw and with what the EARLIER ones had taught."""

    kind: str
    raw: learning.BackTest
    adjusted: learning.BackTest
    learned: learning.Learned


@dataclass(frozen=True)
class PastPredictions:
    """How past predictions came out: the stages that were predicted and measured, what they say
    for each induction kind, and sentences on pairs of versions that count for nothing."""

    kinds: tuple[KindReport, ...]
    past: tuple[PastStage, ...]
    left_out: tuple[str, ...]


def kind_of(configuration: Configuration) -> str:
    """The induction kind, by which results are kept apart."""
    how = configuration.induction
    return (how.kind if how else None) or "naturally-aspirated"


def past_stage(
    one: MeasuredPoint,
    other: MeasuredPoint,
    compared: Measured | str,
    priors: Mapping[str, Prior],
    ledger: str,
) -> PastStage | str:
    """One stage predicted as before it was measured; a sentence where that cannot be. `compared`:
    the two measurements put together, or why they cannot be."""
    if isinstance(compared, str):
        return compared
    if not compared.comparable:
        return f"not like for like ({'; '.join(compared.reasons)})"
    gone = not_covered(one.version.configuration, other.version.configuration)
    if gone:
        return f"not counted for or against: the model does not cover {', '.join(gone)}"
    try:
        result = _result(one, other, compared, priors)
    except BuildlogError as error:
        return error.what
    if result is None:
        return "nothing that has a formula or a declared effect changed"
    after, odometer = other.version, other.sheet.session.odometer
    return PastStage(
        after.configuration.car.name,
        ledger,
        one.version.name,
        after.name,
        after.number,
        other.sheet.session.date,
        kind_of(after.configuration),
        result,
        compared.power.peak_from.value,
        odometer.si if odometer else None,
    )


def _result(
    one: MeasuredPoint, other: MeasuredPoint, compared: Measured, priors: Mapping[str, Prior]
) -> learning.Result | None:
    drawn = uncertain(priors)
    before, after = one.version.configuration, other.version.configuration
    start = from_sheet(one.sheet, one.group, before, drawn)
    found = inputs(before, after, start, start.day, drawn)
    raw = predict(found.anchor, found.before, found.after, drawn, groups=[], draws=DRAWS)
    band, power = raw.peak_power_ratio, compared.power
    if band.p10 == band.p90:
        return None
    ratio = power.peak_to.value / power.peak_from.value
    return learning.Result(ratio, band.p10, band.p50, band.p90, scatter_of(power))


def scatter_of(found: Delta) -> float:
    """Standard deviation of the logarithm of a measured ratio of peaks [-]."""
    one, other = found.peak_from.value, found.peak_to.value
    # The half-width is for a difference of two peaks that each scatter about their own level.
    level = sqrt((one**2 + other**2) / 2)
    return found.half_width_95 / (1.96 * level)


def learned_for(kind: str, past: Sequence[PastStage]) -> learning.Learned | None:
    """What the past stages of this induction kind teach; None where there is none."""
    results = [stage.result for stage in past if stage.kind == kind]
    return learning.learn(results) if results else None


def before(past: Sequence[PastStage], ledger: str, version: Version) -> list[PastStage]:
    """The stages known before a version was measured: a prediction must not learn from itself."""
    if not version.number:
        return list(past)
    return [
        stage
        for stage in past
        if (
            stage.number < version.number
            if stage.ledger == ledger
            else version.date is None or stage.date < version.date
        )
    ]


def reports(past: Sequence[PastStage]) -> list[KindReport]:
    """The back-test by induction kind, stages in the order of their days."""
    ordered = sorted(past, key=lambda stage: (stage.date, stage.ledger, stage.number))
    kinds = dict.fromkeys(stage.kind for stage in ordered)
    found = []
    for kind in kinds:
        results = [stage.result for stage in ordered if stage.kind == kind]
        found.append(
            KindReport(
                kind,
                learning.back_test(results),
                learning.back_test(learning.in_sequence(results)),
                learning.learn(results),
            )
        )
    return found
