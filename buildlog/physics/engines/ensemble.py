"""A predicted band: from one measured curve to another configuration, with what it rests on."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, reduce
from typing import Generic, TypeVar

import numpy as np

from buildlog.physics.engines import cycle
from buildlog.physics.engines.breathing import Draws
from buildlog.physics.engines.model import STRUCTURES, Anchored, Structure, refuse_unmodelled
from buildlog.physics.engines.state import (
    Anchor,
    ChangeGroup,
    EngineState,
    changed_groups,
    fill,
    partly,
    uncertain_inputs,
)
from buildlog.physics.numerics.middle import median
from buildlog.physics.numerics.sampling import Array, Uncertain, latin_hypercube, weighted_quantiles
from buildlog.physics.numerics.shapley import LIMIT, join_smallest, shapley_values

DRAWS = 1024
"""One number for every command, so that one configuration has one band wherever it is shown."""
SEED = 20260314
SLICES = 4
STRUCTURE = "how losses grow with power"

_MEASURABLE = 5
_BLOCK = 256
N = TypeVar("N", float, Array)


@dataclass(frozen=True)
class _Quantiles(Generic[N]):
    """P10, P50, P90 and mean of a number, or at each engine speed of the grid (pointwise)."""

    p10: N
    p50: N
    p90: N
    mean: N

    @property
    def width(self) -> N:
        """P90 less P10."""
        return self.p90 - self.p10


PredictionBand = _Quantiles[float]
CurveBand = _Quantiles[Array]


@dataclass(frozen=True)
class Share:
    """What one group of changes does to mean peak wheel power [W]; alone: by itself."""

    name: str
    assembly: str
    delta: float
    alone: float


@dataclass(frozen=True)
class Attribution:
    """Shares that sum to the mean change of peak wheel power [W].

    interaction [W]: what the groups do together beyond the sum of each alone;
    interaction_share [-]: its size over the sum of the sizes alone.
    """

    shares: tuple[Share, ...]
    total: float
    interaction: float
    interaction_share: float


@dataclass(frozen=True)
class Dominant:
    """An input's share of the band's variance by ranks [-], and the width of the P10-P90 band
    of the peak-power ratio [-] if it were known; None where nothing can be measured."""

    name: str
    share: float
    width_if_known: float | None


@dataclass(frozen=True)
class Prediction:
    """The predicted configuration. Powers [W], torques at the wheels referred to engine speed
    [N*m], ratios over the measured curve [-], deltas against it [W]; see each name.

    assumed: the uncertain inputs that were used, by name. beyond: in words, where an input
    leaves the range in which its formula was checked. ratios, weights: each draw's peak-power
    ratio, for learning.
    """

    omega: Array
    peak_power: PredictionBand
    peak_power_delta: PredictionBand
    peak_power_ratio: PredictionBand
    peak_crank_power: PredictionBand
    peak_torque: PredictionBand
    peak_torque_ratio: PredictionBand
    mean_power: PredictionBand
    structures: dict[str, PredictionBand]
    attribution: Attribution
    assumed: tuple[Uncertain, ...]
    beyond: tuple[str, ...]
    ratios: Array
    weights: Array
    _wheel_power: Callable[[], CurveBand]
    _dominant: Callable[[], tuple[Dominant, ...]]

    @cached_property
    def wheel_power(self) -> CurveBand:
        """Wheel power on the grid [W]; worked out when it is asked for, as it takes its time."""
        return self._wheel_power()

    @cached_property
    def dominant(self) -> tuple[Dominant, ...]:
        """What the band comes from, largest first; worked out when it is asked for."""
        return self._dominant()


def predict(
    anchor: Anchor,
    before: EngineState,
    after: EngineState,
    priors: Mapping[str, Uncertain],
    *,
    groups: Sequence[ChangeGroup] | None = None,
    structures: Sequence[Structure] = STRUCTURES,
    draws: int = DRAWS,
    seed: int = SEED,
) -> Prediction:
    """Return the band of another configuration from a measured curve.

    Formula: section "Prediction" of the explanations: crank from wheel power, indicated mep
    scaled by trapped charge, mixture, spark, compression and fuel, less friction, pumping
    and blower drive; over draws of every uncertain input and over all structures.
    Inputs: Anchor (grid (n,)), the EngineState it was measured in and the one asked for,
    priors by name for every gap; groups to attribute to (default: `changed_groups`);
    number of draws (a multiple of 4), seed.
    Result: Prediction. Identical for the same seed. Validity: four-stroke spark ignition at
    full load; `beyond` names inputs outside their range.
    Errors: ValueError for an unusable curve or an undeclared system; KeyError for a prior
    that is missing.
    Source: mean-value model of this project; the formulas it uses and the priors carry their
    own sources.
    """
    anchor, before, after = fill(anchor, priors), fill(before, priors), fill(after, priors)
    refuse_unmodelled(after)
    drawn = latin_hypercube(uncertain_inputs(anchor, before, after), draws, seed, SLICES)
    case = _Case(anchor, before, after, tuple(structures))
    full = case.run(drawn)
    part = {name: u[: draws // SLICES] for name, u in drawn.items()}
    chosen = changed_groups(before, after) if groups is None else list(groups)
    return Prediction(
        omega=np.asarray(anchor.omega),
        peak_power=full.band(full.peak),
        peak_power_delta=full.band(full.peak - full.peak_before),
        peak_power_ratio=full.band(full.ratio),
        peak_crank_power=full.band(_highest(full.crank)),
        peak_torque=full.band(full.torque(full.wheel)),
        peak_torque_ratio=full.band(full.torque(full.wheel) / full.torque(full.wheel_before)),
        mean_power=full.band(full.mean(full.wheel)),
        structures=_by_structure(full, structures),
        attribution=_attribute(case, part, chosen, full),
        assumed=tuple(full.used.values()),
        beyond=tuple(_beyond(case, full)),
        ratios=full.ratio.ravel(),
        weights=full.weights.ravel(),
        _wheel_power=lambda: full.curve(full.wheel),
        _dominant=lambda: _dominant(case, drawn, part, full),
    )


@dataclass(frozen=True)
class _Run:
    """All draws and structures of one case; arrays (structures, draws, speeds)."""

    anchored: Anchored
    wheel: Array
    crank: Array
    wheel_before: Array
    weights: Array
    used: dict[str, Uncertain]

    @property
    def peak(self) -> Array:
        return _highest(self.wheel)

    @property
    def peak_before(self) -> Array:
        return _highest(self.wheel_before)

    @property
    def ratio(self) -> Array:
        return self.peak / self.peak_before

    def torque(self, power: Array) -> Array:
        """Highest torque of each draw."""
        return _highest(power / self.anchored.omega)

    def mean(self, power: Array) -> Array:
        """Mean over the working range of each draw."""
        omega, working = self.anchored.omega[0], self.anchored.anchor.working
        inside = slice(None) if working is None else (omega >= working[0]) & (omega <= working[1])
        average: Array = power[..., inside].mean(axis=-1)
        return average

    def band(self, values: Array) -> PredictionBand:
        return _band(values.ravel(), self.weights.ravel())

    def curve(self, values: Array) -> CurveBand:
        flat, weights = values.reshape(-1, values.shape[-1]), self.weights.ravel()
        low, middle, high = weighted_quantiles(flat, weights, (0.1, 0.5, 0.9))
        return CurveBand(low, middle, high, weights @ flat / weights.sum())


def _highest(values: Array) -> Array:
    highest: Array = values.max(axis=-1)
    return highest


def _band(flat: Array, weights: Array) -> PredictionBand:
    low, middle, high = weighted_quantiles(flat, weights, (0.1, 0.5, 0.9))
    return PredictionBand(float(low), float(middle), float(high), _mean(flat, weights))


def _mean(flat: Array, weights: Array) -> float:
    """Weighted mean about the first value, so that equal values have exactly their own mean."""
    return float(flat[0] + weights @ (flat - flat[0]) / weights.sum())


@dataclass(frozen=True)
class _Case:
    anchor: Anchor
    before: EngineState
    after: EngineState
    structures: tuple[Structure, ...]

    def anchored(self, drawn: Mapping[str, Array]) -> Anchored:
        return Anchored(self.anchor, self.before, Draws(drawn), self.structures)

    def run(self, drawn: Mapping[str, Array]) -> _Run:
        anchored = self.anchored(drawn)
        start, end = anchored.power(self.before), anchored.power(self.after)
        count = max((len(u) for u in drawn.values()), default=1)
        shape = (len(self.structures), count, anchored.omega.size)
        weights = np.array([s.weight for s in self.structures])
        return _Run(
            anchored,
            np.broadcast_to(end.wheel, shape),
            np.broadcast_to(end.crank, shape),
            np.broadcast_to(start.wheel, shape),
            np.broadcast_to(weights[:, None], shape[:2]),
            dict(anchored.draws.used),
        )


def _by_structure(full: _Run, structures: Sequence[Structure]) -> dict[str, PredictionBand]:
    equal = np.ones(full.ratio.shape[1])
    pairs = zip(structures, full.ratio, strict=True)
    return {structure.name: _band(ratios, equal) for structure, ratios in pairs}


# -- attribution ---------------------------------------------------------------------


def _attribute(
    case: _Case, part: Mapping[str, Array], groups: list[ChangeGroup], full: _Run
) -> Attribution:
    """Shapley values of the mean; worked out on a slice, brought to the mean of all draws."""
    value = _mean_peak(case, part)
    if len(groups) > LIMIT:
        groups = _joined(groups, value)
    shares = shapley_values(len(groups), lambda s: value([groups[i] for i in sorted(s)]))
    total = _mean((full.peak - full.peak_before).ravel(), full.weights.ravel())
    size = sum(abs(x) for x in shares.values)
    stretch = (total - shares.total) / size if size else 0.0
    listed = zip(groups, shares.values, shares.alone, strict=True)
    return Attribution(
        tuple(Share(g.name, g.assembly, x + stretch * abs(x), alone) for g, x, alone in listed),
        total,
        shares.interaction,
        shares.interaction_share,
    )


def _mean_peak(case: _Case, part: Mapping[str, Array]) -> Callable[[Sequence[ChangeGroup]], float]:
    blocks = [case.anchored(block) for block in _blocks(part)]
    weights = np.array([s.weight for s in case.structures])

    def value(groups: Sequence[ChangeGroup]) -> float:
        state = partly(case.before, case.after, groups)
        peaks = [block.peak_wheel_power(state).mean(axis=-1) for block in blocks]
        return float(weights @ np.mean(peaks, axis=0) / weights.sum())

    return value


def _blocks(drawn: Mapping[str, Array]) -> list[dict[str, Array]]:
    """The draws in equal parts whose arrays stay in the processor's cache."""
    count = max((len(u) for u in drawn.values()), default=1)
    parts = max(count // _BLOCK, 1)
    cut = {name: np.array_split(u, parts) for name, u in drawn.items()}
    return [{name: rows[i] for name, rows in cut.items()} for i in range(parts)]


def _joined(
    groups: list[ChangeGroup], value: Callable[[Sequence[ChangeGroup]], float]
) -> list[ChangeGroup]:
    nothing = value([])
    sizes = [value([g]) - nothing for g in groups]
    together = join_smallest(sizes, [g.assembly for g in groups])
    return [reduce(ChangeGroup.joined, (groups[i] for i in members)) for members in together]


# -- what dominates ------------------------------------------------------------------


def _dominant(
    case: _Case, drawn: Mapping[str, Array], part: Mapping[str, Array], full: _Run
) -> tuple[Dominant, ...]:
    """Inputs by their share of the band; the first few also with the band if they were known."""
    if full.ratio.max() == full.ratio.min():
        return ()
    ranks = _ranks(full.ratio)
    shares = {name: _rank_share(drawn[name], ranks) for name in full.used}
    shares[STRUCTURE] = float(ranks.mean(axis=1).var() / ranks.var())
    ordered = sorted(shares, key=lambda name: (-shares[name], name))
    measured = [name for name in ordered if name != STRUCTURE][:_MEASURABLE]
    widths = _widths_if_known(case, part, measured, full)
    return tuple(Dominant(name, shares[name], widths.get(name)) for name in ordered)


def _ranks(values: Array) -> Array:
    ranks = np.empty(values.size)
    ranks[np.argsort(values, axis=None, kind="stable")] = np.arange(values.size)
    return ranks.reshape(values.shape)


def _rank_share(u: Array, ranks: Array) -> float:
    """Square of the rank correlation; u is uniform, so it is its own rank."""
    centred = u - u.mean()
    together = float((ranks.mean(axis=0) * centred).mean())
    return together**2 / float(ranks.var() * (centred**2).mean())


def _widths_if_known(
    case: _Case, part: Mapping[str, Array], names: Sequence[str], full: _Run
) -> dict[str, float]:
    """Width with an input held at its middle, scaled from the slice to all draws."""
    whole = full.band(full.ratio).width
    reference = _width(case, part)
    held = {name: {**part, name: np.full_like(part[name], 0.5)} for name in names}
    return {name: whole * _width(case, drawn) / reference for name, drawn in held.items()}


def _width(case: _Case, drawn: Mapping[str, Array]) -> float:
    run = case.run(drawn)
    return run.band(run.ratio).width


# -- validity ------------------------------------------------------------------------


def _beyond(case: _Case, full: _Run) -> list[str]:
    """Inputs outside the range in which their formula was checked, in words."""
    draws, after = full.anchored.draws, case.after
    charge, _ = full.anchored.breathing.of_state(after)
    mixture = median(draws.of(after.lambda_full_load))
    ratio = median(draws.of(after.compression_ratio))
    size = after.displacement / case.before.displacement
    checks = {
        "boost above 1 bar": median(charge.boost.max(axis=-1)) > 1e5,
        "lambda outside 0.75 to 1.05": not cycle.RICHEST <= mixture <= cycle.LEANEST,
        "compression ratio outside 6 to 15": not 6 <= ratio <= 15,
        "displacement changed by more than a third": not 0.75 <= size <= 4 / 3,
        "compressor outlet above 200 degC": float(charge.compressor_temperature.max()) > 473.15,
    }
    return [text for text, is_beyond in checks.items() if is_beyond]
