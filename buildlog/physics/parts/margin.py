"""What is left of a limit: the rules every margin obeys, whatever it is a margin of.

A margin is clear, close, over or unknown. Unknown follows from a missing datum before any
number is looked at, so that no combination of missing data can become a state that reassures.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from math import inf

from buildlog.physics.numerics.band import Band


class State(StrEnum):
    """The four words for a margin."""

    OVER = "over"
    CLOSE = "close"
    CLEAR = "clear"
    UNKNOWN = "unknown"


class Rule(StrEnum):
    """How what is left is counted.

    RATIO = 1 - demand/capacity, only for quantities with a true zero (flow, torque, power,
    stress, speed, absolute pressure). AT_MOST = capacity - demand and AT_LEAST = demand -
    capacity are distances in the quantity's own unit (temperature, lambda, octane number,
    gauge pressure), where a ratio would depend on where the scale happens to begin.
    """

    RATIO = "ratio"
    AT_MOST = "at most"
    AT_LEAST = "at least"


PRACTICE = "common practice, no source"
"""What stands behind a caution band that nobody of authority states."""


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One kind of margin: its rule, its caution band and what stands behind it.

    unit: SI unit of demand and capacity; shown: the unit that the trade uses for it whatever
    the system, where it has one. caution: width of the caution band, a fraction for RATIO and in
    the unit otherwise; a margin narrower than this is close. meaning, typical and says_not are
    sentences for people. information: the figure is told but is no limit of a part (tyre grip),
    so it never leads the list. power_driven: what is asked grows with power.
    """

    name: str
    unit: str
    caution: float
    meaning: str
    formula: str
    source: str
    typical: str
    says_not: str
    rule: Rule = Rule.RATIO
    caution_source: str = PRACTICE
    shown: str | None = None
    power_driven: bool = False
    information: bool = False

    def __post_init__(self) -> None:
        if not self.caution > 0:
            raise ValueError(f"the caution band of {self.name} must be wider than zero.")
        texts = ("caution_source", "meaning", "formula", "source", "typical", "says_not")
        for text in texts:
            if not getattr(self, text):
                raise ValueError(f"{self.name} lacks its {text}.")


@dataclass(frozen=True)
class Margin:
    """A demand against a capacity; what is left and the state follow and cannot be set.

    demand, capacity: Bands in kind.unit, None when they cannot be known. missing: the data
    that would turn "unknown" into an answer. alternative: a second capacity (computed where
    the supplier's rating is used) worth showing because it differs.
    """

    kind: Kind
    demand: Band | None
    capacity: Band | None
    missing: tuple[str, ...] = ()
    alternative: Band | None = None
    left: Band | None = field(init=False)
    state: State = field(init=False)

    @property
    def reaches_past(self) -> bool:
        """Whether the limit lies inside the band: not past it at the middle, past it at the worse
        end."""
        return self.left is not None and self.left.p10 < 0 <= self.left.p50

    def __post_init__(self) -> None:
        left = None
        if not self.missing:
            if self.demand is None or self.capacity is None:
                raise ValueError(f"the margin of {self.kind.name} must name what is missing.")
            left = _left(self.kind, self.demand, self.capacity)
        object.__setattr__(self, "left", left)
        object.__setattr__(self, "state", state_of(left, self.kind.caution))


def _left(kind: Kind, demand: Band, capacity: Band) -> Band:
    """Return what is left; its P10 is the worse end: P90 of demand with P10 of capacity."""
    if kind.rule is Rule.AT_MOST:
        pairs = [(capacity.p10, demand.p90), (capacity.p50, demand.p50), (capacity.p90, demand.p10)]
    else:
        pairs = [(demand.p10, capacity.p90), (demand.p50, capacity.p50), (demand.p90, capacity.p10)]
    if kind.rule is not Rule.RATIO:
        return Band(*(upper - lower for upper, lower in pairs))
    if demand.p10 < 0 or capacity.p10 < 0:
        raise ValueError(f"{kind.name}: load and limit must not be negative for a ratio.")
    return Band(*(ratio_left(d, c) for d, c in reversed(pairs)))


def ratio_left(demand: float, capacity: float) -> float:
    """Return 1 - demand/capacity [-]; minus infinity when something is asked of nothing.

    >>> round(ratio_left(382.0, 415.0), 3)
    0.08
    """
    if capacity > 0:
        return 1 - demand / capacity
    return -inf if demand > 0 else 0.0


def state_of(left: Band | None, caution: float) -> State:
    """Return the state of what is left.

    Over is past the limit at P50; clear needs the whole caution band even at the worse end
    (P10 of what is left); everything between is close. None is unknown and nothing else.

    >>> state_of(Band(0.05, 0.12, 0.20), caution=0.10).value
    'close'
    """
    if left is None:
        return State.UNKNOWN
    if left.p50 < 0:
        return State.OVER
    return State.CLEAR if left.p10 >= caution else State.CLOSE


# Two figures for one capacity that lie closer than this say the same thing.
SAME_WITHIN = 0.15


def choose(declared: Band | None, computed: Band | None) -> tuple[Band | None, Band | None]:
    """Return the capacity to use, and a computed one worth showing beside it.

    The supplier's rating wins; the computed one is shown when the two differ by more than
    15 % of the rating at P50.

    >>> choose(Band.exact(415.0), Band.exact(500.0))[1]
    Band(p10=500.0, p50=500.0, p90=500.0)
    """
    if declared is None:
        return computed, None
    if computed is None or abs(computed.p50 - declared.p50) <= SAME_WITHIN * abs(declared.p50):
        return declared, None
    return declared, computed


_ORDER = (State.OVER, State.CLOSE, State.CLEAR, State.UNKNOWN)


def tightness(margin: Margin) -> tuple[bool, int, float, str]:
    """Return the sort key: state, then what is left at the worse end (P10), in caution bands.

    Margins for information come last, since they are no limit of a part.
    """
    distance = inf if margin.left is None else margin.left.p10 / margin.kind.caution
    kind = margin.kind
    return kind.information, _ORDER.index(margin.state), distance, kind.name
