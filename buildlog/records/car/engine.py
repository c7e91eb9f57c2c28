"""The engine, what it breathes through and what lights its fuel."""

from typing import Annotated, Literal

from pydantic import Field

from buildlog.records.fields.base import Count, Measure, Text
from buildlog.records.fields.parts import Assembly
from buildlog.records.fields.traits import (
    CALIBRATION,
    MARGIN,
    NOTHING,
    PREDICTION,
    UNMODELLED,
    Here,
)
from buildlog.units import Quantity

EngineSpeed = Annotated[Quantity, Measure("angular_speed", "100 rpm", "25000 rpm")]
Power = Annotated[Quantity, Measure("power", "0.5 kW", "3000 kW")]
CrankPower = Annotated[Quantity, Measure("power", "0.5 kW", "3000 kW", "crank")]
Torque = Annotated[Quantity, Measure("torque", "1 N*m", "20000 N*m")]
Bore = Annotated[Quantity, Measure("length", "20 mm", "300 mm")]
Displacement = Annotated[Quantity, Measure("volume", "20 cc", "30 L")]
RodLength = Annotated[Quantity, Measure("length", "40 mm", "500 mm")]
CompressionRatio = Annotated[float, Field(ge=4, le=30)]
CrankLimit = Annotated[Quantity, Measure(("power", "torque"), "1 kW", "3000 kW", "crank")]
PistonSpeed = Annotated[Quantity, Measure("speed", "5 m/s", "40 m/s")]
AirFlow = Annotated[Quantity, Measure("mass_flow", "1 g/s", "5 kg/s")]
SensorRange = Annotated[Quantity, Measure("pressure", "80 kPa", "1000 kPa", "absolute")]
Throttle = Annotated[Quantity, Measure("length", "15 mm", "150 mm")]
Advance = Annotated[Quantity, Measure("angle", "-20 deg", "70 deg")]
Opening = Annotated[Quantity, Measure("temperature", "40 degC", "120 degC")]


class SubAssembly(Assembly):
    """A piece of an assembly that has a life of its own."""

    kind: Annotated[Text, UNMODELLED] | None = None
    """Which sort it is."""


class Engine(Assembly):
    """The engine as built. Displacement follows from bore, stroke and cylinders."""

    code: Annotated[Text, UNMODELLED] | None = None
    """The maker's engine code."""
    layout: Annotated[Literal["inline", "vee", "flat", "rotary"], UNMODELLED | MARGIN] | None = None
    """How the cylinders stand."""
    cylinders: Annotated[int, Field(ge=1, le=24), PREDICTION | CALIBRATION] | None = None
    """Number of cylinders or rotors."""
    bore: Annotated[Bore, PREDICTION | CALIBRATION] | None = None
    """Cylinder bore."""
    stroke: Annotated[Bore, PREDICTION | MARGIN | CALIBRATION] | None = None
    """Piston stroke."""
    displacement: Annotated[Displacement, PREDICTION | CALIBRATION] | None = None
    """The maker's figure; needed only where bore and stroke do not give it."""
    connecting_rod_length: Annotated[RodLength, UNMODELLED] | None = None
    """Distance between the connecting rod's centers."""
    compression_ratio: Annotated[CompressionRatio, PREDICTION | MARGIN | CALIBRATION] | None = None
    """Largest cylinder volume divided by smallest."""
    valvetrain: Annotated[Text, UNMODELLED] | None = None
    """Camshafts and valves, for instance sohc-2v or dohc-4v."""
    rev_limit: Annotated[EngineSpeed, PREDICTION | MARGIN | CALIBRATION] | None = None
    """The speed the maker or builder allows; the calibration has its own limiter."""
    rated_power: Annotated[CrankPower, MARGIN] | None = None
    """The maker's power, at the crank."""
    rated_power_speed: Annotated[EngineSpeed, MARGIN] | None = None
    """Engine speed at the maker's power."""
    rated_torque: Annotated[Torque, MARGIN] | None = None
    """The maker's torque, at the crank."""
    rated_torque_speed: Annotated[EngineSpeed, NOTHING] | None = None
    """Engine speed at the maker's torque."""
    rated_standard: Annotated[Text, NOTHING] | None = None
    """The standard by which the maker rated it."""
    rotating_assembly_limit: Annotated[CrankLimit, MARGIN] | None = None
    """What the supplier rates crankshaft, rods and pistons for, at the crank."""
    mean_piston_speed_limit: Annotated[PistonSpeed, MARGIN] | None = None
    """The mean piston speed the supplier allows."""
    knock_control: Annotated[bool, UNMODELLED] | None = None
    """Whether the engine control retards spark on knock."""
    cylinder_head: SubAssembly | None = None
    """Cylinder head: ports, valves, springs."""
    camshaft: SubAssembly | None = None
    """Camshaft or camshafts."""
    pistons: SubAssembly | None = None
    """Pistons and rings."""
    connecting_rods: SubAssembly | None = None
    """Connecting rods and their bolts."""
    crankshaft: SubAssembly | None = None
    """Crankshaft and bearings."""
    head_gasket: SubAssembly | None = None
    """Cylinder head gasket."""
    timing_drive: SubAssembly | None = None
    """Timing belt or chain."""
    lubrication: SubAssembly | None = None
    """Oil, filter, pump, sump."""


class AirMeter(SubAssembly):
    """What measures the air for the engine control."""

    range_flow: Annotated[AirFlow, UNMODELLED | MARGIN | CALIBRATION] | None = None
    """The largest air flow it can show."""


class PressureSensor(SubAssembly):
    """What measures manifold pressure for the engine control."""

    range_absolute: Annotated[SensorRange, UNMODELLED | MARGIN | CALIBRATION] | None = None
    """The largest absolute pressure it can show."""


class Intake(Assembly):
    """Filter, ducts, throttle, manifold and what measures the air."""

    throttle_diameter: Annotated[Throttle, PREDICTION] | None = None
    """Throttle bore."""
    filter: SubAssembly | None = None
    """Air filter."""
    manifold: SubAssembly | None = None
    """Intake manifold."""
    air_meter: Annotated[AirMeter, Here(kind=UNMODELLED | CALIBRATION)] | None = None
    """Air-flow meter."""
    pressure_sensor: Annotated[PressureSensor, Here(kind=UNMODELLED | CALIBRATION)] | None = None
    """Manifold pressure sensor."""


class Ignition(Assembly):
    """Plugs, coils and leads, and what times the spark where no calibration does."""

    plug_gap: Annotated[Quantity, Measure("length", "0.2 mm", "2.5 mm"), UNMODELLED] | None = None
    """Spark plug gap."""
    plugs: SubAssembly | None = None
    """Spark plugs."""
    coils: SubAssembly | None = None
    """Ignition coils and leads."""
    distributor: SubAssembly | None = None
    """Distributor, with its advance."""
    initial_advance: Annotated[Advance, UNMODELLED] | None = None
    """Ignition advance at idle, vacuum off, in degrees of the crankshaft."""
    total_advance: Annotated[Advance, UNMODELLED] | None = None
    """Ignition advance with the mechanical advance all in, vacuum off."""
    total_advance_speed: Annotated[EngineSpeed, UNMODELLED] | None = None
    """Engine speed from which the mechanical advance is all in."""
    vacuum_advance: Annotated[Advance, UNMODELLED] | None = None
    """The most that the vacuum advance adds."""


class Cooling(Assembly):
    """Radiator, thermostat, fans, oil cooler."""

    rated_heat: Annotated[Power, MARGIN] | None = None
    """The heat the radiator is stated to carry off."""
    thermostat: Annotated[Opening, UNMODELLED] | None = None
    """Temperature at which the thermostat opens."""
    coolant: Annotated[Text, UNMODELLED] | None = None
    """What the cooling system is filled with."""
    fans: Annotated[Count, UNMODELLED] | None = None
    """Number of fans."""
    radiator: SubAssembly | None = None
    """Radiator."""
    water_pump: SubAssembly | None = None
    """Water pump."""
    oil_cooler: SubAssembly | None = None
    """Oil cooler."""
