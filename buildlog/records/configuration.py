"""`car.toml`: the configuration, all assemblies together."""

from typing import Annotated

from pydantic import Field

from buildlog.records.base import FileFormat, Listed, Record, absent, told
from buildlog.records.calibration import Calibration
from buildlog.records.driveline import (
    Battery,
    Clutch,
    Driveshaft,
    FinalDrive,
    Flywheel,
    Gearbox,
    Motor,
    Tyres,
)
from buildlog.records.engine import Cooling, Engine, Ignition, Intake
from buildlog.records.exhaust import Exhaust
from buildlog.records.fuel import Fuel
from buildlog.records.induction import ChargeInjection, Induction, Nitrous
from buildlog.records.traits import CALIBRATION_BY_ROAD_SPEED, MARGIN, NOTHING, UNMODELLED, Here
from buildlog.records.vehicle import Car, Chassis, Intent, OdometerOffset, Work


class Configuration(Record):
    """The car as built. Every table may be left out, except [car] with a name."""

    format: Annotated[FileFormat, NOTHING] = told("The format of this file.")
    car: Car = told("What the car is called.")
    intent: Intent | None = absent("What the car is for.")
    chassis: Chassis | None = absent("Mass, drag, driven wheels.")
    engine: Engine | None = absent("The engine.")
    intake: Intake | None = absent("Filter, throttle, manifold, air meter.")
    ignition: Ignition | None = absent("Plugs and coils.")
    induction: Induction | None = absent("How the engine gets its air.")
    exhaust: Exhaust | None = absent("Headers, catalysts, pipe, mufflers.")
    fuel: Fuel | None = absent("Fuel and its supply.")
    nitrous: Nitrous | None = absent("Nitrous oxide.")
    charge_injection: ChargeInjection | None = absent("Water or methanol injection.")
    calibration: Calibration | None = absent("The calibration in the engine control.")
    clutch: Clutch | None = absent("The clutch.")
    flywheel: Flywheel | None = absent("The flywheel.")
    gearbox: Gearbox | None = absent("The gearbox.")
    driveshaft: Driveshaft | None = absent("The driveshaft.")
    final_drive: Annotated[FinalDrive, Here(kind=UNMODELLED | CALIBRATION_BY_ROAD_SPEED)] | None = (
        absent("The final drive.")
    )
    tyres: (
        Annotated[
            Tyres,
            Here(
                size=UNMODELLED | MARGIN | CALIBRATION_BY_ROAD_SPEED,
                rolling_circumference=UNMODELLED | MARGIN | CALIBRATION_BY_ROAD_SPEED,
            ),
        ]
        | None
    ) = absent("The tyres.")
    cooling: Cooling | None = absent("Radiator and fans.")
    motor: Motor | None = absent("Electric motor.")
    battery: Battery | None = absent("Traction battery.")
    work: Annotated[tuple[Work, ...], Listed] = Field(
        default=(), description="Work without physics."
    )
    odometer_offset: Annotated[tuple[OdometerOffset, ...], Listed] = Field(
        default=(), description="Offsets where an instrument was replaced or did not count."
    )
