"""How a sentence says a key of a file. Keys were chosen once and stay; sentences are US English."""

from __future__ import annotations

import re

_SAID = {"tyre": "tire", "tyres": "tires", "carburettors": "carburetors", "colour": "color",
         "centre": "center"}  # fmt: skip
# What a workshop calls a piece that stands in a table below its assembly's.
_PIECES = {
    "engine.lubrication": "oil and filter", "engine.timing_drive": "timing drive",
    "engine.camshaft": "camshaft", "engine.connecting_rods": "connecting rods",
    "engine.crankshaft": "crankshaft", "engine.cylinder_head": "cylinder head",
    "engine.head_gasket": "head gasket", "engine.pistons": "pistons",
    "exhaust.catalysts": "catalysts", "exhaust.headers": "headers", "exhaust.muffler": "muffler",
    "fuel.carburettors": "carburetors", "fuel.injectors": "injectors",
    "fuel.regulator": "fuel pressure regulator", "gearbox.converter": "torque converter",
    "ignition.coils": "ignition coils", "ignition.distributor": "distributor",
    "ignition.plugs": "spark plugs", "induction.belt": "blower belt",
    "induction.boost": "boost control", "induction.charge_cooler": "charge cooler",
    "induction.compressor": "compressor", "induction.turbine": "turbine",
    "intake.air_meter": "air meter", "intake.filter": "air filter",
    "intake.pressure_sensor": "pressure sensor", "cooling.oil_cooler": "oil cooler",
    "cooling.radiator": "radiator", "cooling.water_pump": "water pump",
    "tyres.front": "front tires", "tyres.rear": "rear tires",
    "final_drive.front": "front final drive", "final_drive.rear": "rear final drive",
}  # fmt: skip
_KEYS = re.compile(rf"\b({'|'.join(_SAID)})\b")


def key_words(key: str) -> str:
    """A key, or the names of a path set apart by blanks, in the words of a sentence.

    >>> key_words("final_drive"), key_words("tyres"), key_words("centre_of_gravity_height")
    ('final drive', 'tires', 'center of gravity height')
    """
    return _KEYS.sub(lambda found: _SAID[found.group()], key.replace("_", " "))


def piece_words(path: str) -> str:
    """A part as a workshop calls it; else the words of its path.

    >>> piece_words("ignition.plugs"), piece_words("fuel.pump"), piece_words("final_drive")
    ('spark plugs', 'fuel pump', 'final drive')
    """
    return _PIECES.get(path) or key_words(path.replace(".", " "))
