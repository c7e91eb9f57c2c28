"""Headers, catalysts, pipe, mufflers, sound."""

from typing import Annotated, Literal

from buildlog.records.car.engine import SubAssembly
from buildlog.records.fields.base import Count, Measure, Text
from buildlog.records.fields.parts import Assembly
from buildlog.records.fields.traits import MARGIN, NOTHING, PREDICTION, UNMODELLED
from buildlog.units import Quantity

Pipe = Annotated[Quantity, Measure("length", "15 mm", "200 mm")]
BackPressure = Annotated[Quantity, Measure("pressure", "0 kPa", "200 kPa", "gauge")]
WheelPower = Annotated[Quantity, Measure("power", "1 kW", "3000 kW", "wheels")]
Sound = Annotated[Quantity, Measure("sound_level", "40 dB", "140 dB")]


class Headers(SubAssembly):
    """From the ports to the first joint."""

    kind: Annotated[Literal["cast", "log", "shorty", "long-tube"], PREDICTION] | None = None
    """Which sort they are."""
    primary_diameter: Annotated[Pipe, UNMODELLED] | None = None
    """Inside diameter of a primary pipe."""
    primary_length: Annotated[Quantity, Measure("length", "50 mm", "2 m"), UNMODELLED] | None = None
    """Length of a primary pipe."""


class Catalysts(SubAssembly):
    """Catalytic converters."""

    count: Annotated[Count, UNMODELLED] | None = None
    """How many are fitted."""
    kind: Annotated[Literal["original", "high-flow", "none"], PREDICTION] | None = None
    """Which sort is fitted."""
    exemption: Annotated[Text, NOTHING] | None = None
    """The exemption or approval number for this very car."""


class Exhaust(Assembly):
    """From the headers to the tail."""

    pipe_diameter: Annotated[Pipe, PREDICTION] | None = None
    """Inside diameter of the main pipe."""
    mufflers: Annotated[Count, PREDICTION] | None = None
    """Number of mufflers."""
    back_pressure: Annotated[BackPressure, PREDICTION | MARGIN] | None = None
    """Measured pressure above ambient after the headers or turbine, at full load."""
    back_pressure_at_power: Annotated[WheelPower, PREDICTION | MARGIN] | None = None
    """Wheel power at which the back-pressure was measured."""
    sound_level: Annotated[Sound, NOTHING] | None = None
    """Measured sound level."""
    sound_method: Annotated[Text, NOTHING] | None = None
    """How the sound level was measured."""
    headers: Headers | None = None
    """Headers or manifold."""
    catalysts: Catalysts | None = None
    """Catalytic converters."""
    muffler: SubAssembly | None = None
    """Mufflers as parts."""
