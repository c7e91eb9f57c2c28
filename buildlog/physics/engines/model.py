"""The mean-value model: a measured curve of one configuration, carried to another.

Only ratios are modelled. Each uncertain input is drawn once and used for both
configurations, so that what they share cancels exactly: no change gives exactly the
measured curve. Arrays are (draws, speeds) and broadcast; powers add structures in front.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np

from buildlog.physics.engines import cycle
from buildlog.physics.engines.breathing import Breathing, Charge, Draws, anchor_power
from buildlog.physics.engines.losses import Driveline, crank_power, driveline_at, wheel_power
from buildlog.physics.engines.state import Anchor, EngineState, Turbocharger
from buildlog.physics.gases import charge as ch
from buildlog.physics.numerics.constants import PSI
from buildlog.physics.numerics.sampling import Array, Uncertain

_RETARD_STATED_AT = 7 * PSI
_RETARD_GROWS_TO = 1.5
_NOTHING = np.zeros((1, 1))
_ONE = np.ones((1, 1))


@dataclass(frozen=True)
class Structure:
    """One way to account for losses; how they grow with power a wheel curve cannot tell."""

    name: str
    weight: float
    separate_friction: bool
    constant_driveline: bool


# Equal weights: nothing seen so far favours one of them.
STRUCTURES = (
    Structure("friction and part of the driveline loss separate", 1 / 3, True, True),
    Structure("friction separate, driveline loss proportional", 1 / 3, True, False),
    Structure("all losses proportional", 1 / 3, False, False),
)


@dataclass(frozen=True)
class Power:
    """Power at crank and wheels [W], arrays (structures, draws, speeds)."""

    crank: Array
    wheel: Array


@dataclass(frozen=True)
class Losses:
    """What lies between indicated and brake mean effective pressure [Pa]."""

    friction: Array
    pumping: Array
    blower: Array

    @property
    def total(self) -> Array:
        """All three."""
        return self.friction + self.pumping + self.blower


@dataclass(frozen=True)
class Carried:
    """Another state's charge and air: trapped air and indicated work over the anchor's [-],
    air mass flow [kg/s]."""

    state: EngineState
    charge: Charge
    gain: Array
    air_flow: Array


@dataclass(frozen=True)
class _Account:
    """The measured configuration as one structure sees it; mep [Pa], powers [W]."""

    structure: Structure
    driveline: Driveline[Array]
    crank: Array
    wheel: Array
    brake: Array
    losses: Array
    indicated: Array


class Anchored:
    """The measured configuration, resolved for a set of draws; `power` carries it to another.

    Inputs: filled Anchor and EngineState, Draws. Errors: ValueError for a grid that does not
    rise, a power that is not positive, or a system that no formula covers.
    """

    def __init__(
        self,
        anchor: Anchor,
        state: EngineState,
        draws: Draws,
        structures: Sequence[Structure] = STRUCTURES,
    ) -> None:
        _check(anchor)
        refuse_unmodelled(state)
        self.anchor, self.state, self.draws = anchor, state, draws
        self.breathing = Breathing(anchor, state, draws)
        self.omega = self.breathing.omega
        self._power = anchor_power(anchor, draws)
        self._per_mep = self.omega / (4 * pi)
        measured = self.breathing.measured
        self._before = Carried(state, measured, _ONE, self.breathing.air_flow())
        self._accounts = [self._account(structure) for structure in structures]

    def power(self, state: EngineState) -> Power:
        """Return crank and wheel power of another filled state on the anchor's grid."""
        carried = self._carry(state)
        gained = [self._gained(account, carried) for account in self._accounts]
        pairs = list(zip(self._accounts, gained, strict=True))
        return Power(
            _stacked([account.crank + more for account, more in pairs]),
            _stacked([_at_wheels(account, more) for account, more in pairs]),
        )

    def peak_wheel_power(self, state: EngineState) -> Array:
        """Return the highest wheel power of each draw (structures, draws) [W]."""
        carried = self._carry(state)
        curves = (_at_wheels(a, self._gained(a, carried)) for a in self._accounts)
        return _stacked([curve.max(axis=-1) for curve in curves])

    def _account(self, structure: Structure) -> _Account:
        driveline = self._driveline(structure)
        crank, wheel = self._at_anchor(driveline)
        brake = crank / (self._per_mep * self.state.displacement)
        losses = self._losses(structure, self._before, _NOTHING).total
        return _Account(structure, driveline, crank, wheel, brake, losses, brake + losses)

    def _carry(self, state: EngineState) -> Carried:
        charge, air = self.breathing.of_state(state)
        size = state.displacement / self.state.displacement
        gain = air * self._combustion(state, charge)
        return Carried(state, charge, gain, self._before.air_flow * (air * size))

    def _gained(self, account: _Account, carried: Carried) -> Array:
        """Change of crank power; every step is a difference, so no change is exactly zero."""
        rise = account.indicated * (carried.gain - 1)
        losses = self._losses(account.structure, carried, rise).total - account.losses
        after, before = carried.state.displacement, self.state.displacement
        return ((account.brake + (rise - losses)) * after - account.brake * before) * self._per_mep

    def _losses(self, structure: Structure, carried: Carried, rise: Array) -> Losses:
        blower = self._blower(carried)
        if not structure.separate_friction:
            return Losses(_NOTHING, _NOTHING, blower)
        slope = cycle.FRICTION_PER_PEAK_PRESSURE * self.draws.of(self.anchor.peak_pressure_per_imep)
        pumping = carried.charge.exhaust_pressure - carried.charge.manifold_pressure
        return Losses(self.breathing.rubbing + slope * rise, pumping, blower)

    def _blower(self, carried: Carried) -> Array:
        """Mean effective pressure that drives the blower [Pa]; a turbocharger takes none."""
        how = carried.state.induction
        if how is None or isinstance(how, Turbocharger):
            return _NOTHING
        drive = ch.compressor_power(
            carried.air_flow,
            carried.charge.inlet_temperature,
            carried.charge.compressor_temperature,
            self.draws.of(how.mechanical_efficiency),
        )
        return drive / (self._per_mep * carried.state.displacement)

    def _driveline(self, structure: Structure) -> Driveline[Array]:
        loss = self.draws.of(self.anchor.driveline_loss)
        share = _NOTHING
        if structure.constant_driveline:
            share = self.draws.of(self.anchor.constant_share)
        at = slice(self.breathing.peak, self.breathing.peak + 1)
        peak, omega = self._power[:, at], self.omega[:, at]
        at_wheels = peak if self.anchor.at == "wheels" else peak * (1 - loss)
        return driveline_at(at_wheels, omega, loss, share)

    def _at_anchor(self, driveline: Driveline[Array]) -> tuple[Array, Array]:
        """Crank and wheel power of the measured configuration."""
        if self.anchor.at == "wheels":
            return crank_power(self._power, self.omega, driveline), self._power
        return self._power, wheel_power(self._power, self.omega, driveline)

    def _combustion(self, state: EngineState, charge: Charge) -> Array:
        of, a = self.draws.of, self.state
        mixture = cycle.mixture_factor(of(state.lambda_full_load))
        mixture = mixture / cycle.mixture_factor(of(a.lambda_full_load))
        spark = self._spark(state, charge) / self._spark(a, self.breathing.measured)
        energy = of(state.energy_per_air) / of(a.energy_per_air)
        return mixture * spark * energy * self._fuel(state) * self._compression(state)

    def _fuel(self, state: EngineState) -> Array:
        """What a change between gasoline and alcohol does beyond its heat; grows with the share."""
        more = state.alcohol - self.state.alcohol
        if more == 0:
            return _ONE
        changed: Array = self.draws.of(self.anchor.fuel_change) ** more
        return changed

    def _spark(self, state: EngineState, charge: Charge) -> Array:
        if state.spark_retard == 0:
            return _ONE
        retard = self.draws.of(state.spark_retard)
        if isinstance(state.spark_retard, Uncertain):
            retard = retard * np.clip(charge.boost / _RETARD_STATED_AT, 0.0, _RETARD_GROWS_TO)
        return cycle.spark_factor(retard, self.draws.of(self.anchor.retard_loss))

    def _compression(self, state: EngineState) -> Array:
        before, after = self.state.compression_ratio, state.compression_ratio
        if before == after:
            return _ONE
        of, gamma = self.draws.of, self.draws.of(self.anchor.cycle_gamma)
        efficiency = cycle.compression_factor(of(after), gamma)
        gained = efficiency / cycle.compression_factor(of(before), gamma)
        return gained * self._spark_for_compression(of(after) - of(before))

    def _spark_for_compression(self, more: Array) -> Array:
        """What the knock limit takes back of more compression, or gives beside less.

        The higher ratio has the later spark, so that there and back cancel.
        """
        if self.anchor.compression_spark == 0:
            return _ONE
        of, loss = self.draws.of, self.draws.of(self.anchor.retard_loss)
        early = of(self.anchor.knock_retard)
        late = early + of(self.anchor.compression_spark) * np.abs(more)
        factor = cycle.spark_factor(late, loss) / cycle.spark_factor(early, loss)
        changed: Array = factor ** np.sign(more)
        return changed


def _at_wheels(account: _Account, gained: Array) -> Array:
    return account.wheel + (1 - account.driveline.proportional) * gained


def _stacked(rows: Sequence[Array]) -> Array:
    return np.stack(np.broadcast_arrays(*rows))


def refuse_unmodelled(state: EngineState) -> None:
    """Raise ValueError if a state has a system that no formula covers and no effect declares."""
    missing = [name for name in state.unmodelled if state.effect_named(name) is None]
    if missing:
        raise ValueError(
            f"no model covers {' and '.join(missing)}: declare its effect on breathing with "
            "low, high and source."
        )


def _check(anchor: Anchor) -> None:
    omega, power = np.asarray(anchor.omega), np.asarray(anchor.power)
    if omega.shape != power.shape or omega.size < 2:
        raise ValueError("a measured curve needs two or more engine speeds, and a power for each.")
    if not (omega[0] > 0 and (np.diff(omega) > 0).all()):
        raise ValueError("the engine speeds of a measured curve must rise, above zero.")
    if not (np.isfinite(power).all() and (power > 0).all()):
        raise ValueError("the power of a measured curve must be above zero at every engine speed.")
