"""Forced induction: compressor, turbine, boost, charge cooler, belt; nitrous and injection."""

from typing import Annotated, Literal

from pydantic import Field

from buildlog.records.base import Count, Measure, Text, absent
from buildlog.records.engine import Power, SubAssembly
from buildlog.records.parts import Assembly
from buildlog.units import Quantity

Fraction = Annotated[float, Field(gt=0, le=1)]
Pulley = Annotated[Quantity, Measure("length", "20 mm", "400 mm")]
Boost = Annotated[Quantity, Measure("pressure", "0 kPa", "600 kPa")]
ShaftSpeed = Annotated[Quantity, Measure("angular_speed", "1000 rpm", "400000 rpm")]
InductionKind = Literal[
    "naturally-aspirated", "positive-displacement", "centrifugal", "turbocharger"
]


class Compressor(SubAssembly):
    """What compresses the charge."""

    displacement_per_rev: Annotated[Quantity, Measure("volume", "20 cc", "20 L")] | None = absent(
        "Volume a positive-displacement compressor moves in one turn."
    )
    drive_ratio: Annotated[float, Field(gt=0.1, lt=30)] | None = absent(
        "Turns of the compressor for one of the crank, pulleys and gears together."
    )
    crank_pulley_diameter: Pulley | None = absent("Diameter of the pulley on the crank.")
    compressor_pulley_diameter: Pulley | None = absent("Diameter of the pulley on the compressor.")
    step_up_ratio: Annotated[float, Field(gt=0.1, lt=30)] | None = absent(
        "Gears inside the compressor: turns of the rotor for one of its pulley."
    )
    efficiency: Fraction | None = absent("Adiabatic efficiency where it works.")
    volumetric_efficiency: Fraction | None = absent(
        "Air moved divided by the volume it sweeps, where it works."
    )
    speed_limit: ShaftSpeed | None = absent("The rotor speed the maker allows.")
    stated_pressure_ratio: Annotated[float, Field(ge=1, le=8)] | None = absent(
        "Pressure ratio at the maker's stated point."
    )
    stated_speed: ShaftSpeed | None = absent("Rotor speed at the maker's stated point.")
    flow_limit: Annotated[Quantity, Measure("mass_flow", "1 g/s", "5 kg/s")] | None = absent(
        "The largest air flow the maker states."
    )
    map: Text | None = absent("File under attachments with the maker's map.")
    count: Count | None = absent("How many of them work side by side.")


class Turbine(SubAssembly):
    """What drives a turbocharger."""

    inlet_limit: Annotated[Quantity, Measure("temperature", "400 degC", "1400 degC")] | None = (
        absent("The gas temperature the maker allows before the turbine.")
    )
    back_pressure_ratio: Annotated[float, Field(ge=0.5, le=5)] | None = absent(
        "Absolute pressure before the turbine divided by absolute boost pressure, at full load."
    )


class BoostControl(Assembly):
    """How much boost, and what holds it."""

    target_gauge: Boost | None = absent("Boost at full load above ambient.")
    relief_gauge: Boost | None = absent("Boost at which the relief or bypass opens.")
    control: Literal["none", "spring", "closed-loop-absolute", "closed-loop-gauge"] | None = absent(
        "What holds the boost; a closed loop to an absolute pressure does not follow the weather."
    )
    threshold_speed: (
        Annotated[Quantity, Measure("angular_speed", "500 rpm", "15000 rpm")] | None
    ) = absent("Engine speed from which the target is held at full load.")


class ChargeCooler(SubAssembly):
    """What cools the compressed charge."""

    kind: Literal["air", "water"] | None = absent("Cooled by air or by water.")
    effectiveness: Fraction | None = absent(
        "Temperature drop of the charge over the most it could drop."
    )
    pressure_drop: Annotated[Quantity, Measure("pressure", "0 kPa", "60 kPa")] | None = absent(
        "Pressure lost in it at full load."
    )
    rated_heat: Power | None = absent("The heat it is stated to carry off.")


class Belt(SubAssembly):
    """The belt that drives the compressor."""

    width: Annotated[Quantity, Measure("length", "5 mm", "150 mm")] | None = absent("Belt width.")
    ribs: Annotated[int, Field(ge=1, le=40)] | None = absent("Number of ribs.")
    wrap_angle: Annotated[Quantity, Measure("angle", "30 deg", "330 deg")] | None = absent(
        "Angle of the compressor pulley that the belt lies on."
    )
    installed_tension: Annotated[Quantity, Measure("force", "20 N", "10 kN")] | None = absent(
        "Tension of one strand with the engine at rest."
    )
    rated_power_per_rib: Annotated[Quantity, Measure("power", "0.1 kW", "20 kW")] | None = absent(
        "The power the belt maker states for one rib at this pulley and speed."
    )
    speed_limit: Annotated[Quantity, Measure("speed", "5 m/s", "150 m/s")] | None = absent(
        "The belt speed the maker allows."
    )


class Induction(Assembly):
    """How the engine gets its air."""

    kind: InductionKind | None = absent("Naturally aspirated, or what compresses the charge.")
    compressor: Compressor | None = absent("The compressor.")
    turbine: Turbine | None = absent("The turbine of a turbocharger.")
    boost: BoostControl | None = absent("Boost and what holds it.")
    charge_cooler: ChargeCooler | None = absent("The charge cooler.")
    belt: Belt | None = absent("The belt of a driven compressor.")


class Nitrous(Assembly):
    """Nitrous oxide."""

    kind: Literal["dry", "wet"] | None = absent("With its own fuel (wet) or without (dry).")
    flow: Annotated[Quantity, Measure("mass_flow", "0.1 g/s", "1 kg/s")] | None = absent(
        "Nitrous flow, all stages on."
    )
    stages: Count | None = absent("Number of stages.")


class ChargeInjection(Assembly):
    """Water or methanol sprayed into the charge."""

    kind: Literal["water", "methanol", "water-methanol"] | None = absent("What is sprayed.")
    flow: (
        Annotated[Quantity, Measure(("volume_flow", "mass_flow"), "1 cc/min", "20 L/min")] | None
    ) = absent("Flow at full load, all stages on.")
    stages: Count | None = absent("Number of stages.")
