"""The charge of a configuration, matched to what the engine swallows.

Arrays are (draws, speeds) and broadcast. The flow is relative to that of the measured
configuration at its power peak; what is lost in filter, cooler and exhaust grows with its
square.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import reduce
from math import pi
from operator import mul

import numpy as np

from buildlog.physics.engines import cycle
from buildlog.physics.engines.state import (
    Anchor,
    Centrifugal,
    Curve,
    EngineState,
    Given,
    PositiveDisplacement,
    Turbocharger,
)
from buildlog.physics.gases import charge as ch
from buildlog.physics.gases.fuels import room_left_by_vapour
from buildlog.physics.numerics.constants import ATM
from buildlog.physics.numerics.sampling import Array, Uncertain

_FLOW_STEPS = 2
_NOTHING = np.zeros((1, 1))
_ONE = np.ones((1, 1))


class Draws:
    """The drawn values of uncertain inputs; remembers which inputs were asked for."""

    def __init__(self, probabilities: Mapping[str, Array]) -> None:
        self._probabilities = probabilities
        self._values: dict[Uncertain, Array] = {}
        self.used: dict[str, Uncertain] = {}

    def of(self, given: Given | Curve) -> Array:
        """Return a known value as (1, 1), a curve as (1, speeds), a drawn one as (draws, 1)."""
        if isinstance(given, Uncertain):
            return self._drawn(given)
        if given is None:
            raise ValueError("an input was neither stated nor filled from the priors.")
        return np.atleast_2d(np.asarray(given, dtype=np.float64))

    def _drawn(self, given: Uncertain) -> Array:
        if given not in self._values:
            self.used[given.name] = given
            u = self._probabilities[given.name]
            self._values[given] = given.distribution.ppf(u)[:, None]
        return self._values[given]


@dataclass(frozen=True)
class Charge:
    """What arrives in the cylinders, and what it took; pressures [Pa], temperatures [K].

    trapped is the mass of dry air per cycle and swept volume in arbitrary units that are the
    same for both configurations.
    """

    manifold_pressure: Array
    manifold_temperature: Array
    exhaust_pressure: Array
    inlet_temperature: Array
    compressor_temperature: Array
    boost: Array
    trapped: Array


def anchor_power(anchor: Anchor, draws: Draws) -> Array:
    """Return the power of the anchor on its grid [W], (1, speeds) or (draws, speeds)."""
    return draws.of(anchor.power) * draws.of(anchor.level)


class Breathing:
    """How the measured car breathes, for a set of draws; `of_state` carries it to another.

    Inputs: filled Anchor and EngineState of the measured car, Draws.
    """

    def __init__(self, anchor: Anchor, state: EngineState, draws: Draws) -> None:
        self.anchor, self.state, self.draws = anchor, state, draws
        self.omega = draws.of(anchor.omega)
        self.peak = int(np.argmax(anchor.power))
        self.rubbing = draws.of(anchor.friction_factor) * cycle.motoring_friction(self.omega)
        self._shape = self._breathing_shape()
        flow = self._shape * self.omega
        self._flow = flow / flow[:, self.peak, None]
        self.measured = self.charge(state, self._flow)

    def of_state(self, state: EngineState) -> tuple[Charge, Array]:
        """Return the charge of a state at its own flow, and its trapped air over the anchor's."""
        size = state.displacement / self.state.displacement
        # The pressures alone come close to the flow: one costly step less.
        first, *_ = self._pressures(state, self._flow * size)
        flow = self._flow * (first / self.measured.manifold_pressure * size)
        for _ in range(_FLOW_STEPS):
            charge = self.charge(state, flow)
            air = charge.trapped / self.measured.trapped
            flow = self._flow * (air * size)
        return charge, air

    def air_flow(self) -> Array:
        """Return the air mass flow of the measured car [kg/s], by its volumetric efficiency."""
        return ch.air_flow(
            self.draws.of(self.anchor.volumetric_efficiency) * self._shape,
            self.measured.manifold_pressure,
            self.measured.manifold_temperature,
            self.state.displacement,
            self.omega,
        )

    def charge(self, state: EngineState, flow: Array) -> Charge:
        """Return the charge of a state at a flow relative to the anchor's at its power peak."""
        of, ambient = self.draws.of, state.ambient_pressure
        manifold, inlet, cold, drop = self._pressures(state, flow)
        start = np.array([[state.ambient_temperature]])
        hot = self._compressed(state, start, (manifold + drop) / inlet)
        temperature = self._cooled(state, hot, cold) - of(state.evaporative_cooling)
        boost = manifold - ambient if state.induction else _NOTHING
        exhaust = self._exhaust(state, flow, boost)
        trapped = self._trapped(state, manifold, temperature, exhaust)
        return Charge(manifold, temperature, exhaust, start, hot, boost, trapped)

    def _breathing_shape(self) -> Array:
        """Volumetric efficiency over speed relative to its best: brake plus rubbing mep."""
        loss = self.draws.of(self.anchor.driveline_loss)
        power = anchor_power(self.anchor, self.draws)
        crank = power / (1 - loss) if self.anchor.at == "wheels" else power
        mep = crank * (4 * pi / self.omega / self.state.displacement) + self.rubbing
        shape: Array = mep / mep.max(axis=1, keepdims=True)
        return shape

    def _pressures(self, state: EngineState, flow: Array) -> tuple[Array, Array, Array, Array]:
        """Pressures in the manifold and before the compressor, coolant temperature, cooler drop."""
        restriction = self.draws.of(self.anchor.intake_depression)
        inlet = state.ambient_pressure - (
            restriction * self.draws.of(state.intake_resistance) * flow**2
        )
        cold, drop = self._cooling(state, flow)
        return self._manifold(state, inlet, cold, drop), inlet, cold, drop

    def _cooling(self, state: EngineState, flow: Array) -> tuple[Array, Array]:
        """Coolant temperature and pressure drop of the cooler; no drop without one."""
        if state.cooler is None or state.induction is None:
            return np.array([[state.ambient_temperature]]), _NOTHING
        of = self.draws.of
        highest = flow.max(axis=1, keepdims=True)
        drop = of(state.cooler.pressure_drop) * (flow / highest) ** 2
        return state.ambient_temperature + of(state.cooler.coolant_rise), drop

    def _effectiveness(self, state: EngineState) -> Array:
        if state.cooler is None or state.induction is None:
            return _NOTHING
        return self.draws.of(state.cooler.effectiveness)

    def _manifold(self, state: EngineState, inlet: Array, cold: Array, drop: Array) -> Array:
        of, ambient, how = self.draws.of, state.ambient_pressure, state.induction
        if how is None:
            return inlet
        if isinstance(how, Turbocharger):
            return ambient + self._turbocharged(how, ambient)
        if isinstance(how, PositiveDisplacement) and how.boost is None:
            pressure = self._matched(how, state, inlet, cold, drop)
        else:
            rise = of(how.boost) * of(1.0 if isinstance(how.boost, tuple) else how.delivery)
            if isinstance(how, Centrifugal) and not isinstance(how.boost, tuple):
                rise = ch.centrifugal_boost(self.omega, rise, of(how.stated_omega))
            pressure = ambient * (1 + rise / how.stated_at)
        return pressure if how.relief is None else np.minimum(pressure, ambient + how.relief)

    def _turbocharged(self, how: Turbocharger, ambient: float) -> Array:
        if isinstance(how.boost, tuple):
            return self.draws.of(how.boost)
        target = self.draws.of(how.boost) * self.draws.of(how.control)
        if how.absolute:
            target = target + (ATM - ambient)
        return ch.turbocharger_boost(self.omega, target, self.draws.of(how.threshold))

    def _matched(
        self,
        how: PositiveDisplacement,
        state: EngineState,
        inlet: Array,
        cold: Array,
        drop: Array,
    ) -> Array:
        if how.displacement_per_rev is None or how.drive_ratio is None:
            raise ValueError(
                "a positive-displacement blower needs a stated boost, or its displacement and "
                "drive ratio."
            )
        of = self.draws.of
        swallowed = of(self.anchor.volumetric_efficiency) * self._shape * state.displacement / 2
        return ch.matched_pressure(
            of(how.displacement_per_rev * how.drive_ratio),
            swallowed,
            inlet,
            of(state.ambient_temperature),
            of(how.volumetric_efficiency),
            of(how.efficiency),
            self._effectiveness(state),
            cold,
            drop,
        )

    def _compressed(self, state: EngineState, start: Array, ratio: Array) -> Array:
        if state.induction is None:
            return start
        efficiency = self.draws.of(state.induction.efficiency)
        return ch.compressor_temperature(start, np.maximum(ratio, 1.0), efficiency)

    def _cooled(self, state: EngineState, hot: Array, cold: Array) -> Array:
        if state.cooler is None or state.induction is None:
            return hot
        return ch.cooled_temperature(hot, self._effectiveness(state), cold)

    def _exhaust(self, state: EngineState, flow: Array, boost: Array) -> Array:
        of = self.draws.of
        pipe = of(self.anchor.back_pressure) * of(state.exhaust_resistance) * flow**2
        pressure = state.ambient_pressure + pipe
        if isinstance(state.induction, Turbocharger):
            pressure = pressure + of(state.induction.back_pressure_ratio) * boost
        return pressure

    def _trapped(
        self, state: EngineState, manifold: Array, temperature: Array, exhaust: Array
    ) -> Array:
        of = self.draws.of
        dry = manifold * (1 - state.vapour_pressure / state.ambient_pressure)
        dry = dry * room_left_by_vapour(of(state.evaporative_cooling))
        residual = cycle.residual_factor(exhaust, manifold, of(state.compression_ratio))
        cooling = (temperature / 298.15) ** -of(self.anchor.temperature_exponent)
        declared = reduce(mul, (of(e.factor) for e in state.effects), _ONE)
        return (
            dry * residual * cooling * declared * self._choke(state) * self._manifold_change(state)
        )

    def _manifold_change(self, state: EngineState) -> Array:
        """Fitting or removing a blower changes the inlet tract, whose waves are not modelled."""
        if type(state.induction) is type(self.state.induction):
            return _ONE
        return self.draws.of(self.anchor.manifold_change)

    def _choke(self, state: EngineState) -> Array:
        """A larger engine on the same ports swallows less of its volume at high speed."""
        if state.displacement == self.state.displacement:
            return _ONE
        speed = np.minimum(self.omega / self.omega[:, self.peak, None], 1.0)
        exponent = -self.draws.of(self.anchor.displacement_choke) * speed**2
        larger: Array = (state.displacement / self.state.displacement) ** exponent
        return larger
