"""Headers, catalysts, pipe, mufflers, sound."""

from typing import Annotated, Literal

from buildlog.records.base import Count, Measure, Text, absent
from buildlog.records.engine import SubAssembly
from buildlog.records.parts import Assembly
from buildlog.records.traits import MARGIN, NOTHING, PREDICTION, UNMODELLED
from buildlog.units import Quantity

Pipe = Annotated[Quantity, Measure("length", "15 mm", "200 mm")]


class Headers(SubAssembly):
    """From the ports to the first joint."""

    kind: Annotated[Literal["cast", "log", "shorty", "long-tube"], PREDICTION] | None = absent(
        "Which sort they are."
    )
    primary_diameter: Annotated[Pipe, UNMODELLED] | None = absent(
        "Inside diameter of a primary pipe."
    )
    primary_length: Annotated[Quantity, Measure("length", "50 mm", "2 m"), UNMODELLED] | None = (
        absent("Length of a primary pipe.")
    )


class Catalysts(SubAssembly):
    """Catalytic converters."""

    count: Annotated[Count, UNMODELLED] | None = absent("How many are fitted.")
    kind: Annotated[Literal["original", "high-flow", "none"], PREDICTION] | None = absent(
        "Which sort is fitted."
    )
    exemption: Annotated[Text, NOTHING] | None = absent(
        "The exemption or approval number for this very car."
    )


class Exhaust(Assembly):
    """From the headers to the tail."""

    pipe_diameter: Annotated[Pipe, PREDICTION] | None = absent("Inside diameter of the main pipe.")
    mufflers: Annotated[Count, PREDICTION] | None = absent("Number of mufflers.")
    back_pressure: (
        Annotated[Quantity, Measure("pressure", "0 kPa", "200 kPa"), PREDICTION | MARGIN] | None
    ) = absent("Measured pressure above ambient after the headers or turbine, at full load.")
    back_pressure_at_power: (
        Annotated[Quantity, Measure("power", "1 kW", "3000 kW"), PREDICTION | MARGIN] | None
    ) = absent("Wheel power at which the back-pressure was measured.")
    sound_level: Annotated[Quantity, Measure("sound_level", "40 dB", "140 dB"), NOTHING] | None = (
        absent("Measured sound level.")
    )
    sound_method: Annotated[Text, NOTHING] | None = absent("How the sound level was measured.")
    headers: Headers | None = absent("Headers or manifold.")
    catalysts: Catalysts | None = absent("Catalytic converters.")
    muffler: SubAssembly | None = absent("Mufflers as parts.")
