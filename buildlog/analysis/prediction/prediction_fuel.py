"""The fuels of two configurations: heat per kilogram of air, alcohol, declared evaporation.

Nothing but the heat is credited to a change of fuel. What its evaporation cools counts where
the car's file declares it, and a later or earlier spark where the calibration says so."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from buildlog.errors import InvalidInput
from buildlog.physics.engines.state import Given
from buildlog.physics.gases.fuels import FUELS, blend, evaporation_cooling
from buildlog.physics.numerics.sampling import Uncertain, Uniform
from buildlog.records.car.fuel import Evaporation, Fuel
from buildlog.records.checked_paths import table
from buildlog.records.session import TankFuel
from buildlog.units import Quantity


@dataclass(frozen=True)
class Declared(Uncertain):
    """An uncertain input that is declared: at which field, and its range in words."""

    at: str
    words: str


_EVAPORATION = table("fuel.evaporation")
_GASOLINE = FUELS["gasoline"]
_ALCOHOLS = ("ethanol", "methanol")
_RICH = 0.85  # lambda for the figure that the note gives


@dataclass(frozen=True)
class Burnt:
    """What the prediction needs of a fuel; see `physics.state.EngineState`."""

    energy_per_air: float
    alcohol: float
    cooling: Given


def burnt(
    one: Fuel | None, other: Fuel | None, tank: TankFuel | None, notes: list[str]
) -> tuple[Burnt, Burnt]:
    """Both fuels; the tank of that day holds until the fuel is changed."""
    before, after = _known(one), _known(other)
    if tank is not None:
        wanted = (tank.kind or before[0], _share(tank.ethanol_content, before[1]))
        after = wanted if after == before else after
        before = wanted
    if before == after:
        said = [c for c in (_cooling(other), _cooling(one)) if c is not None]
        cooling = said[0] if said else 0.0  # written down later: it held before, too
        same = Burnt(_energy(*before, strict=False), _alcohol(*before), cooling)
        return same, same
    _note_change(before, after, other, notes)
    first, second = (
        Burnt(_energy(*known, strict=True), _alcohol(*known), _cooling(fuel) or 0.0)
        for known, fuel in ((before, one), (after, other))
    )
    return first, second


def _note_change(
    before: tuple[str, float | None],
    after: tuple[str, float | None],
    fuel: Fuel | None,
    notes: list[str],
) -> None:
    most, declared = _whole(*after) - _whole(*before), _cooling(fuel)
    if declared is not None and _highest(declared) > _whole(*after):
        notes.append(
            f"the declared cooling by evaporation is more than the {_whole(*after):.0f} K that "
            "all of the fuel could take from the air"
        )
    if declared is None and _alcohol(*after) > _alcohol(*before):
        notes.append(
            "only the heat of the fuel per kg of air: cooling of the charge by the fuel is not in "
            "it unless fuel.evaporation.cooling_low, cooling_high and source say so (at most "
            f"{most:.0f} K if all of it evaporated in the air; a part does)"
        )
    notes.append(
        "no change of the knock limit by the fuel is in it: calibration.spark_retard on both "
        "sides says what the spark gains"
    )
    if before[1] is None or after[1] is None:
        notes.append("ethanol content is not stated on both sides: 0 % taken where it is missing")


def _whole(kind: str, ethanol: float | None) -> float:
    """Cooling by the fuel if all of it evaporated in the air [K]."""
    pure = kind in _ALCOHOLS and ethanol is None
    return evaporation_cooling(FUELS[kind] if pure else blend(ethanol or 0.0), _RICH)


def _highest(cooling: float | Uncertain) -> float:
    return cooling if isinstance(cooling, float) else float(cooling.distribution.ppf(np.array(1.0)))


def _cooling(fuel: Fuel | None) -> float | Uncertain | None:
    """What is declared; None where nothing is."""
    stated = (fuel and fuel.evaporation) or Evaporation.blank()
    given = [q.si for q in (stated.cooling_low, stated.cooling_high) if q is not None]
    if not given:
        return None
    low, high = given[0], given[-1]
    if low > high:
        raise InvalidInput(
            "fuel.evaporation: the least cooling is above the most",
            hint="change cooling_low and cooling_high",
        )
    if high == low:
        return low
    words = f"{low:g} to {high:g} K cooler charge than with gasoline"
    return Declared(f"{_EVAPORATION} (declared)", Uniform(low, high), _EVAPORATION, words)


def _alcohol(kind: str, ethanol: float | None) -> float:
    return ethanol if ethanol is not None else float(kind in _ALCOHOLS)


def _share(given: Quantity | None, otherwise: float | None) -> float | None:
    return given.si if given is not None else otherwise


def _known(fuel: Fuel | None) -> tuple[str, float | None]:
    if fuel is None:
        return "gasoline", None
    return fuel.kind or "gasoline", _share(fuel.ethanol_content, None)


def _energy(kind: str, ethanol: float | None, strict: bool) -> float:
    if kind in _ALCOHOLS and ethanol is None:
        return FUELS[kind].energy_per_air
    known = ethanol is not None or not strict
    if kind in ("gasoline", "ethanol") or (kind == "ethanol-blend" and known):
        return blend(ethanol or 0.0).energy_per_air
    if not strict:
        return _GASOLINE.energy_per_air  # cancels: both sides burn the same
    if kind == "ethanol-blend":
        raise InvalidInput(
            "the ethanol content of the blend is missing", hint='set fuel.ethanol_content="85 %"'
        )
    raise InvalidInput(f"no model for a change of fuel to or from {kind}")
