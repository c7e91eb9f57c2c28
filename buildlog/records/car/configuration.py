"""`car.toml`: the configuration, all assemblies together."""

from typing import Annotated

from buildlog.records.car import driveline
from buildlog.records.car.calibration import Calibration
from buildlog.records.car.due import Due
from buildlog.records.car.engine import Cooling, Engine, Ignition, Intake
from buildlog.records.car.exhaust import Exhaust
from buildlog.records.car.fuel import Fuel
from buildlog.records.car.induction import ChargeInjection, Induction, Nitrous
from buildlog.records.car.vehicle import Car, Chassis, Intent, OdometerOffset, Work
from buildlog.records.fields.base import FileFormat, Listed, WholeFile
from buildlog.records.fields.traits import (
    CALIBRATION_BY_ROAD_SPEED,
    MARGIN,
    NOTHING,
    UNMODELLED,
    Here,
)

_BY_SPEED = UNMODELLED | CALIBRATION_BY_ROAD_SPEED
_TYRES = Here(size=MARGIN | _BY_SPEED, rolling_circumference=MARGIN | _BY_SPEED)


class Configuration(WholeFile):
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
    clutch: driveline.Clutch | None = None
    """The clutch."""
    flywheel: driveline.Flywheel | None = None
    """The flywheel."""
    gearbox: driveline.Gearbox | None = None
    """The gearbox."""
    driveshaft: driveline.Driveshaft | None = None
    """The driveshaft."""
    final_drive: Annotated[driveline.FinalDrive, Here(kind=_BY_SPEED)] | None = None
    """The final drive."""
    tyres: Annotated[driveline.Tyres, _TYRES] | None = None
    """The tires."""
    cooling: Cooling | None = None
    """Radiator and fans."""
    motor: driveline.Motor | None = None
    """Electric motor."""
    battery: driveline.Battery | None = None
    """Traction battery."""
    work: Annotated[tuple[Work, ...], Listed] = ()
    """Work without physics."""
    due: Annotated[tuple[Due, ...], Listed] = ()
    """What comes due again and again."""
    odometer_offset: Annotated[tuple[OdometerOffset, ...], Listed] = ()
    """Offsets where an instrument was replaced or did not count."""
