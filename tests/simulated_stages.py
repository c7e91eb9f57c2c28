"""Stages simulated by the tests' own engine, and what the program predicts of them.

The truth comes from `independent_model`, which was written without sight of the program's
formulas; its curves are measured with scatter. The program sees what a shop would write in
car.toml: sizes, boost, cooler and efficiency as a data sheet gives them, the aimed-at
mixture, and of an alcohol fuel how much its evaporation may cool; nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from buildlog.analysis.car.priors import load, uncertain
from buildlog.analysis.prediction.prediction_anchor import Day, Start
from buildlog.analysis.prediction.prediction_inputs import inputs
from buildlog.physics.engines.ensemble import predict
from buildlog.physics.engines.learning import Result
from buildlog.physics.engines.state import Anchor
from buildlog.physics.gases.fuels import FUELS, blend, evaporation_cooling
from buildlog.records.car.configuration import Configuration
from tests import independent_model as model
from tests.builders import make_configuration

PRIORS = uncertain(load())
DAY = Day(model.STANDARD_PRESSURE, model.STANDARD_TEMPERATURE, 0.0, "as simulated")
# Two days of 1 % each and three pulls of 0.5 % on each side, as `independent_model.measured` has.
SCATTER_OF_RATIO = float(np.sqrt(2 * (0.01**2 + 0.005**2 / 3)))


@dataclass(frozen=True)
class Stage:
    """One simulated stage and the band that was predicted for it."""

    kind: str
    result: Result
    undeclared: Result | None = None  # of a fuel change, where no evaporation was declared


def evaporation(car: model.Car) -> dict[str, str]:
    """A fifth to a half of the fuel evaporates in the inlet (common practice, no source)."""
    fuels = ((blend(car.ethanol_content), 0.85), (FUELS["gasoline"], 0.85))
    whole, gasoline = (evaporation_cooling(*fuel) for fuel in fuels)
    ends = [f"{share * (whole - gasoline):.0f} K" for share in (0.2, 0.5)]
    return {
        "fuel.evaporation.cooling_low": ends[0],
        "fuel.evaporation.cooling_high": ends[1],
        "fuel.evaporation.source": "latent heat, and a fifth to a half evaporated in the inlet",
    }


def configuration(
    car: model.Car, changed_exhaust: bool, more: dict[str, str] | None = None
) -> Configuration:
    """What a shop would know of such a car."""
    how: dict[str, Any] = {
        "engine.cylinders": car.cylinders,
        "engine.bore": f"{car.bore * 1e3:.2f} mm",
        "engine.stroke": f"{car.stroke * 1e3:.2f} mm",
        "engine.compression_ratio": round(car.compression_ratio, 2),
        "engine.rev_limit": f"{car.rev_limit_rpm:.0f} rpm",
        "calibration.lambda_full_load": round(car.lambda_full_load, 3),
        "fuel.ethanol_content": f"{100 * car.ethanol_content:.0f} percent",
        "exhaust.pipe_diameter": "63 mm" if changed_exhaust else "57 mm",
        "induction.kind": "naturally-aspirated" if car.induction == "none" else car.induction,
    }
    if car.induction != "none":
        how["induction.boost.target_gauge"] = f"{car.boost_gauge_pa / 1e3:.1f} kPa"
        how["induction.compressor.efficiency"] = round(car.compressor_efficiency, 2)
    if car.induction == "centrifugal":  # its maker states the boost at an engine speed
        how["induction.boost.threshold_speed"] = f"{car.power_peak_rpm:.0f} rpm"
    if car.charge_cooler_effectiveness:
        how["induction.charge_cooler.effectiveness"] = round(car.charge_cooler_effectiveness, 2)
    return make_configuration({**how, **(more or {})})


def simulated(rng: np.random.Generator, kind: str, draws: int = 256) -> Stage:
    """Draw a car and a stage of a kind, measure both, and predict the second from the first."""
    car, changed = model.draw_stage(rng, kind)
    rpm = np.linspace(0.45, 1.4, 12) * car.peak_torque_speed_rpm
    before, after = (model.measured(rng, one, rpm).mean(axis=0) for one in (car, changed))
    anchor = Anchor(tuple(rpm * np.pi / 30), tuple(before), driveline_loss=PRIORS["driveline_loss"])
    start = Start(anchor, True, "simulated", "none", "wheels", DAY)
    one, ratio = configuration(car, False), float(after.max() / before.max())

    def compared(more: dict[str, str] | None = None) -> Result:
        other = configuration(changed, kind == "exhaust", more)
        found = inputs(one, other, start, DAY, PRIORS)
        raw = predict(found.anchor, found.before, found.after, PRIORS, groups=[], draws=draws)
        band = raw.peak_power_ratio
        return Result(ratio, band.p10, band.p50, band.p90, SCATTER_OF_RATIO)

    if kind == "fuel":
        return Stage(kind, compared(evaporation(changed)), compared())
    return Stage(kind, compared())
