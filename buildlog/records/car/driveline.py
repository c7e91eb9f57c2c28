"""Clutch, flywheel, gearbox, driveshaft, final drive, tires; motor and battery."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from buildlog.records.car.engine import EngineSpeed, Power, SubAssembly, Torque
from buildlog.records.fields.base import Count, Listed, Measure, Record, Text
from buildlog.records.fields.parts import Assembly
from buildlog.records.fields.traits import (
    CALIBRATION_BY_ROAD_SPEED,
    MARGIN,
    NOTHING,
    UNMODELLED,
    Here,
    Moves,
)
from buildlog.units import Quantity

Charge = Annotated[Quantity, Measure("ratio", "0 percent", "100 percent")]

Ratio = Annotated[float, Field(gt=0.1, lt=30)]
Diameter = Annotated[Quantity, Measure("length", "30 mm", "800 mm")]
Inertia = Annotated[Quantity, Measure("inertia", "0.001 kg*m^2", "3 kg*m^2")]
TyrePressure = Annotated[Quantity, Measure("pressure", "50 kPa", "600 kPa", "gauge")]
Circumference = Annotated[Quantity, Measure("length", "0.8 m", "4 m")]
MotorSpeed = Annotated[Quantity, Measure("angular_speed", "100 rpm", "40000 rpm")]
Shifting = Literal["manual", "automatic", "dual-clutch"]
FlywheelMaterial = Literal["grey-iron", "ductile-iron", "steel", "aluminium"]
Ratios = Annotated[tuple[Ratio, ...], Field(min_length=1, max_length=12), Listed]


class Clutch(Assembly):
    """The clutch between engine and gearbox."""

    fields_move: ClassVar[Moves] = UNMODELLED | MARGIN

    kind: Literal["organic", "woven", "moulded", "ceramic", "sintered", "carbon"] | None = None
    """The sort of facing."""
    faces: Annotated[int, Field(ge=1, le=12)] | None = None
    """Number of rubbing faces: two for a single disc."""
    outer_diameter: Diameter | None = None
    """Outer diameter of the facing."""
    inner_diameter: Diameter | None = None
    """Inner diameter of the facing."""
    friction_coefficient: Annotated[float, Field(gt=0.02, le=1)] | None = None
    """Friction coefficient of the facing."""
    clamp_force: Annotated[Quantity, Measure("force", "0.2 kN", "60 kN")] | None = None
    """Force of the pressure plate."""
    rated_torque: Annotated[Torque, MARGIN] | None = None
    """The torque its supplier rates it for."""


class Flywheel(Assembly):
    """The flywheel."""

    kind: Annotated[Literal["single", "dual-mass"], UNMODELLED] | None = None
    """In one piece or with a damper inside."""
    mass: Annotated[Quantity, Measure("mass", "0.5 kg", "60 kg"), UNMODELLED] | None = None
    """Its mass."""
    inertia: Annotated[Inertia, UNMODELLED] | None = None
    """Its moment of inertia."""
    material: Annotated[FlywheelMaterial, UNMODELLED | MARGIN] | None = None
    """What it is made of."""
    diameter: Annotated[Diameter, UNMODELLED | MARGIN] | None = None
    """Its outer diameter."""
    speed_limit: Annotated[EngineSpeed, MARGIN] | None = None
    """The speed its supplier allows."""


class Gearbox(Assembly):
    """The gearbox; ratios from first gear up."""

    kind: Annotated[Shifting, UNMODELLED | MARGIN] | None = None
    """How it changes gear."""
    ratios: Annotated[Ratios, UNMODELLED | MARGIN] | None = None
    """Ratios of the forward gears, first gear first."""
    primary_ratio: Annotated[float, Field(ge=0.5, le=5), UNMODELLED | MARGIN] | None = None
    """Reduction between crankshaft and clutch, as motorcycles have; 1 where there is none."""
    rated_torque: Annotated[Torque, MARGIN] | None = None
    """The input torque its maker or builder rates it for."""
    fluid: Annotated[Text, UNMODELLED] | None = None
    """What it is filled with."""
    converter: SubAssembly | None = None
    """Torque converter of an automatic."""


class Driveshaft(Assembly):
    """The shaft from the gearbox to the driven axle."""

    fields_move: ClassVar[Moves] = UNMODELLED | MARGIN

    length: Annotated[Quantity, Measure("length", "100 mm", "4 m")] | None = None
    """Length between its joints."""
    outer_diameter: Annotated[Quantity, Measure("length", "15 mm", "200 mm")] | None = None
    """Outer diameter of the tube."""
    wall: Annotated[Quantity, Measure("length", "0.5 mm", "100 mm")] | None = None
    """Wall thickness of the tube."""
    material: Literal["steel", "aluminium", "carbon"] | None = None
    """What it is made of."""
    shear_strength: Annotated[Quantity, Measure("pressure", "10 MPa", "2 GPa")] | None = None
    """Shear stress its maker allows."""
    speed_limit: Annotated[EngineSpeed, MARGIN] | None = None
    """The speed its supplier allows."""
    rated_torque: Annotated[Torque, MARGIN] | None = None
    """The torque its supplier rates it for."""


class Axle(SubAssembly):
    """One final drive."""

    ratio: Annotated[Ratio, UNMODELLED | MARGIN | CALIBRATION_BY_ROAD_SPEED] | None = None
    """Turns of the pinion for one of the wheels."""
    rated_torque: Annotated[Torque, MARGIN] | None = None
    """The input torque it is rated for."""


class FinalDrive(Axle):
    """The final drive, or one in front and one behind."""

    front: Annotated[Axle, Here(kind=UNMODELLED | CALIBRATION_BY_ROAD_SPEED)] | None = None
    """Final drive of the front axle."""
    rear: Annotated[Axle, Here(kind=UNMODELLED | CALIBRATION_BY_ROAD_SPEED)] | None = None
    """Final drive of the rear axle."""


class TyreSet(SubAssembly):
    """Tires of one size."""

    size: Annotated[Text, UNMODELLED | MARGIN] | None = None
    """The size as marked: 205/55 R16."""
    speed_symbol: Annotated[str, Field(pattern="^[A-Z]$"), MARGIN] | None = None
    """The speed symbol as marked."""
    load_index: Annotated[int, Field(ge=40, le=150), MARGIN] | None = None
    """The load index as marked."""
    pressure: Annotated[TyrePressure, UNMODELLED] | None = None
    """Cold inflation pressure above ambient."""
    rolling_circumference: Annotated[Circumference, UNMODELLED | MARGIN] | None = None
    """Measured distance rolled in one turn."""
    made: Annotated[str, Field(pattern="^\\d{4}$"), MARGIN] | None = None
    """Week and year as marked: 2319 is week 23 of 2019."""


class Tyres(TyreSet):
    """The tires, or one set in front and one behind."""

    front: TyreSet | None = None
    """Tires of the front axle."""
    rear: TyreSet | None = None
    """Tires of the rear axle."""


class Motor(Assembly):
    """The electric motor of a hybrid or electric car: declared values only."""

    rated_power: Annotated[Power, NOTHING] | None = None
    """The maker's power."""
    rated_torque: Annotated[Torque, MARGIN] | None = None
    """The maker's torque."""
    speed_limit: Annotated[MotorSpeed, MARGIN] | None = None
    """The speed the maker allows."""
    count: Annotated[Count, UNMODELLED] | None = None
    """How many there are."""


class LowCharge(Record):
    """The power of a pack that is nearly empty."""

    fields_move: ClassVar[Moves] = NOTHING

    state_of_charge: Annotated[Charge, MARGIN] | None = None
    """The state of charge at which it is stated."""
    rated_power: Annotated[Power, MARGIN] | None = None
    """The power that the maker states for it."""


class Battery(Assembly):
    """The traction battery: declared values only."""

    energy: Annotated[Quantity, Measure("energy", "0.1 kWh", "500 kWh"), NOTHING] | None = None
    """Usable energy when new."""
    voltage: Annotated[Quantity, Measure("voltage", "10 V", "1500 V"), NOTHING] | None = None
    """Nominal voltage."""
    rated_power: Annotated[Power, MARGIN] | None = None
    """The power the maker states."""
    low_charge: LowCharge | None = None
    """A lower power that is stated for a low state of charge."""
