"""Builders for prediction tests: an invented unboosted six, and stages on it."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np

from buildlog.analysis import priors
from buildlog.physics.constants import PSI
from buildlog.physics.cycle import typical_full_load_power
from buildlog.physics.state import Anchor, ChargeCooler, EngineState, PositiveDisplacement

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
        cooler=ChargeCooler(),
        exhaust_resistance=PRIORS["exhaust_resistance_freer"],
    )
    return replace(state, **changes)
