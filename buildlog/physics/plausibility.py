"""Numbers that cannot be what they are called: mixed-up units, impossible levels.

Nothing is corrected here. Each function says how far a figure is from what it should be
and which common mix-ups of units would explain it, as data for a finding.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from buildlog.physics.constants import HP, INHG, LBF_FT, PS, PSI

# What a figure is multiplied by when its unit is mistaken: (true unit, unit it was read as).
# Stated value = true value * factor, by the definitions of the units.

POWER_MIX_UPS: Mapping[tuple[str, str], float] = {
    ("hp", "kW"): 1000 / HP,
    ("PS", "kW"): 1000 / PS,
    ("kW", "hp"): HP / 1000,
    ("kW", "PS"): PS / 1000,
    ("PS", "hp"): HP / PS,
    ("hp", "PS"): PS / HP,
}
TORQUE_MIX_UPS: Mapping[tuple[str, str], float] = {
    ("lbf*ft", "N*m"): 1 / LBF_FT,
    ("N*m", "lbf*ft"): LBF_FT,
}
PRESSURE_MIX_UPS: Mapping[tuple[str, str], float] = {
    ("kPa", "psi"): PSI / 1e3,
    ("psi", "kPa"): 1e3 / PSI,
    ("bar", "psi"): PSI / 1e5,
    ("psi", "bar"): 1e5 / PSI,
    ("kPa", "bar"): 1e5 / 1e3,
    ("bar", "kPa"): 1e3 / 1e5,
    ("inHg", "kPa"): 1e3 / INHG,
    ("kPa", "inHg"): INHG / 1e3,
    ("hPa", "kPa"): 1e3 / 1e2,
    ("inHg", "psi"): PSI / INHG,
}
IDENTITY_TOLERANCE = 0.005  # hp and PS differ by 1.4 %; common practice, no source

# Pa. Station pressure from the highest towns to the highest reading at sea level; manifold
# pressure from overrun to a heavily boosted engine at full load. From memory / common practice.
AMBIENT_RANGE = (50e3, 109e3)
FULL_LOAD_MANIFOLD_RANGE = (45e3, 500e3)

Kind = Literal[
    "naturally aspirated spark ignition",
    "pressure-charged spark ignition",
    "naturally aspirated compression ignition",
    "pressure-charged compression ignition",
]
BMEP_CEILINGS: Mapping[Kind, float] = {
    "naturally aspirated spark ignition": 1.60e6,
    "pressure-charged spark ignition": 4.0e6,
    "naturally aspirated compression ignition": 1.10e6,
    "pressure-charged compression ignition": 3.5e6,
}  # Pa, at the crankshaft, beyond what road engines on gasoline or diesel reach; common practice


@dataclass(frozen=True)
class MixUp:
    """One mix-up that would explain a figure: what it is, what it was read as, the factor."""

    channel: str
    true_unit: str
    read_as: str
    factor: float


@dataclass(frozen=True)
class Identity:
    """Whether power = torque * engine speed holds in a file.

    `ratio` = median of P/(T omega); `spread` its robust relative standard deviation;
    `holds` within 0.5 %. `explained_by` lists mix-ups that give this ratio, best first;
    empty when none does (roller torque, a gear ratio, or figures that do not belong together).
    """

    ratio: float
    spread: float
    holds: bool
    explained_by: tuple[MixUp, ...]


def power_torque_identity(power: ArrayLike, torque: ArrayLike, omega: ArrayLike) -> Identity:
    """Test P = T omega on three channels of one file, each (n,), SI as the file claims.

    Errors: ValueError if fewer than 10 rows have all three above zero. Validity: hp read as
    PS or PS as hp is a step of 1.4 % and needs a spread below half of that to be named.

    >>> w = np.linspace(200.0, 600.0, 50)
    >>> found = power_torque_identity(300.0 * w / 745.6998715822702 * 1000, np.full(50, 300.0), w)
    >>> round(found.ratio, 3), found.explained_by[0].true_unit, found.explained_by[0].read_as
    (1.341, 'hp', 'kW')
    """
    p, t, w = (np.asarray(c, dtype=np.float64).ravel() for c in (power, torque, omega))
    if not p.size == t.size == w.size:
        raise ValueError(f"Power, torque and speed have {p.size}, {t.size} and {w.size} rows.")
    good = np.isfinite(p) & np.isfinite(t) & np.isfinite(w)
    good &= (p > 0) & (np.where(good, t * w, 0.0) > 0)
    if good.sum() < 10:
        raise ValueError("The identity needs at least 10 rows with power, torque and speed.")
    ratios = p[good] / (t[good] * w[good])
    ratio = float(np.median(ratios))
    spread = 1.4826 * float(np.median(np.abs(ratios - ratio))) / ratio
    holds = abs(ratio - 1) <= IDENTITY_TOLERANCE
    return Identity(ratio, spread, holds, () if holds else _explanations(ratio, spread))


def _explanations(ratio: float, spread: float) -> tuple[MixUp, ...]:
    """Mix-ups within the tolerance (widened by the spread up to 0.7 %), nearest first."""
    tolerance = min(max(IDENTITY_TOLERANCE, spread), 0.007)
    known = [MixUp("power", true, read, k) for (true, read), k in POWER_MIX_UPS.items()]
    known += [MixUp("torque", true, read, 1 / k) for (true, read), k in TORQUE_MIX_UPS.items()]
    near = [(abs(ratio / m.factor - 1), m) for m in known]
    return tuple(m for off, m in sorted(near, key=lambda pair: pair[0]) if off <= tolerance)


def pressure_mix_ups(level: float, usual: tuple[float, float]) -> tuple[MixUp, ...] | None:
    """Mix-ups that would bring an absolute pressure [Pa] into its usual range.

    Inputs: `level`, a typical value of the channel as it was read; `usual` (low, high),
    such as AMBIENT_RANGE or FULL_LOAD_MANIFOLD_RANGE. None if the level is plausible as it
    is; an empty tuple if it is not and no mix-up explains it.

    >>> [(m.true_unit, m.read_as) for m in pressure_mix_ups(29.9e3, AMBIENT_RANGE)]
    [('inHg', 'kPa')]
    """
    if not np.isfinite(level):
        raise ValueError("A pressure that is not a number cannot be judged.")
    low, high = usual
    if low <= level <= high:
        return None
    known = [MixUp("pressure", true, read, k) for (true, read), k in PRESSURE_MIX_UPS.items()]
    return tuple(m for m in known if low <= level / m.factor <= high)


def beyond_kind(bmep: float, kind: Kind) -> float | None:
    """How far a brake mean effective pressure [Pa] is beyond any road engine of its kind.

    Result: bmep/ceiling - 1 where above the ceiling, else None. Ceilings are common practice.

    >>> round(beyond_kind(2.0e6, "naturally aspirated spark ignition"), 2)
    0.25
    """
    if kind not in BMEP_CEILINGS:
        raise ValueError(f"There is no ceiling for an engine of the kind {kind!r}.")
    over = bmep / BMEP_CEILINGS[kind] - 1
    return over if over > 0 else None


@dataclass(frozen=True)
class AgainstRating:
    """Wheel power of an unmodified car against its maker's crank rating.

    `implied_loss` = 1 - wheel/rating. `at_or_above` the rating; `optimistic` when the loss
    is under 10 %. `crank_range` [W]: wheel power over 0.88 and over 0.82, the usual estimate
    for a manual rear-drive car measured at the tyres. All common practice, no source.
    """

    implied_loss: float
    at_or_above: bool
    optimistic: bool
    crank_range: tuple[float, float]


def against_rating(wheel_power: float, rating: float) -> AgainstRating:
    """Compare wheel power [W] with the crank rating [W] of the same, unmodified car.

    >>> result = against_rating(150e3, 176e3)
    >>> round(result.implied_loss, 3), [round(p / 1e3) for p in result.crank_range]
    (0.148, [170, 183])
    """
    if wheel_power <= 0 or rating <= 0:
        raise ValueError("Wheel power and rating must be above zero.")
    loss = 1 - wheel_power / rating
    return AgainstRating(loss, loss <= 0, loss < 0.10, (wheel_power / 0.88, wheel_power / 0.82))
