"""Builders for prediction tests: an invented unboosted six, and stages on it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import pi

import numpy as np

from buildlog.analysis.car import priors
from buildlog.physics.engines.cycle import typical_full_load_power
from buildlog.physics.engines.model import Anchored, Losses, Structure
from buildlog.physics.engines.state import Anchor, CoolerState, EngineState, PositiveDisplacement
from buildlog.physics.numerics.constants import CP_AIR, PSI
from buildlog.physics.numerics.sampling import Array, Distribution

PRIORS = priors.uncertain(priors.load())
RPM = np.linspace(2000, 6000, 41)
OMEGA = RPM * pi / 30
WHEEL = 0.85 * typical_full_load_power(OMEGA, 112e3, 5600 * pi / 30)
ANCHOR = Anchor(tuple(OMEGA), tuple(WHEEL))
UNBOOSTED = EngineState(2.5935e-3, compression_ratio=9.2)


def mild(psi: float = 7.0, **changes) -> EngineState:
    """An intercooled positive-displacement blower and a freer exhaust."""
    state = replace(
        UNBOOSTED,
        induction=PositiveDisplacement(boost=psi * PSI),
        cooler=CoolerState(),
        exhaust_resistance=PRIORS["exhaust_resistance_freer"],
    )
    return replace(state, **changes)


@dataclass(frozen=True)
class Narrowed:
    """Another distribution drawn towards its median: what knowing an input better would do."""

    of: Distribution
    factor: float

    def ppf(self, u: Array) -> Array:
        middle = self.of.ppf(np.array(0.5))
        return middle + self.factor * (self.of.ppf(u) - middle)


@dataclass(frozen=True)
class Balance:
    """Where the work of one structure goes: mep [Pa], air_flow [kg/s], heat flows [W].

    blower_gas: enthalpy that the compressor puts into the charge; cooler_heat: what cooler and
    evaporation take out again.
    """

    indicated: Array
    brake: Array
    losses: Losses
    air_flow: Array
    blower_gas: Array
    cooler_heat: Array


def balance(model: Anchored, state: EngineState, structure: Structure) -> Balance:
    """The energy account of a state, from the model's own parts."""
    account, carried = model._account(structure), model._carry(state)
    rise = account.indicated * (carried.gain - 1)
    losses = model._losses(structure, carried, rise)
    charge, flow = carried.charge, carried.air_flow
    hot = charge.compressor_temperature
    return Balance(
        account.indicated + rise,
        account.brake + (rise - (losses.total - account.losses)),
        losses,
        flow,
        flow * CP_AIR * (hot - charge.inlet_temperature),
        flow * CP_AIR * (hot - charge.manifold_temperature),
    )
