"""The car as a whole: its name, its use, its chassis."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from buildlog.records.car.exhaust import WheelPower
from buildlog.records.car.induction import Boost
from buildlog.records.fields.base import Listed, Measure, Note, Record, Text
from buildlog.records.fields.parts import Assembly, Odometer, Part
from buildlog.records.fields.traits import MARGIN, NOTHING, UNMODELLED, Moves
from buildlog.units import Quantity

Mass = Annotated[Quantity, Measure("mass", "50 kg", "20000 kg")]
PerSpeed = Annotated[Quantity, Measure("force_per_speed", "-50 N*s/m", "200 N*s/m")]
PerSpeedSquared = Annotated[
    Quantity, Measure("force_per_speed_squared", "0 N*s^2/m^2", "10 N*s^2/m^2")
]
PowerSource = Literal["spark-ignition", "compression-ignition", "hybrid", "electric"]


class Car(Record):
    """What the car is called and what drives it."""

    fields_move: ClassVar[Moves] = NOTHING

    name: Text
    """What the car is called: make, model, version."""
    year: Annotated[int, Field(ge=1885, le=2100)] | None = None
    """The model year."""
    vin: Text | None = None
    """The vehicle identification number, 17 characters."""
    chassis_number: Text | None = None
    """The chassis number of a car that has no 17-character one."""
    market: Literal["north-america", "other"] | None = None
    """Where it was sold new: the check digit of the VIN is a North American rule."""
    colour: Text | None = None
    """The color, for telling cars apart."""
    power_source: Annotated[PowerSource, MARGIN] | None = None
    """What drives it; fuel sums need spark ignition."""
    vehicle: Annotated[Literal["car", "motorcycle"], MARGIN] = "car"
    """A car unless said otherwise."""
    note: Note | None = None
    """Anything else about the car; nothing about persons."""


class Intent(Record):
    """What the car is for, and the limits the owner set."""

    fields_move: ClassVar[Moves] = NOTHING

    use: Text | None = None
    """What the car is used for."""
    jurisdiction: Text | None = None
    """Where it is registered and inspected."""
    fuel_available: Annotated[tuple[Text, ...], Listed] | None = None
    """The kinds of fuel the owner can buy where he lives, best first."""
    sound_level_limit: Annotated[Quantity, Measure("sound_level", "40 dB", "130 dB")] | None = None
    """How loud it may be, measured as exhaust.sound_method says."""
    keep_emission_equipment: bool | None = None
    """Whether emission equipment is to stay fitted."""
    wheel_power_limit: WheelPower | None = None
    """More power at the wheels than this is not wanted."""
    boost_limit_gauge: Boost | None = None
    """More boost than this is not wanted."""
    inspection: Text | None = None
    """Which inspection it has to pass."""
    note: Note | None = None
    """What else was agreed; no budget, nothing about persons."""


class Chassis(Assembly):
    """Mass, drag and driven wheels."""

    fields_move: ClassVar[Moves] = UNMODELLED | MARGIN

    mass: Mass | None = None
    """The mass as tested, with driver."""
    drag_area: Annotated[Quantity, Measure("area", "0.1 m^2", "6 m^2"), UNMODELLED] | None = None
    """Drag coefficient times frontal area."""
    rolling_coefficient: Annotated[float, Field(ge=0.002, le=0.1), UNMODELLED] | None = None
    """Rolling resistance divided by weight."""
    driven_wheels: Literal["rear", "front", "all"] | None = None
    """Which wheels are driven."""
    driven_axle_load: Mass | None = None
    """The mass the driven wheels carry, with driver."""
    front_axle_load: Mass | None = None
    """The mass the front wheels carry, with driver."""
    rear_axle_load: Mass | None = None
    """The mass the rear wheels carry, with driver."""
    wheelbase: Annotated[Quantity, Measure("length", "0.8 m", "6 m")] | None = None
    """Distance between the axles."""
    centre_of_gravity_height: Annotated[Quantity, Measure("length", "0.1 m", "2 m")] | None = None
    """Height of the center of gravity above the road."""
    grip_coefficient: Annotated[float, Field(ge=0.1, le=2.5)] | None = None
    """Largest tire force divided by wheel load, dry road."""
    road_load_a: Annotated[Quantity, Measure("force", "0 N", "5000 N"), UNMODELLED] | None = None
    """Constant part of the road load, from a coast-down."""
    road_load_b: Annotated[PerSpeed, UNMODELLED] | None = None
    """Part of the road load that grows with speed."""
    road_load_c: Annotated[PerSpeedSquared, UNMODELLED] | None = None
    """Part of the road load that grows with the square of speed."""


class Work(Record):
    """Work without physics: paint, seats, detailing, suspension."""

    fields_move: ClassVar[Moves] = NOTHING

    item: Text
    """What was worked on; the name by which it is found again."""
    note: Note | None = None
    """What was done."""
    part: Part | None = None
    """The piece that was fitted."""


class OdometerOffset(Record):
    """A continuous total where an instrument was replaced or did not count."""

    fields_move: ClassVar[Moves] = NOTHING

    key: Text
    """A short name for this offset."""
    distance: Annotated[Quantity, Measure("length", "-3000000 km", "3000000 km")]
    """What to add to the reading to get the distance the car has run."""
    from_entry: Text | None = None
    """The id of the entry from which it holds; without it, the entry that first has this table."""
    reading: Odometer | None = None
    """What the new instrument showed when it was fitted."""
    reason: Text
    """Why the reading and the distance run differ."""
