"""One car with every field of car.toml filled, the builds it can have, and other values for each.

Fields that no formula looks at take a value from the published schema. All figures are invented.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

from pydantic_core import PydanticCustomError

from buildlog.records.car.configuration import Configuration
from buildlog.records.paths import field_at
from buildlog.units import parse
from tests.analysis.margin_cars import BLOWN, TURBO
from tests.builders import CAR, changed
from tests.documents import Leaf, leaves_of

Document = dict[str, Any]

# Beside the turbocharged car of the margins' tests: what its formulas could look at as well.
_MORE: dict[str, Any] = {
    "chassis.driven_axle_load": "690 kg",
    "engine.displacement": "2593 cc",
    "engine.rated_torque": "240 N*m",
    "induction.belt": BLOWN["induction.belt"],
    "induction.compressor.displacement_per_rev": "320 cc",
    "induction.compressor.volumetric_efficiency": 0.9,
    "induction.compressor.crank_pulley_diameter": "150 mm",
    "induction.compressor.compressor_pulley_diameter": "75 mm",
    "induction.compressor.step_up_ratio": 3.6,
    "induction.compressor.drive_ratio": 7.0,
    "induction.turbine.back_pressure_ratio": 1.3,
    "induction.boost.threshold_speed": "3500 rpm",
    "induction.compressor.surge_pressure_ratios": [1.2, 1.6, 2.4],
    "induction.compressor.surge_flows": ["0.03 kg/s", "0.05 kg/s", "0.09 kg/s"],
    "induction.charge_cooler.pressure_drop": "5 kPa",
    "exhaust.pipe_diameter": "63 mm",
    "exhaust.mufflers": 1,
    "exhaust.headers.kind": "shorty",
    "exhaust.catalysts.kind": "high-flow",
    "exhaust.catalysts.count": 1,
    "intake.throttle_diameter": "65 mm",
    "fuel.kind": "ethanol-blend",
    "fuel.ethanol_content": "70 percent",
    "fuel.ethanol_range": ["60 percent", "85 percent"],
    "fuel.evaporation.cooling_low": "2 K",
    "fuel.evaporation.cooling_high": "6 K",
    "fuel.pump.second_flow": "150 L/h",
    "fuel.pump.second_at_pressure": "500 kPa",
    "fuel.carburettors.fuel_pressure": "25 kPa",
    "nitrous.kind": "wet",
    "nitrous.flow": "30 g/s",
    "charge_injection.kind": "methanol",
    "charge_injection.flow": "300 cc/min",
    "motor.rated_torque": "300 N*m",
    "calibration.file_sha256": "a" * 64,
    "calibration.speed_limit": "230 km/h",
    "calibration.written_for": {"fuel.kind": "ethanol-blend"},
    "clutch.kind": "organic",
    "clutch.faces": 2,
    "clutch.outer_diameter": "240 mm",
    "clutch.inner_diameter": "160 mm",
    "clutch.friction_coefficient": 0.3,
    "clutch.clamp_force": "8 kN",
    "gearbox.primary_ratio": 1.2,
    "final_drive.ratio": 3.7,
    "final_drive.front": {"ratio": 3.6, "rated_torque": "1500 N*m"},
    "final_drive.rear": {"ratio": 3.7, "rated_torque": "1600 N*m"},
    "tyres.rolling_circumference": "1.95 m",
    "tyres.front": {
        "size": "205/55 R16", "speed_symbol": "W", "load_index": 91, "made": "0426",
        "rolling_circumference": "1.95 m",
    },
    "tyres.rear": {
        "size": "225/50 R16", "speed_symbol": "W", "load_index": 92, "made": "0426",
        "rolling_circumference": "1.96 m",
    },
    "odometer_offset": [
        {"key": "cluster", "distance": "120 mi", "from_entry": "abcdef0", "reading": "3 mi",
         "reason": "replaced"}
    ],
}  # fmt: skip
# A limit of its own dimension for every assembly that some margin asks for one.
LIMITS = {
    "engine": "7000 rpm",
    "exhaust": "40 kPa",
    "induction": "70 degC",
    "induction.compressor": "60000 rpm",
    "induction.charge_cooler": "12 kW",
    "induction.belt": "60 m/s",
    "clutch": "430 N*m",
    "flywheel": "200 MPa",
    "gearbox": "420 N*m",
    "driveshaft": "1900 N*m",
    "final_drive": "1600 N*m",
    "final_drive.front": "1500 N*m",
    "final_drive.rear": "1600 N*m",
}
_RATINGS = (
    "engine.rev_limit", "engine.mean_piston_speed_limit", "induction.compressor.speed_limit",
    "induction.charge_cooler.rated_heat", "induction.belt.speed_limit", "clutch.rated_torque",
    "clutch.clamp_force", "flywheel.speed_limit", "gearbox.rated_torque",
    "driveshaft.rated_torque", "driveshaft.shear_strength", "driveshaft.speed_limit",
    "final_drive.rated_torque", "final_drive.front.rated_torque", "final_drive.rear.rated_torque",
)  # fmt: skip
_DRIVEN = {"induction.kind": "centrifugal", "induction.turbine": None}
_BLOWN = {
    "induction.kind": "positive-displacement",
    "induction.turbine": None,
    "induction.boost.target_gauge": None,
}
_ONE_SET = {"tyres.front": None, "tyres.rear": None, "final_drive.front": None,
            "final_drive.rear": None, "chassis.driven_axle_load": None}  # fmt: skip

# What the car is built like, as changes of the full one: each lets formulas look at other fields.
BUILDS: dict[str, Mapping[str, Any]] = {
    "turbocharged": {},
    "rated by limits": dict.fromkeys(_RATINGS)
    | {f"{table}.limit": {"value": value, "source": "builder"} for table, value in LIMITS.items()},
    "rated by limits, one axle": dict.fromkeys(_RATINGS)
    | _ONE_SET
    | {"final_drive.limit": {"value": "1600 N*m"}, "induction.charge_cooler.limit": None,
       "flywheel.limit": {"value": "8000 rpm"}, "driveshaft.limit": {"value": "170 MPa"}},
    "rated by limits, centrifugal": _DRIVEN
    | {"induction.belt.speed_limit": None, "induction.belt.limit": {"value": "60 m/s"}},
    "rated by limits, front driven": dict.fromkeys(_RATINGS)
    | {"chassis.driven_wheels": "front", "final_drive.front.limit": {"value": "1600 N*m"}},
    "fuel by its kind": {"fuel.kind": "ethanol", "fuel.ethanol_content": None,
                         "fuel.ethanol_range": None},
    "exhaust not measured": {"exhaust.back_pressure": None, "exhaust.back_pressure_at_power": None},
    "free": {"induction": None, "exhaust.back_pressure": None},
    "centrifugal": _DRIVEN,
    "centrifugal, to the limiter": _DRIVEN
    | {"induction.boost.threshold_speed": None, "induction.compressor.drive_ratio": None},
    "centrifugal, to the maker's limit": _DRIVEN
    | {"induction.boost.threshold_speed": None, "calibration.rev_limit": None},
    "blown": _BLOWN,
    "blown, by pulleys": _BLOWN | {"induction.compressor.drive_ratio": None},
    "sized by its maker": {"engine.bore": None},
    "pump known at one point": {"fuel.pump.second_flow": None},
    "injectors by mass": {"fuel.injectors.flow": "6 g/s"},
    "one set of tyres": _ONE_SET,
    "one set, by size": _ONE_SET
    | {"tyres.rolling_circumference": None, "chassis.rear_axle_load": None,
       "chassis.driven_axle_load": "690 kg"},
    "sets by size": {"tyres.front.rolling_circumference": None,
                     "tyres.rear.rolling_circumference": None},
    "front driven": {"chassis.driven_wheels": "front"},
    "front driven, sets by size": {"chassis.driven_wheels": "front",
                                   "tyres.front.rolling_circumference": None},
    "all driven": {"chassis.driven_wheels": "all"},
    "clutch and shaft not rated": {"clutch.rated_torque": None, "driveshaft.speed_limit": None},
    "clutch facing by its kind": {"clutch.friction_coefficient": None},
    "calibrated anew": {"calibration.id": "T26-002"},
    "sprayed": {},
    "sprayed dry": {"nitrous.kind": "dry"},
    "electric": {"car.power_source": "electric"},
    "electric, to the motor's limit": {"car.power_source": "electric",
                                       "calibration.rev_limit": None},
    "carburetted": {"fuel.injectors": None},
    "carburetted, not calibrated": {"fuel.injectors": None, "calibration": None},
    "with a motor beside": {},
}  # fmt: skip
# Systems that change what holds for all others: only these builds have them.
_ONLY_IN = {
    "nitrous": ("sprayed", "sprayed dry"),
    "charge_injection": ("sprayed", "sprayed dry"),
    "motor": ("electric", "electric, to the motor's limit", "with a motor beside"),
    "battery": ("electric", "electric, to the motor's limit", "with a motor beside"),
    "fuel.carburettors": ("carburetted", "carburetted, not calibrated"),
}
# The car before: what a prediction of the full one starts from.
BEFORE: dict[str, Any] = {
    "induction": None,
    "engine.bore": "82 mm",
    "engine.compression_ratio": 9.0,
    "exhaust.pipe_diameter": "57 mm",
    "exhaust.headers.kind": "cast",
    "exhaust.back_pressure": None,
    "intake.throttle_diameter": "60 mm",
    "fuel.kind": "gasoline",
    "fuel.ethanol_content": "5 percent",
    "fuel.evaporation": None,
    "calibration.lambda_full_load": 0.9,
    "calibration.spark_retard": None,
}
_TEXTS = {
    "size": "225/45 R18", "made": "1220", "speed_symbol": "H", "file_sha256": "b" * 64,
    "fitted_on": dt.date(2021, 2, 3),
}  # fmt: skip


@cache
def everything() -> Document:
    """A document with every field, those of systems that no car has beside others included."""
    values = {path: _middle(path, leaf) for path, leaf in leaves_of("car").items()}
    values |= dict(_flat(changed(CAR, TURBO)))
    document = changed({}, values | dict(_flat(changed({}, _MORE))))
    part = dict(document["clutch"]["part"])
    return document | {
        "work": [{"item": "respray", "note": "wings", "part": part}],
        "due": [
            {"what": "oil", "every": "5000 mi or 12 months", "part": "engine", "note": "5W-40",
             "last_on": dt.date(2026, 1, 2), "last_at": "88000 mi"}
        ],
    }  # fmt: skip


@cache
def build(name: str) -> Document:
    """The full car built in one of the ways."""
    without = {table: None for table, builds in _ONLY_IN.items() if name not in builds}
    return changed(everything(), without | dict(BUILDS[name]))


def before(name: str) -> Configuration:
    """The car that a build was made of."""
    return Configuration.model_validate(changed(build(name), BEFORE))


def other_values(path: str, now: Any) -> Iterator[Any]:
    """Valid values that a field could have instead of the present one."""
    if isinstance(now, dict):
        yield {"fuel.kind": "gasoline"}
        return
    leaf = leaves_of("car")[path]
    if "enum" in leaf:
        yield from (value for value in leaf["enum"] if value != now)
    elif "x-dimension" in leaf:
        yield from (text for text in _other_quantities(now) if _fits(path, text))
    elif isinstance(now, bool):
        yield not now
    elif isinstance(now, list):
        yield from _other_lists(now)
    elif isinstance(now, str | dt.date):
        yield _TEXTS.get(path.rpartition(".")[2], "another text")
    else:
        step = 1 if isinstance(now, int) else 0.05 * now
        yield from (round(now + step, 6), round(now - step, 6))


def _other_quantities(now: str) -> Iterator[str]:
    number, _, unit = now.partition(" ")
    for share in (1.08, 0.93, 0.7):
        yield f"{float(number) * share or 1:.6g} {unit}"


def _fits(path: str, text: str) -> bool:
    measure = field_at(Configuration, path).measure
    assert measure is not None
    try:
        measure.read(text)
    except PydanticCustomError:
        return False
    return True


def _other_lists(now: list[Any]) -> Iterator[list[Any]]:
    if all(isinstance(value, float) for value in now):
        yield [round(1.1 * value, 4) for value in now]
    elif all(value.endswith(" kg/s") for value in now):
        yield [next(_other_quantities(value)) for value in now]
    elif len(now) == 2:
        yield [now[0], "90 percent"]
    else:
        yield ["another text"]


def _middle(path: str, leaf: Leaf) -> Any:
    """A value for a field that nothing looks at: inside its bounds, the first of its choices."""
    if path.endswith(("breathing_low", "breathing_high")):
        return "1 percent" if path.endswith("low") else "3 percent"
    if "const" in leaf or "enum" in leaf:
        return leaf.get("const") or leaf["enum"][0]
    if "x-dimension" in leaf:
        return _middle_quantity(leaf)
    if "pattern" in leaf:
        return {"speed_symbol": "V", "made": "1025"}.get(path.rpartition(".")[2], "a" * 64)
    low = leaf.get("minimum", leaf.get("exclusiveMinimum", 0))
    high = leaf.get("maximum", leaf.get("exclusiveMaximum", 1))
    if leaf["type"] == "array":
        return [_middle(path, item) for item in leaf.get("prefixItems") or [leaf["items"]]]
    return {
        "boolean": True,
        "integer": int(low) + 2,
        "number": low + 0.2 * (high - low),
        "string": dt.date(2020, 1, 2) if leaf.get("format") == "date" else "some text",
    }[leaf["type"]]


def _middle_quantity(leaf: Leaf) -> str:
    wanted = tuple(leaf["x-dimension"].split(" | "))
    low, high = (parse(leaf[key], wanted) for key in ("x-low", "x-high"))
    if low.dimension != high.dimension:  # a limit of any dimension: one that no margin asks for
        return "15 kg"
    ends = [low.unit.from_si(one.si) for one in (low, high)]
    return f"{ends[0] + 0.2 * (ends[1] - ends[0]):.5g} {low.unit.text}"


def _flat(document: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in document.items():
        if isinstance(value, dict) and key != "written_for":
            yield from _flat(value, f"{prefix}{key}.")
        else:
            yield f"{prefix}{key}", value
