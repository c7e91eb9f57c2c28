"""What another version would give, from one version's measured curve: band, parts, basis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from buildlog.analysis.car.gearing import gearing
from buildlog.analysis.car.priors import Prior, uncertain
from buildlog.analysis.car.version import Version
from buildlog.analysis.prediction.learned import PastStage, kind_of, learned_for, scatter_of
from buildlog.analysis.prediction.prediction_anchor import Day, Start
from buildlog.analysis.prediction.prediction_fuel import Declared
from buildlog.analysis.prediction.prediction_inputs import inputs
from buildlog.analysis.prediction.uncovered import beside, not_covered
from buildlog.analysis.pulls.measured import Delta, Measured
from buildlog.errors import InvalidInput
from buildlog.physics.engines import ensemble
from buildlog.physics.engines.ensemble import STRUCTURE, PredictionBand
from buildlog.physics.engines.learning import Learned, adjust, reach, with_scatter
from buildlog.physics.engines.state import ChangeGroup
from buildlog.records.key_words import piece_words

__all__ = ["STRUCTURE", "Assumed", "Learned", "Lies", "Predicted", "PredictionBand", "predicted"]


_FEW = 4
AssumedBasis = Literal["prior", "priors.toml of this ledger", "declared"]


@dataclass(frozen=True)
class Assumed:
    """An uncertain input that was used: a prior, or an effect that the car's file declares."""

    name: str
    meaning: str
    words: str
    source: str
    basis: AssumedBasis

    @property
    def own(self) -> bool:
        """Whether the ledger's own prior stands in the place of ours."""
        return self.basis == "priors.toml of this ledger"


@dataclass(frozen=True)
class Lies:
    """Where a measured ratio of peaks lies in the band: "inside", "above" or "below".

    low and high: the band widened by the dyno's scatter [-].
    """

    measured: float
    low: float
    high: float
    where: str


@dataclass(frozen=True)
class Predicted:
    """A prediction with all it rests on. `raw` is before learning; the bands here are after.

    force_ratio: tractive force at equal power and road gear, after over before [-]; None where
    gearing and tyres are the same or not stated. learned_cars: of how many cars the results are
    that it learned from; not_learned_from: sentences on those that could not be read. lies: where
    the measured peak power lies in the band, torque_lies: the measured peak torque, where both
    sides were measured alike. not_covered: what else changed
    that moves the engine's power, beside: what else may move what the dyno reads.
    """

    before: Version
    after: Version
    start: Start
    day: Day
    raw: ensemble.Prediction
    learned: Learned | None
    assumed: tuple[Assumed, ...]
    notes: tuple[str, ...]
    not_covered: tuple[str, ...]
    force_ratio: float | None
    draws: int
    beside: tuple[str, ...] = ()
    learned_cars: int = 0
    not_learned_from: tuple[str, ...] = ()
    lies: Lies | None = None
    torque_lies: Lies | None = None

    @property
    def changes_nothing(self) -> bool:
        """Whether nothing that has a formula or a declared effect differs."""
        return self.ratio.p10 == 1 == self.ratio.p90

    @property
    def left_out(self) -> tuple[str, ...]:
        """All that changed and is not in the figures."""
        return (*self.not_covered, *self.beside)

    @property
    def unpredictable(self) -> str | None:
        """Why there is no figure at all; None where there is one. No change at all has one."""
        if not self.left_out or not self.changes_nothing:
            return None
        return f"no formula and no declared effect covers {listed(self.left_out)}"

    @property
    def ratio(self) -> PredictionBand:
        """Peak wheel power over that of the curve it starts from [-]."""
        return self._adjusted(self.raw.peak_power_ratio)

    @property
    def peak_power(self) -> PredictionBand:
        """Peak wheel power [W]."""
        return self._adjusted(self.raw.peak_power)

    @property
    def peak_power_delta(self) -> PredictionBand:
        """Change of peak wheel power [W]."""
        if self.learned is None:
            return self.raw.peak_power_delta
        base, band = self.raw.peak_power.mean - self.raw.peak_power_delta.mean, self.peak_power
        return PredictionBand(*(end - base for end in (band.p10, band.p50, band.p90, band.mean)))

    @property
    def peak_torque(self) -> PredictionBand:
        """Peak torque at the wheels, referred to engine speed [N*m]."""
        return self._adjusted(self.raw.peak_torque)

    @property
    def mean_power(self) -> PredictionBand:
        """Mean wheel power over the curve's range [W]."""
        return self._adjusted(self.raw.mean_power)

    @property
    def peak_crank_power(self) -> PredictionBand:
        """Peak crank power [W]: what the wheels get, and a driveline loss that is assumed."""
        return self._adjusted(self.raw.peak_crank_power)

    @property
    def curve(self) -> ensemble.CurveBand:
        """Wheel power on the grid [W]."""
        raw = self.raw.wheel_power
        if self.learned is None:
            return raw
        carried, learned = self._carried, self.learned
        low, middle, high, mean = (
            np.asarray(adjust(q, raw.p50, carried, learned))
            for q in (raw.p10, raw.p50, raw.p90, raw.mean)
        )
        return ensemble.CurveBand(low, middle, high, mean)

    @property
    def _carried(self) -> float:
        """How much of the error that past stages share this one carries."""
        return reach(self.raw.peak_power_ratio.p10, self.raw.peak_power_ratio.p90)

    def _adjusted(self, band: PredictionBand) -> PredictionBand:
        if self.learned is None:
            return band
        return PredictionBand(
            *(adjust(q, band.p50, self._carried, self.learned)
              for q in (band.p10, band.p50, band.p90, band.mean))
        )  # fmt: skip


def predicted(
    before: Version,
    after: Version,
    start: Start,
    priors: Mapping[str, Prior],
    *,
    day: Day | None = None,
    past: Sequence[PastStage] = (),
    draws: int = ensemble.DRAWS,
    groups: Sequence[ChangeGroup] | None = None,
) -> Predicted:
    """Predict `after` from the curve that `before` was measured with.

    InvalidInput with a sentence where no model covers one of the two.
    `past`: stages that were predicted and measured before this one.
    """
    day = day or start.day
    drawn = uncertain(priors)
    found = inputs(before.configuration, after.configuration, start, day, drawn)
    try:
        raw = ensemble.predict(
            found.anchor, found.before, found.after, drawn, groups=groups, draws=draws
        )
    except ValueError as error:
        raise InvalidInput(str(error).rstrip(".")) from None
    usable = start.measured and start.at != "crank"
    kind = kind_of(after.configuration)
    alike = [stage for stage in past if stage.kind == kind] if usable else []
    return Predicted(
        before,
        after,
        start,
        day,
        raw,
        learned_for(kind, alike),
        tuple(_assumed(raw, priors)),
        found.notes,
        not_covered(before.configuration, after.configuration),
        _force_ratio(before, after, start.gear),
        draws,
        beside(before.configuration, after.configuration),
        len({stage.ledger for stage in alike}),
    )


def _assumed(raw: ensemble.Prediction, priors: Mapping[str, Prior]) -> list[Assumed]:
    listed = []
    for used in raw.assumed:
        if isinstance(used, Declared):
            meaning = f"declared at {used.at}"
            listed.append(Assumed(used.name, meaning, used.words, "car.toml", "declared"))
            continue
        prior = priors[used.name]
        basis: AssumedBasis = "priors.toml of this ledger" if prior.own else "prior"
        listed.append(Assumed(prior.name, prior.meaning, prior.describe(), prior.source, basis))
    return listed


def listed(names: Sequence[str]) -> str:
    """Names of fields and tables in words, the first few of them."""
    few = ", ".join(piece_words(name) for name in names[:_FEW])
    return few + (f" and {len(names) - _FEW} more" if len(names) > _FEW else "")


def _force_ratio(before: Version, after: Version, gear: int | None) -> float | None:
    """A final drive, gearbox or tyre moves force and road speed, never power."""
    found = [gearing(v.configuration, gear or 1).turns_per_metre for v in (before, after)]
    if found[0] is None or found[1] is None or abs(found[1] / found[0] - 1) < 1e-3:
        return None
    return found[1] / found[0]


def beside_measured(result: Predicted, found: Measured) -> Predicted:
    """The prediction with where the measured peaks of power and torque lie, scatter included;
    nowhere, where the two are not alike or nothing was predicted."""
    if not found.comparable or result.changes_nothing:
        return result
    torque = None
    if found.torque is not None:
        base = found.torque.peak_from.value
        wanted = result.peak_torque
        torque = _lies(found.torque, wanted.p10 / base, wanted.p50 / base, wanted.p90 / base)
    power = _lies(found.power, result.ratio.p10, result.ratio.p50, result.ratio.p90)
    return replace(result, lies=power, torque_lies=torque)


def _lies(found: Delta, p10: float, p50: float, p90: float) -> Lies:
    """Where the measured ratio of peaks lies."""
    ratio = found.peak_to.value / found.peak_from.value
    low, high = with_scatter(p10, p50, p90, scatter_of(found))
    where = "below" if ratio < low else "above" if ratio > high else "inside"
    return Lies(ratio, low, high, where)
