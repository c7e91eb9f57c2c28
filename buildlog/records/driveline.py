"""Clutch, flywheel, gearbox, driveshaft, final drive, tyres; motor and battery."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from buildlog.records.base import Count, Listed, Measure, Text, absent
from buildlog.records.engine import EngineSpeed, Power, SubAssembly, Torque
from buildlog.records.parts import Assembly
from buildlog.records.traits import (
    CALIBRATION_BY_ROAD_SPEED,
    MARGIN,
    NOTHING,
    UNMODELLED,
    Here,
    Moves,
)
from buildlog.units import Quantity

Ratio = Annotated[float, Field(gt=0.1, lt=30)]
Diameter = Annotated[Quantity, Measure("length", "30 mm", "800 mm")]


class Clutch(Assembly):
    """The clutch between engine and gearbox."""

    fields_move: ClassVar[Moves] = UNMODELLED | MARGIN

    kind: Literal["organic", "woven", "moulded", "ceramic", "sintered", "carbon"] | None = absent(
        "The sort of facing."
    )
    faces: Annotated[int, Field(ge=1, le=12)] | None = absent(
        "Number of rubbing faces: two for a single disc."
    )
    outer_diameter: Diameter | None = absent("Outer diameter of the facing.")
    inner_diameter: Diameter | None = absent("Inner diameter of the facing.")
    friction_coefficient: Annotated[float, Field(gt=0.02, le=1)] | None = absent(
        "Friction coefficient of the facing."
    )
    clamp_force: Annotated[Quantity, Measure("force", "0.2 kN", "60 kN")] | None = absent(
        "Force of the pressure plate."
    )
    rated_torque: Annotated[Torque, MARGIN] | None = absent("The torque its supplier rates it for.")


class Flywheel(Assembly):
    """The flywheel."""

    kind: Annotated[Literal["single", "dual-mass"], UNMODELLED] | None = absent(
        "In one piece or with a damper inside."
    )
    mass: Annotated[Quantity, Measure("mass", "0.5 kg", "60 kg"), UNMODELLED] | None = absent(
        "Its mass."
    )
    inertia: (
        Annotated[Quantity, Measure("inertia", "0.001 kg*m^2", "3 kg*m^2"), UNMODELLED] | None
    ) = absent("Its moment of inertia.")
    material: (
        Annotated[Literal["grey-iron", "ductile-iron", "steel", "aluminium"], UNMODELLED | MARGIN]
        | None
    ) = absent("What it is made of.")
    diameter: Annotated[Diameter, UNMODELLED | MARGIN] | None = absent("Its outer diameter.")
    speed_limit: Annotated[EngineSpeed, MARGIN] | None = absent("The speed its supplier allows.")


class Gearbox(Assembly):
    """The gearbox; ratios from first gear up."""

    kind: Annotated[Literal["manual", "automatic", "dual-clutch"], UNMODELLED | MARGIN] | None = (
        absent("How it changes gear.")
    )
    ratios: (
        Annotated[
            tuple[Ratio, ...], Field(min_length=1, max_length=12), Listed, UNMODELLED | MARGIN
        ]
        | None
    ) = absent("Ratios of the forward gears, first gear first.")
    primary_ratio: Annotated[float, Field(ge=0.5, le=5), UNMODELLED | MARGIN] | None = absent(
        "Reduction between crankshaft and clutch, as motorcycles have; 1 where there is none."
    )
    rated_torque: Annotated[Torque, MARGIN] | None = absent(
        "The input torque its maker or builder rates it for."
    )
    fluid: Annotated[Text, UNMODELLED] | None = absent("What it is filled with.")
    converter: SubAssembly | None = absent("Torque converter of an automatic.")


class Driveshaft(Assembly):
    """The shaft from the gearbox to the driven axle."""

    fields_move: ClassVar[Moves] = UNMODELLED | MARGIN

    length: Annotated[Quantity, Measure("length", "100 mm", "4 m")] | None = absent(
        "Length between its joints."
    )
    outer_diameter: Annotated[Quantity, Measure("length", "15 mm", "200 mm")] | None = absent(
        "Outer diameter of the tube."
    )
    wall: Annotated[Quantity, Measure("length", "0.5 mm", "100 mm")] | None = absent(
        "Wall thickness of the tube."
    )
    material: Literal["steel", "aluminium", "carbon"] | None = absent("What it is made of.")
    shear_strength: Annotated[Quantity, Measure("pressure", "10 MPa", "2 GPa")] | None = absent(
        "Shear stress its maker allows."
    )
    speed_limit: Annotated[EngineSpeed, MARGIN] | None = absent("The speed its supplier allows.")
    rated_torque: Annotated[Torque, MARGIN] | None = absent("The torque its supplier rates it for.")


class Axle(SubAssembly):
    """One final drive."""

    ratio: Annotated[Ratio, UNMODELLED | MARGIN | CALIBRATION_BY_ROAD_SPEED] | None = absent(
        "Turns of the pinion for one of the wheels."
    )
    rated_torque: Annotated[Torque, MARGIN] | None = absent("The input torque it is rated for.")


class FinalDrive(Axle):
    """The final drive, or one in front and one behind."""

    front: Annotated[Axle, Here(kind=UNMODELLED | CALIBRATION_BY_ROAD_SPEED)] | None = absent(
        "Final drive of the front axle."
    )
    rear: Annotated[Axle, Here(kind=UNMODELLED | CALIBRATION_BY_ROAD_SPEED)] | None = absent(
        "Final drive of the rear axle."
    )


class TyreSet(SubAssembly):
    """Tyres of one size."""

    size: Annotated[Text, UNMODELLED | MARGIN] | None = absent("The size as marked: 205/55 R16.")
    speed_symbol: Annotated[str, Field(pattern=r"^[A-Z]$"), MARGIN] | None = absent(
        "The speed symbol as marked."
    )
    load_index: Annotated[int, Field(ge=40, le=150), MARGIN] | None = absent(
        "The load index as marked."
    )
    pressure: Annotated[Quantity, Measure("pressure", "50 kPa", "600 kPa"), UNMODELLED] | None = (
        absent("Cold inflation pressure above ambient.")
    )
    rolling_circumference: (
        Annotated[Quantity, Measure("length", "0.8 m", "4 m"), UNMODELLED | MARGIN] | None
    ) = absent("Measured distance rolled in one turn.")
    made: Annotated[str, Field(pattern=r"^\d{4}$"), MARGIN] | None = absent(
        "Week and year as marked: 2319 is week 23 of 2019."
    )


class Tyres(TyreSet):
    """The tyres, or one set in front and one behind."""

    front: TyreSet | None = absent("Tyres of the front axle.")
    rear: TyreSet | None = absent("Tyres of the rear axle.")


class Motor(Assembly):
    """The electric motor of a hybrid or electric car: declared values only."""

    rated_power: Annotated[Power, NOTHING] | None = absent("The maker's power.")
    rated_torque: Annotated[Torque, MARGIN] | None = absent("The maker's torque.")
    speed_limit: (
        Annotated[Quantity, Measure("angular_speed", "100 rpm", "40000 rpm"), MARGIN] | None
    ) = absent("The speed the maker allows.")
    count: Annotated[Count, UNMODELLED] | None = absent("How many there are.")


class Battery(Assembly):
    """The traction battery: declared values only."""

    energy: Annotated[Quantity, Measure("energy", "0.1 kWh", "500 kWh"), NOTHING] | None = absent(
        "Usable energy when new."
    )
    voltage: Annotated[Quantity, Measure("voltage", "10 V", "1500 V"), NOTHING] | None = absent(
        "Nominal voltage."
    )
    rated_power: Annotated[Power, MARGIN] | None = absent("The power the maker states.")
