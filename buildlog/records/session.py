"""`session.toml`: one visit to a dyno with one car."""

import datetime as dt
import difflib
from typing import Annotated, Literal

from pydantic import AfterValidator, Field
from pydantic_core import PydanticCustomError

from buildlog.channels import CHANNELS
from buildlog.records.car.calibration import SHA256, PathValues
from buildlog.records.car.driveline import TyrePressure
from buildlog.records.car.engine import EngineSpeed
from buildlog.records.car.fuel import FuelKind, Octane, Share
from buildlog.records.car.induction import BoostControlKind
from buildlog.records.car.vehicle import Mass
from buildlog.records.fields.base import FileFormat, Listed, Measure, Note, Record, Text, WholeFile
from buildlog.records.fields.parts import Odometer
from buildlog.records.fields.traits import Label
from buildlog.units import Quantity


def _known_channel(name: str) -> str:
    if name not in CHANNELS:
        near = difflib.get_close_matches(name, CHANNELS, n=1)
        raise PydanticCustomError(
            "channel",
            '"{name}" is not a channel',
            {
                "name": name,
                "hint": f"did you mean {near[0]}?" if near else f"known: {', '.join(CHANNELS)}",
            },
        )
    return name


Channel = Annotated[
    str, AfterValidator(_known_channel), Field(json_schema_extra={"enum": [*CHANNELS]})
]

AirPressure = Annotated[Quantity, Measure("pressure", "45 kPa", "115 kPa", "absolute")]
AirTemperature = Annotated[Quantity, Measure("temperature", "-40 degC", "60 degC")]
EngineTemperature = Annotated[Quantity, Measure("temperature", "-40 degC", "200 degC")]
Humidity = Annotated[Quantity, Measure("ratio", "0 percent", "100 percent")]
Force = Annotated[Quantity, Measure("force", "0 N", "5000 N")]
ForcePerSpeed = Annotated[Quantity, Measure("force_per_speed", "-50 N*s/m", "500 N*s/m")]
ForcePerSpeedSquared = Annotated[
    Quantity, Measure("force_per_speed_squared", "0 N*s^2/m^2", "50 N*s^2/m^2")
]
Accuracy = Annotated[Quantity, Measure("ratio", "0 percent", "50 percent")]
DrumInertia = Annotated[Quantity, Measure("inertia", "0.1 kg*m^2", "20000 kg*m^2")]
AxisSpeed = Annotated[Quantity, Measure(("angular_speed", "speed"), "1 km/h", "25000 rpm")]
DynoKind = Literal["inertia", "eddy-brake", "hub", "road"]
_APPLIED = Label("correction already inside the numbers (none, a standard, unknown)")


class Air(Record):
    """The air the engine breathed. The pressure is the station's, never reduced to sea level."""

    temperature: Annotated[AirTemperature, Label('air temperature ("20 degC")')] | None = None
    """Air temperature at the engine's inlet."""
    pressure: Annotated[AirPressure, Label('air pressure at the place ("990 hPa")')] | None = None
    """Barometric pressure at the place, not at sea level."""
    humidity: Annotated[Humidity, Label('relative humidity ("45 percent")')] | None = None
    """Relative humidity."""


class Dyno(Record):
    """The machine."""

    id: Annotated[Text, Label("the shop's name for the dyno")] | None = None
    """The shop's own name for the machine; one machine, one name."""
    kind: Annotated[DynoKind, Label("its kind (inertia, eddy-brake, hub, road)")] | None = None
    """How it measures; road means a log of the moving car."""
    driven: Literal["two rollers", "four rollers", "hubs"] | None = None
    """What the car turns: power at the tires on rollers, at the hubs otherwise."""
    roller_circumference: Annotated[Quantity, Measure("length", "0.3 m", "12 m")] | None = None
    """Circumference of the roller."""
    drum_inertia: DrumInertia | None = None
    """Moment of inertia of all drums that turn together."""
    wheels_share: Accuracy | None = None
    """What the car's own wheels add to the inertia, as a share of the drum's."""
    parasitic_a: Force | None = None
    """Constant part of the machine's own drag at the roller."""
    parasitic_b: ForcePerSpeed | None = None
    """Part of its drag that grows with speed."""
    parasitic_c: ForcePerSpeedSquared | None = None
    """Part that grows with the square of speed."""
    accuracy: Accuracy | None = None
    """The accuracy its maker states: bias, not scatter."""
    smoothing_applied: Text | None = None
    """Smoothing already inside the file's numbers."""


class Road(Record):
    """What is needed to get power from a log of the moving car."""

    mass: Mass | None = None
    """The car's mass on that day, with all in it."""
    rotating_mass_factor: Annotated[float, Field(ge=1, le=3)] | None = None
    """Effective mass divided by mass, in the gear of the pull."""
    grade: Annotated[Quantity, Measure("ratio", "-20 percent", "20 percent")] | None = None
    """Grade of the road, uphill positive."""
    a: Force | None = None
    """Constant part of the road load."""
    b: ForcePerSpeed | None = None
    """Part of the road load that grows with speed."""
    c: ForcePerSpeedSquared | None = None
    """Part that grows with the square of speed."""


class KnownPoint(Record):
    """One place where engine speed was read beside road speed, for a session without it."""

    engine_speed: EngineSpeed | None = None
    """What the rev counter showed."""
    road_speed: Annotated[Quantity, Measure("speed", "5 km/h", "450 km/h")] | None = None
    """The road or roller speed at that moment, in the gear of the pulls."""
    reading: Accuracy | None = None
    """How well it could be read; 1 percent without it."""
    source: Text | None = None
    """Who read it, from what."""


class TankFuel(Record):
    """What was in the tank that day; it wins over car.toml for this session."""

    kind: FuelKind | None = None
    """What it was."""
    ethanol_content: Share | None = None
    """Ethanol by volume."""
    ron: Octane | None = None
    """Research octane number."""
    mon: Octane | None = None
    """Motor octane number."""
    aki: Octane | None = None
    """Octane as North American pumps state it, (R+M)/2; no research octane number."""


class Column(Record):
    """What one column of the raw files means."""

    channel: Channel
    """What it measures."""
    name: Text
    """Its heading in the file; with several alike, heading#2 is the second."""
    unit: Text | None = None
    """Its unit in the file; plain numbers have none."""
    at: Literal["wheel", "crank"] | None = None
    """For power and torque: at the wheels (the default) or reckoned to the crank by the machine."""
    display_stoichiometric: Annotated[float, Field(ge=5, le=20)] | None = None
    """What the instrument multiplied lambda by to show an air-fuel ratio."""
    delay: Annotated[Quantity, Measure("time", "-5 s", "5 s")] | None = None
    """How much later than the others this sensor shows."""
    range_high: Text | None = None
    """The largest value it can show, with its unit."""


class RawLayout(Record):
    """Where the table stands in a raw file and how it is written, as found when it was added.

    It is confirmed against the file whenever that is read, and found anew where it is not whole or
    does not fit.
    """

    delimiter: Literal["tab", "comma", "semicolon", "bar", "spaces"] | None = None
    """What stands between two cells of a line."""
    decimal: Literal["point", "comma"] | None = None
    """The decimal sign."""
    grouping: (
        Literal["point", "comma", "space", "no-break-space", "thin-space", "apostrophe", "quote"]
        | None
    ) = None
    """The sign between thousands, where the file has one."""
    first_line: Annotated[int, Field(ge=1)] | None = None
    """The first line of numbers, counted from 1."""
    columns: Annotated[int, Field(ge=1)] | None = None
    """How many columns the table has."""
    trailing: bool = False
    """Whether each line ends in one more delimiter."""
    words: Annotated[tuple[int, ...], Listed] = ()
    """Columns that hold no numbers, counted from 1."""


class Pull(Record):
    """One full-load sweep."""

    file: Text
    """The raw file in the session's folder."""
    key: Text | None = None
    """A name of its own where one file holds several runs."""
    rows: Annotated[tuple[int, int], Listed] | None = None
    """First and last data row of this run, counted from 1."""
    layout: RawLayout | None = None
    """How its file is read, where it differs."""
    column: Annotated[tuple[Column, ...], Listed] = ()
    """Columns of its own, where they differ from the session's."""
    note: Note | None = None
    """What was seen."""
    use: bool = True
    """Whether it counts."""
    reason: Text | None = None
    """Why it does not count."""
    calibration: Text | None = None
    """The calibration it was made with; groups the pulls."""
    change: PathValues | None = None
    """One quick trial: a quoted path and the value it had for this pull."""
    keep: bool = False
    """Whether this group's configuration is the one that stays."""
    gear: Annotated[int, Field(ge=1, le=12)] | None = None
    """Gear, where it differs."""
    start: dt.time | None = None
    """When it began."""
    air: Air | None = None
    """The air of this pull, where it differs."""
    coolant_start: EngineTemperature | None = None
    """Coolant temperature when it began."""
    intake_start: EngineTemperature | None = None
    """Intake temperature when it began."""
    nitrous: Literal["on", "off"] | None = None
    """Whether nitrous was used."""
    charge_injection: Literal["on", "off"] | None = None
    """Whether charge injection was used."""
    log: Text | None = None
    """A second file on another time base, to be aligned with this one."""
    log_shift: Annotated[Quantity, Measure("time", "-3600 s", "3600 s")] | None = None
    """The shift of that file, where the found one was refused."""
    log_by: Literal["time", "road_speed"] | None = None
    """What that file is aligned by, where it is not to be chosen by the program."""
    outside_sha256: SHA256 | None = None
    """SHA-256 of a larger file kept outside the ledger."""
    outside_size: Annotated[int, Field(gt=0)] | None = None
    """Size of that file in bytes."""

    @property
    def name(self) -> str:
        """How the pull is called: its key, else its file."""
        return self.key or self.file


class LoggerFile(Record):
    """A file of another logger, laid over a pull; where one file covers several, one for each."""

    file: Text
    """The logger's file in the session's folder."""
    pull: Text
    """The pull it is laid over, by its name."""
    source: Text | None = None
    """What the logger is called; its channels are named by it where the pull has the same."""
    rows: Annotated[tuple[int, int], Listed] | None = None
    """First and last data row that belong to this pull, counted from 1."""
    shift: Annotated[Quantity, Measure("time", "-1000000 s", "1000000 s")] | None = None
    """What is added to the logger's time to get the pull's, where it was stated."""
    layout: RawLayout | None = None
    """How its file is read."""
    column: Annotated[tuple[Column, ...], Listed] = ()
    """What its columns mean."""
    outside_sha256: SHA256 | None = None
    """SHA-256 of a larger file kept outside the ledger, of which this holds the pull's minutes."""
    outside_size: Annotated[int, Field(gt=0)] | None = None
    """Size of that file in bytes."""

    @property
    def name(self) -> str:
        """How it is told from the others of its session."""
        return f"{self.file} beside {self.pull}"

    @property
    def called(self) -> str:
        """The logger's name: as stated, else the file's without its ending."""
        return self.source or self.file.rsplit(".", 1)[0]


class Stated(Record):
    """Only a printout or a number exists."""

    quantity: Literal["power", "torque", "boost"]
    """What is stated."""
    value: Annotated[Quantity, Measure(("power", "torque", "pressure"), "0.1 kPa", "3000 kW")]
    """The number, with its unit."""
    at: AxisSpeed | None = None
    """The engine or road speed it holds for."""
    standard: Text | None = None
    """The standard it was corrected to."""
    measured_at: Literal["wheel", "crank"] | None = None
    """At the wheels or at the crank."""
    source: Text | None = None
    """Where the number comes from."""
    scan: Text | None = None
    """File under attachments that shows it."""


class Session(WholeFile):
    """One visit to a dyno with one car."""

    format: FileFormat
    """The format of this file."""
    date: dt.date
    """The day."""
    place: Annotated[Text, Label("where it was")] | None = None
    """Where it was."""
    altitude: Annotated[Quantity, Measure("length", "-450 m", "5500 m")] | None = None
    """The place's height above sea level."""
    odometer: Annotated[Odometer, Label('odometer ("88412 mi")')] | None = None
    """Odometer when the pulls were made."""
    gear: Annotated[int, Field(ge=1, le=12), Label("gear of the pulls")] | None = None
    """The gear of the pulls."""
    lockup: Literal["locked", "slipping", "unknown"] | None = None
    """Whether the converter of an automatic was locked."""
    standard_applied: Annotated[Text, _APPLIED] | None = None
    """The standard whose correction is already inside the file's numbers, none, or unknown."""
    boost_control: BoostControlKind | None = None
    """What held the boost on that day."""
    tyre_pressure: TyrePressure | None = None
    """Tire pressure of the driven wheels."""
    strapping: Text | None = None
    """How the car was strapped down."""
    configuration: Annotated[str, Field(pattern="^[0-9a-f]{7,40}$")] | None = None
    """Id of the entry whose configuration was measured, where the file came late."""
    dyno: Dyno | None = None
    """The machine."""
    road: Road | None = None
    """For a log of the moving car."""
    known_point: KnownPoint | None = None
    """Engine speed read once, where none was logged."""
    air: Air | None = None
    """The air."""
    fuel: TankFuel | None = None
    """The fuel in the tank."""
    layout: RawLayout | None = None
    """How the raw files are read."""
    column: Annotated[tuple[Column, ...], Listed] = ()
    """What the columns of the raw files mean."""
    log_column: Annotated[tuple[Column, ...], Listed] = ()
    """What the columns of the pulls' second files mean."""
    pull: Annotated[tuple[Pull, ...], Listed] = ()
    """The pulls."""
    log: Annotated[tuple[LoggerFile, ...], Listed] = ()
    """Files of other loggers, beside the pulls'."""
    stated: Annotated[tuple[Stated, ...], Listed] = ()
    """Values for which there is no raw file."""
    note: Note | None = None
    """Anything else about the visit."""

    @property
    def raw_files(self) -> tuple[str, ...]:
        """Every raw file that it names, once: the pulls', then those of other loggers."""
        of_pulls = [name for pull in self.pull for name in (pull.file, pull.log) if name]
        return tuple(dict.fromkeys([*of_pulls, *(one.file for one in self.log)]))
