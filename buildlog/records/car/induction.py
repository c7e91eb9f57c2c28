"""Forced induction: compressor, turbine, boost, charge cooler, belt; nitrous and injection."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from buildlog.records.car.engine import AirFlow, Power, SubAssembly
from buildlog.records.fields.base import Count, Listed, Measure, Text
from buildlog.records.fields.parts import Assembly
from buildlog.records.fields.traits import CALIBRATION, MARGIN, PREDICTION, UNMODELLED, Moves
from buildlog.units import Quantity

Fraction = Annotated[float, Field(gt=0, le=1)]
Pulley = Annotated[Quantity, Measure("length", "20 mm", "400 mm")]
Boost = Annotated[Quantity, Measure("pressure", "0 kPa", "600 kPa", "gauge")]
ShaftSpeed = Annotated[Quantity, Measure("angular_speed", "1000 rpm", "400000 rpm")]
Displaced = Annotated[Quantity, Measure("volume", "20 cc", "20 L")]
PressureRatio = Annotated[float, Field(ge=1, le=8)]
Turns = Annotated[float, Field(gt=0.1, lt=30)]
SurgeRatios = Annotated[tuple[PressureRatio, ...], Field(min_length=2, max_length=40)]
SurgeFlows = Annotated[tuple[AirFlow, ...], Field(min_length=2, max_length=40)]
GasTemperature = Annotated[Quantity, Measure("temperature", "400 degC", "1400 degC")]
Threshold = Annotated[Quantity, Measure("angular_speed", "500 rpm", "15000 rpm")]
CoolerDrop = Annotated[Quantity, Measure("pressure", "0 kPa", "60 kPa")]
NitrousFlow = Annotated[Quantity, Measure("mass_flow", "0.1 g/s", "1 kg/s")]
InjectedFlow = Annotated[Quantity, Measure(("volume_flow", "mass_flow"), "1 cc/min", "20 L/min")]
BoostControlKind = Literal["none", "spring", "closed-loop-absolute", "closed-loop-gauge"]
Injected = Literal["water", "methanol", "water-methanol"]
InductionKind = Literal[
    "naturally-aspirated", "positive-displacement", "centrifugal", "turbocharger"
]


class Compressor(SubAssembly):
    """What compresses the charge."""

    displacement_per_rev: Annotated[Displaced, PREDICTION | CALIBRATION] | None = None
    """Volume a positive-displacement compressor moves in one turn."""
    drive_ratio: Annotated[Turns, PREDICTION | MARGIN | CALIBRATION] | None = None
    """Turns of the compressor for one of the crank, pulleys and gears together."""
    crank_pulley_diameter: Annotated[Pulley, PREDICTION | MARGIN | CALIBRATION] | None = None
    """Diameter of the pulley on the crank."""
    compressor_pulley_diameter: Annotated[Pulley, PREDICTION | MARGIN | CALIBRATION] | None = None
    """Diameter of the pulley on the compressor."""
    step_up_ratio: Annotated[Turns, PREDICTION | MARGIN | CALIBRATION] | None = None
    """Gears inside the compressor: turns of the rotor for one of its pulley."""
    efficiency: Annotated[Fraction, PREDICTION | MARGIN] | None = None
    """Adiabatic efficiency where it works."""
    volumetric_efficiency: Annotated[Fraction, PREDICTION] | None = None
    """Air moved divided by the volume it sweeps, where it works."""
    speed_limit: Annotated[ShaftSpeed, MARGIN] | None = None
    """The rotor speed the maker allows."""
    stated_pressure_ratio: Annotated[PressureRatio, UNMODELLED | MARGIN] | None = None
    """Pressure ratio at the maker's stated point."""
    stated_speed: Annotated[ShaftSpeed, UNMODELLED | MARGIN] | None = None
    """Rotor speed at the maker's stated point."""
    flow_limit: Annotated[AirFlow, MARGIN] | None = None
    """The largest air flow the maker states."""
    surge_pressure_ratios: Annotated[SurgeRatios, Listed, MARGIN] | None = None
    """Pressure ratios of points of the maker's surge line, rising."""
    surge_flows: Annotated[SurgeFlows, Listed, MARGIN] | None = None
    """The flow on the surge line at each of these, corrected as the map is."""
    map: Annotated[Text, UNMODELLED] | None = None
    """File under attachments with the maker's map."""
    count: Annotated[Count, UNMODELLED | MARGIN] | None = None
    """How many of them work side by side."""


class Turbine(SubAssembly):
    """What drives a turbocharger."""

    inlet_limit: Annotated[GasTemperature, MARGIN] | None = None
    """The gas temperature the maker allows before the turbine."""
    back_pressure_ratio: Annotated[float, Field(ge=0.5, le=5), PREDICTION] | None = None
    """Absolute pressure before the turbine divided by absolute boost pressure, at full load."""


class BoostControl(Assembly):
    """How much boost, and what holds it."""

    target_gauge: Annotated[Boost, PREDICTION | MARGIN | CALIBRATION] | None = None
    """Boost at full load above ambient."""
    relief_gauge: Annotated[Boost, PREDICTION | MARGIN | CALIBRATION] | None = None
    """Boost at which the relief or bypass opens."""
    control: Annotated[BoostControlKind, PREDICTION | CALIBRATION] | None = None
    """What holds the boost; a closed loop to an absolute pressure does not follow the weather."""
    threshold_speed: Annotated[Threshold, PREDICTION | MARGIN] | None = None
    """Engine speed from which the target is held at full load."""


class ChargeCooler(SubAssembly):
    """What cools the compressed charge."""

    kind: Annotated[Literal["air", "water"], UNMODELLED] | None = None
    """Cooled by air or by water."""
    effectiveness: Annotated[Fraction, PREDICTION | MARGIN] | None = None
    """Temperature drop of the charge over the most it could drop."""
    pressure_drop: Annotated[CoolerDrop, PREDICTION | MARGIN] | None = None
    """Pressure lost in it at full load."""
    rated_heat: Annotated[Power, MARGIN] | None = None
    """The heat it is stated to carry off."""


class Belt(SubAssembly):
    """The belt that drives the compressor."""

    fields_move: ClassVar[Moves] = UNMODELLED | MARGIN

    width: Annotated[Quantity, Measure("length", "5 mm", "150 mm"), UNMODELLED] | None = None
    """Belt width."""
    ribs: Annotated[int, Field(ge=1, le=40)] | None = None
    """Number of ribs."""
    wrap_angle: Annotated[Quantity, Measure("angle", "30 deg", "330 deg")] | None = None
    """Angle of the compressor pulley that the belt lies on."""
    installed_tension: Annotated[Quantity, Measure("force", "20 N", "10 kN")] | None = None
    """Tension of one strand with the engine at rest."""
    rated_power_per_rib: Annotated[Quantity, Measure("power", "0.1 kW", "20 kW")] | None = None
    """The power the belt maker states for one rib at this pulley and speed."""
    speed_limit: Annotated[Quantity, Measure("speed", "5 m/s", "150 m/s"), MARGIN] | None = None
    """The belt speed the maker allows."""


class Induction(Assembly):
    """How the engine gets its air."""

    kind: Annotated[InductionKind, PREDICTION | MARGIN | CALIBRATION] | None = None
    """Naturally aspirated, or what compresses the charge."""
    compressor: Compressor | None = None
    """The compressor."""
    turbine: Turbine | None = None
    """The turbine of a turbocharger."""
    boost: BoostControl | None = None
    """Boost and what holds it."""
    charge_cooler: ChargeCooler | None = None
    """The charge cooler."""
    belt: Belt | None = None
    """The belt of a driven compressor."""


class Nitrous(Assembly):
    """Nitrous oxide."""

    kind: Annotated[Literal["dry", "wet"], UNMODELLED | MARGIN | CALIBRATION] | None = None
    """With its own fuel (wet) or without (dry)."""
    flow: Annotated[NitrousFlow, UNMODELLED | MARGIN | CALIBRATION] | None = None
    """Nitrous flow, all stages on."""
    stages: Annotated[Count, UNMODELLED] | None = None
    """Number of stages."""


class ChargeInjection(Assembly):
    """Water or methanol sprayed into the charge."""

    kind: Annotated[Injected, UNMODELLED | MARGIN | CALIBRATION] | None = None
    """What is sprayed."""
    flow: Annotated[InjectedFlow, UNMODELLED | MARGIN | CALIBRATION] | None = None
    """Flow at full load, all stages on."""
    stages: Annotated[Count, UNMODELLED] | None = None
    """Number of stages."""
