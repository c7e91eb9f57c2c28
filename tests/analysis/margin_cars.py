"""Cars whose every margin answers, for the tests of margins. All figures are invented."""

from __future__ import annotations

import copy
import datetime as dt
import math
import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from buildlog.analysis.car.priors import load
from buildlog.analysis.margins import kinds
from buildlog.analysis.margins.figures.demand_figure import Source, exact
from buildlog.analysis.margins.figures.margin_car import (
    KnownGood,
    PackDraws,
    Run,
    Subject,
    measured_run,
)
from buildlog.analysis.margins.margin_table import FILES
from buildlog.physics.numerics.band import Band
from buildlog.records.fasteners import Joint
from tests.builders import make_configuration

RPM = math.pi / 30
TURBO: dict[str, Any] = {
    "chassis.driven_axle_load": "690 kg",
    "chassis.front_axle_load": "695 kg",
    "chassis.rear_axle_load": "690 kg",
    "chassis.wheelbase": "2600 mm",
    "chassis.centre_of_gravity_height": "520 mm",
    "engine.rated_power_speed": "5700 rpm",
    "engine.rotating_assembly_limit": "320 hp",
    "engine.mean_piston_speed_limit": "21 m/s",
    "induction.kind": "turbocharger",
    "induction.limit": {"value": "70 degC", "source": "builder"},
    "induction.compressor": {
        "efficiency": 0.71,
        "speed_limit": "150000 rpm",
        "stated_pressure_ratio": 1.75,
        "stated_speed": "116000 rpm",
    },
    "induction.boost": {"target_gauge": "8 psi", "relief_gauge": "11 psi", "control": "spring"},
    "induction.charge_cooler": {"kind": "air", "effectiveness": 0.68, "rated_heat": "16 kW"},
    "intake.pressure_sensor": {"range_absolute": "250 kPa"},
    "exhaust.back_pressure": "14 kPa",
    "exhaust.back_pressure_at_power": "200 hp",
    "exhaust.limit": {"value": "40 kPa", "source": "builder"},
    "fuel.ethanol_content": "10 percent",
    "fuel.injectors": {
        "count": 6,
        "flow": "380 cc/min",
        "rated_pressure": "300 kPa",
        "system_pressure": "300 kPa",
        "referenced": True,
        "least_differential": "220 kPa",
    },
    "fuel.pump": {"flow": "190 L/h", "at_pressure": "300 kPa", "count": 1},
    "calibration.lambda_full_load": 0.80,
    "calibration.boost_limit_gauge": "12 psi",
    "calibration.rev_limit": "6300 rpm",
    "calibration.spark_retard": "8 deg",
    "clutch.rated_torque": "430 N*m",
    "flywheel": {
        "material": "steel",
        "diameter": "265 mm",
        "speed_limit": "8500 rpm",
        "limit": {"value": "200 MPa", "source": "maker"},
    },
    "gearbox.rated_torque": "420 N*m",
    "driveshaft": {
        "length": "780 mm",
        "outer_diameter": "70 mm",
        "wall": "1.8 mm",
        "material": "steel",
        "shear_strength": "170 MPa",
        "rated_torque": "1900 N*m",
    },
    "final_drive.rated_torque": "1600 N*m",
    "tyres.speed_symbol": "W",
    "tyres.load_index": 91,
    "tyres.made": "0426",
    "cooling": {"rated_heat": "260 kW"},
}
BLOWN: dict[str, Any] = TURBO | {
    "induction.kind": "centrifugal",
    "induction.compressor": {
        "efficiency": 0.70,
        "speed_limit": "60000 rpm",
        "crank_pulley_diameter": "150 mm",
        "compressor_pulley_diameter": "75 mm",
        "step_up_ratio": 3.6,
    },
    "induction.belt": {
        "ribs": 8,
        "wrap_angle": "180 deg",
        "installed_tension": "900 N",
        "rated_power_per_rib": "4 kW",
        "speed_limit": "60 m/s",
    },
}
JOINT = {
    "format": 1,
    "joint": "flywheel to crankshaft",
    "date": dt.date(2026, 4, 24),
    "thread": "M12x1.5",
    "grade": "10.9",
    "condition": "oiled",
    "fastener": [{"position": "bolt 1", "torque": "95 N*m"}],
}
DAY = dt.date(2026, 11, 25)


def run(horsepower: float = 200.0) -> Run:
    """A measured run of three pulls."""
    source = Source("session test")
    hot = exact(1120.0, source, "measured")
    pack = PackDraws(((0.8, 120e3), (0.15, 60e3)), 0.01, source)
    return measured_run(
        horsepower * 745.7, 5400 * RPM, 3, source, 0.01, turbine_inlet=hot, pack=pack
    )


def subject(
    changes: Mapping[str, Any] | None = None,
    base: Mapping[str, Any] = TURBO,
    power: Run | None = None,
    **facts: Any,
) -> Subject:
    """A car of `base` with dotted paths changed, and a measured run unless another is given."""
    configuration = make_configuration(copy.deepcopy({**base, **(changes or {})}))
    given = {"joints": {"flywheel": Joint.model_validate(JOINT)}, **facts}
    return Subject(configuration, power or run(), load(), DAY, **given)


def planned(
    changes: Mapping[str, Any] | None = None,
    horsepower: float = 220.0,
    base: Mapping[str, Any] = TURBO,
) -> Subject:
    """A car that is not measured, with one before it that ran."""
    from dataclasses import replace

    known = subject(base=base)
    power = replace(run(horsepower), basis="predicted", turbine_inlet=None, pack=None)
    before = KnownGood("stage-1", known.configuration, known.run)
    return subject(changes, base, power, known_good=before)


@cache
def example(name: str) -> dict[str, Any]:
    """A car of invented figures and both sides of its margin at the middle [unit of the kind].

    by_hand: the sum as it stands on paper. car: fields of car.toml, by path. run: what the
    engine puts out. before: what is changed to come to the last configuration that ran. joint:
    a tightening record. on: the day.
    """
    file = Path(kinds.__file__).parent.joinpath(*FILES[name].split(".")).with_suffix(".toml")
    table: dict[str, Any] = tomllib.loads(file.read_text(encoding="utf-8"))["example"]
    return {"car": {}} | table


def run_of(
    at: str,
    power: float,
    omega: float,
    torque: float | None = None,
    boost: float | None = None,
    turbine_inlet: float | None = None,
    pack: float | None = None,
) -> Run:
    """What an example says the engine puts out: power [W] at a speed [rad/s], torque [N*m],
    boost [Pa gauge], gas before the turbine [K], power of the pack [W]; `at` the crank or the
    wheels."""
    source = Source("a worked example")
    hot, pressed = (
        None if x is None else exact(x, source, "measured") for x in (turbine_inlet, boost)
    )
    return Run(
        Band.exact(power), omega, "measured", source, torque and Band.exact(torque), at == "crank",
        boost=pressed, turbine_inlet=hot, pack=pack and PackDraws(((None, pack),), 0.0, source),
    )  # fmt: skip
