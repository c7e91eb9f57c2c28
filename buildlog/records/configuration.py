"""`car.toml`: the configuration, all assemblies together."""

from typing import Annotated

from buildlog.records.base import FileFormat, Listed, Record
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

    format: Annotated[FileFormat, NOTHING]
    """The format of this file."""
    car: Car
    """What the car is called."""
    intent: Intent | None = None
    """What the car is for."""
    chassis: Chassis | None = None
    """Mass, drag, driven wheels."""
    engine: Engine | None = None
    """The engine."""
    intake: Intake | None = None
    """Filter, throttle, manifold, air meter."""
    ignition: Ignition | None = None
    """Plugs and coils."""
    induction: Induction | None = None
    """How the engine gets its air."""
    exhaust: Exhaust | None = None
    """Headers, catalysts, pipe, mufflers."""
    fuel: Fuel | None = None
    """Fuel and its supply."""
    nitrous: Nitrous | None = None
    """Nitrous oxide."""
    charge_injection: ChargeInjection | None = None
    """Water or methanol injection."""
    calibration: Calibration | None = None
    """The calibration in the engine control."""
    clutch: Clutch | None = None
    """The clutch."""
    flywheel: Flywheel | None = None
    """The flywheel."""
    gearbox: Gearbox | None = None
    """The gearbox."""
    driveshaft: Driveshaft | None = None
    """The driveshaft."""
    final_drive: Annotated[FinalDrive, Here(kind=UNMODELLED | CALIBRATION_BY_ROAD_SPEED)] | None = (
        None
    )
    """The final drive."""
    tyres: (
        Annotated[
            Tyres,
            Here(
                size=UNMODELLED | MARGIN | CALIBRATION_BY_ROAD_SPEED,
                rolling_circumference=UNMODELLED | MARGIN | CALIBRATION_BY_ROAD_SPEED,
            ),
        ]
        | None
    ) = None
    """The tyres."""
    cooling: Cooling | None = None
    """Radiator and fans."""
    motor: Motor | None = None
    """Electric motor."""
    battery: Battery | None = None
    """Traction battery."""
    work: Annotated[tuple[Work, ...], Listed] = ()
    """Work without physics."""
    odometer_offset: Annotated[tuple[OdometerOffset, ...], Listed] = ()
    """Offsets where an instrument was replaced or did not count."""
