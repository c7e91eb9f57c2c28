"""How freely a car breathes out and in, relative to the car that was measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from buildlog.physics.engines.state import Given
from buildlog.physics.numerics.sampling import Array, Distribution, Uncertain
from buildlog.records.car.configuration import Configuration
from buildlog.records.car.exhaust import Exhaust
from buildlog.records.paths import same_value

_HEADERS = ("log", "cast", "shorty", "long-tube")
_CATALYSTS = ("original", "high-flow", "none")


@dataclass(frozen=True)
class Inverse:
    """What is left when a fixed product is divided by another distribution."""

    of: Distribution
    product: float = 1.0

    def ppf(self, u: Array) -> Array:
        """Quantile that belongs to the SAME draw of the other: their product is fixed."""
        quotient: Array = self.product / self.of.ppf(u)
        return quotient


def resistance(
    one: Configuration, other: Configuration, peak: float, priors: Mapping[str, Uncertain]
) -> tuple[Given, Given]:
    """Back-pressure of the measured car at its power peak [Pa], and the other's resistance
    over its own [-].

    A stated back-pressure counts at the flow of the power beside it (flow goes with power);
    one left over from another exhaust does not count.
    """
    freer = _freer(one, other)
    before = _stated(one.exhaust, peak)
    after = (
        None if freer and _left_over(one.exhaust, other.exhaust) else _stated(other.exhaust, peak)
    )
    if after is None:
        return before, _by_prior(freer, priors["exhaust_resistance_freer"])
    if before is None:
        return _unmeasured_before(freer, after, priors)
    return before, after / before


def _unmeasured_before(
    freer: int, after: float, priors: Mapping[str, Uncertain]
) -> tuple[Given, Given]:
    """Only the later exhaust was measured: an unchanged one had the same back-pressure."""
    if freer == 0:
        return after, 1.0
    prior = priors["exhaust_back_pressure"]
    return prior, Uncertain(prior.name, Inverse(prior.distribution, after))


def _by_prior(freer: int, prior: Uncertain) -> Given:
    if freer > 0:
        return prior
    return Uncertain(prior.name, Inverse(prior.distribution)) if freer < 0 else 1.0


def _stated(exhaust: Exhaust | None, peak: float) -> float | None:
    if exhaust is None or exhaust.back_pressure is None or exhaust.back_pressure.si <= 0:
        return None
    at = exhaust.back_pressure_at_power
    return exhaust.back_pressure.si * ((peak / at.si) ** 2 if at else 1.0)


def _left_over(one: Exhaust | None, other: Exhaust | None) -> bool:
    if one is None or other is None:
        return False
    return same_value(one.back_pressure, other.back_pressure) and same_value(
        one.back_pressure_at_power, other.back_pressure_at_power
    )


def _freer(one: Configuration, other: Configuration) -> int:
    """+1 where every change of the exhaust lets gas out more freely, -1 where less, else 0."""
    a, b = one.exhaust or Exhaust.blank(), other.exhaust or Exhaust.blank()
    before, after = _openness(a), _openness(b)
    if _turbocharged(one) or _turbocharged(other):  # the turbine's own manifold is another matter
        before, after = before[:-1], after[:-1]
    moved = {_sign(x, y) for x, y in zip(before, after, strict=True)} - {0}
    return moved.pop() if len(moved) == 1 else 0


def _openness(exhaust: Exhaust) -> tuple[float | None, ...]:
    """Pipe, mufflers, catalysts, headers: each larger where gas leaves more freely."""
    pipe = exhaust.pipe_diameter.si if exhaust.pipe_diameter else None
    mufflers = None if exhaust.mufflers is None else 1 / (1 + exhaust.mufflers)
    catalysts = exhaust.catalysts.kind if exhaust.catalysts else None
    headers = exhaust.headers.kind if exhaust.headers else None
    return pipe, mufflers, _rank(_CATALYSTS, catalysts), _rank(_HEADERS, headers)


def _turbocharged(configuration: Configuration) -> bool:
    return configuration.induction is not None and configuration.induction.kind == "turbocharger"


def _sign(before: float | None, after: float | None) -> int:
    if before is None or after is None:
        return 0
    return (after > before * 1.001) - (after < before * 0.999)


def _rank(order: tuple[str, ...], name: str | None) -> float | None:
    return order.index(name) + 1.0 if name in order else None


def intake_resistance(
    one: Configuration, other: Configuration, priors: Mapping[str, Uncertain]
) -> Given:
    """Resistance of the intake over that of the measured car, by its throttle."""
    a, b = one.intake, other.intake
    before = a.throttle_diameter.si if a and a.throttle_diameter else None
    after = b.throttle_diameter.si if b and b.throttle_diameter else None
    return _by_prior(_sign(before, after), priors["intake_resistance_freer"])
