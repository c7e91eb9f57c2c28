"""A diesel, a carburetted classic, an electric car and a hybrid, a few lines each, all invented:
what they are, what is changed on them, their pulls, and the words that nobody would say of them."""

from __future__ import annotations

import math
import re

import numpy as np

from tests.logger_files import table

CARS: dict[str, tuple[str, list[str]]] = {
    "diesel": ("compression-ignition", [
        "engine.layout=inline", "engine.cylinders=4", "engine.bore=81 mm", "engine.stroke=95.5 mm",
        "engine.compression_ratio=16.5", "engine.rev_limit=4800 rpm", "engine.rated_power=120 kW",
        "induction.kind=turbocharger", "induction.boost.target_gauge=1.6 bar", "fuel.kind=diesel",
        "calibration.id=D-1", "gearbox.kind=manual", "gearbox.ratios=[3.5, 1.9, 1.2, 0.9, 0.7]",
        "final_drive.ratio=3.4", "tyres.size=205/55 R16", "clutch.rated_torque=400 N*m",
    ]),
    "classic": ("spark-ignition", [
        "car.year=1969", "engine.layout=inline", "engine.cylinders=4", "engine.bore=80.3 mm",
        "engine.stroke=88.9 mm", "engine.compression_ratio=8.8", "engine.rev_limit=6000 rpm",
        "engine.rated_power=70 kW", "induction.kind=naturally-aspirated", "fuel.kind=gasoline",
        "fuel.carburettors.count=2", "fuel.carburettors.venturi=36 mm",
        "fuel.carburettors.needle=N-21", "fuel.carburettors.main_jet=100",
        "fuel.carburettors.emulsion_tube=E-9", "fuel.carburettors.float_level=5 mm",
        "fuel.carburettors.fuel_pressure=3 psi", "ignition.distributor.kind=points",
        "ignition.initial_advance=10 deg", "ignition.total_advance=32 deg",
        "ignition.total_advance_speed=3500 rpm", "gearbox.kind=manual",
        "gearbox.ratios=[3.4, 2.1, 1.4, 1.0]", "final_drive.ratio=3.9", "tyres.size=165 R14",
    ]),
    "electric": ("electric", [
        "motor.rated_power=150 kW", "motor.rated_torque=310 N*m", "motor.speed_limit=14000 rpm",
        "battery.voltage=360 V", "battery.energy=62 kWh", "battery.rated_power=170 kW",
        "battery.low_charge.state_of_charge=20 percent", "battery.low_charge.rated_power=80 kW",
        "chassis.mass=1700 kg", "chassis.driven_wheels=front", "final_drive.ratio=9.1",
        "tyres.size=205/55 R16", "tyres.speed_symbol=V", "tyres.load_index=91",
    ]),
    "hybrid": ("hybrid", [
        "engine.layout=inline", "engine.cylinders=4", "engine.bore=80.5 mm", "fuel.kind=gasoline",
        "engine.stroke=88.3 mm", "engine.compression_ratio=13", "engine.rated_power=72 kW",
        "induction.kind=naturally-aspirated", "motor.rated_power=60 kW", "battery.voltage=207 V",
        "tyres.size=195/65 R15",
    ]),
}  # fmt: skip
# What changes after the first visit to the dyno.
LATER = {
    "diesel": ["induction.boost.target_gauge=1.9 bar", "calibration.id=D-2"],
    "classic": ["fuel.carburettors.main_jet=115", "ignition.total_advance=34 deg"],
    "electric": ["battery.rated_power=190 kW"],
    "hybrid": ["exhaust.pipe_diameter=60 mm"],
}
ASKED = (
    "next", "check", "margins --full", "headroom --full", "predict baseline latest", "show --full",
    "show --parts", "diff --full", "dyno sheet base --full", "checklist list", "history",
    "report latest --full",
)  # fmt: skip
# Words that somebody who knows the car would wonder at.
ODD = {
    "diesel": r"gasoline|lambda|mixture|spark|octane|knock|converter|injector duty|carburett",
    "classic": r"injector|rail|trouble.code|calibration number|sensor range|calibration\.|"
    r"pack |motor speed|glow",
    "electric": r"engine|gasoline|mixture|lambda|compression|converter|fuel|exhaust|spark"
    r"|cylinder|octane|knock|carburett|injector|gear is not|throttle|oil\b",
    "hybrid": r"converter not locked|carburett|diesel|glow|smoke",
}
# Sentences that every booklet and report bears, whatever the car.
OF_EVERY_CAR = re.compile(r"WHAT CHANGED, STAGE BY STAGE.*|CAUTIONS.*", re.S)


def pull_of(name: str, number: int) -> bytes:
    """A pull of each car, with the channels that are logged of its kind."""
    rng = np.random.default_rng(number)
    t = np.arange(0.0, 10.0, 0.05)
    more = 1 + 0.003 * number
    if name == "electric":
        v = 30 + 10 * t
        power = more * np.minimum(140 * v / 70, 140) * (1 - 0.002 * np.clip(v - 90, 0, None))
        volts = 360 - 0.12 * power
        heads = "time [s],road speed [km/h],power [kW],pack voltage [V],pack current [A],"
        heads += "state of charge [%],battery temperature [degC],motor temperature [degC]"
        columns = (power * 1100 / volts, 82 - 0.1 * t - number, 32 + 0.2 * t, 60 + 3 * t)
        return table(heads, t, v, power + rng.normal(0, 0.2, t.size), volts, *columns)
    n = 1500 + (310 if name == "diesel" else 430) * t
    if name == "diesel":
        power = more * 90 * np.sin(np.minimum(n / 4000, 1.25) * math.pi / 2)
        heads = ("time [s],engine speed [rpm],power [kW],boost [kPa],exhaust temperature [degC],"
                 "smoke [%],rail pressure [bar]")  # fmt: skip
        columns = (150 + 10 * np.sin(t / 3), 500 + 25 * t, 12 + 3 * np.sin(t), 1350 + 40 * t)
        return table(heads, t, n, power + rng.normal(0, 0.2, t.size), *columns)
    power = more * 50 * np.sin(np.minimum(n / 5200, 1.25) * math.pi / 2)
    return table("time [s],engine speed [rpm],power [kW]", t, n, power + rng.normal(0, 0.1, t.size))
