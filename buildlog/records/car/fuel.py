"""What the engine burns and how it gets there."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from buildlog.records.car.engine import SubAssembly
from buildlog.records.fields.base import Count, Listed, Measure, Record, Text
from buildlog.records.fields.parts import Assembly
from buildlog.records.fields.traits import (
    CALIBRATION,
    MARGIN,
    NOTHING,
    PREDICTION,
    UNMODELLED,
    Here,
    Moves,
)
from buildlog.units import Quantity

FuelKind = Literal["gasoline", "ethanol-blend", "ethanol", "methanol", "diesel", "lpg", "cng"]
Share = Annotated[Quantity, Measure("ratio", "0 percent", "100 percent")]
Octane = Annotated[float, Field(ge=60, le=140)]
Cooling = Annotated[Quantity, Measure("temperature_difference", "0 K", "150 K")]
FuelPressure = Annotated[Quantity, Measure("pressure", "5 kPa", "300 MPa")]
InjectorFlow = Annotated[
    Quantity, Measure(("volume_flow", "mass_flow"), "10 cc/min", "20000 cc/min")
]
Density = Annotated[Quantity, Measure("density", "600 kg/m^3", "1000 kg/m^3")]
PumpFlow = Annotated[Quantity, Measure(("volume_flow", "mass_flow"), "5 L/h", "3000 L/h")]


class Injectors(SubAssembly):
    """Fuel injectors. The flow is one injector's, at the rated pressure."""

    fields_move: ClassVar[Moves] = UNMODELLED | MARGIN | CALIBRATION

    count: Count | None = None
    """How many there are."""
    flow: InjectorFlow | None = None
    """Flow of one injector, held open, at its rated pressure."""
    rated_pressure: FuelPressure | None = None
    """Pressure across the injector at which the flow is stated."""
    system_pressure: FuelPressure | None = None
    """Rail pressure above the manifold (referenced) or above ambient (not referenced)."""
    least_differential: FuelPressure | None = None
    """The least pressure across the injector at which its maker states it still sprays well."""
    test_fluid: Annotated[Text, NOTHING] | None = None
    """The fluid that the flow was measured with."""
    test_density: Annotated[Density, UNMODELLED | MARGIN] | None = None
    """Density of that fluid, by which a flow in mass is turned into one in volume."""
    referenced: bool | None = None
    """Whether rail pressure follows manifold pressure."""


class Pump(SubAssembly):
    """Fuel pump. The flow is one pump's."""

    fields_move: ClassVar[Moves] = UNMODELLED | MARGIN

    flow: PumpFlow | None = None
    """Flow of one pump at the stated pressure and voltage."""
    at_pressure: FuelPressure | None = None
    """Pressure above ambient at which the flow is stated."""
    second_flow: PumpFlow | None = None
    """Flow at a second, higher pressure."""
    second_at_pressure: FuelPressure | None = None
    """The second pressure."""
    at_voltage: Annotated[Quantity, Measure("voltage", "6 V", "60 V"), UNMODELLED] | None = None
    """Voltage at which the flow is stated."""
    count: Count | None = None
    """How many pumps work side by side."""


class Carburettors(SubAssembly):
    """Carburetors. Jets and needles as their maker marks them."""

    fields_move: ClassVar[Moves] = UNMODELLED | CALIBRATION

    count: Count | None = None
    """How many there are."""
    venturi: Annotated[Quantity, Measure("length", "8 mm", "100 mm")] | None = None
    """Diameter of the venturi at its narrowest."""
    main_jet: Text | None = None
    """Main jet."""
    air_jet: Text | None = None
    """Air jet of the main system."""
    idle_jet: Text | None = None
    """Idle jet."""
    emulsion_tube: Text | None = None
    """Emulsion tube."""
    needle: Text | None = None
    """Needle of a variable or slide carburetor, with its clip's place."""
    pump_jet: Text | None = None
    """Jet of the accelerator pump."""
    power_valve: Text | None = None
    """Power valve or enrichment, with where it opens."""
    float_level: Annotated[Quantity, Measure("length", "1 mm", "80 mm")] | None = None
    """Float level, as its maker has it measured."""
    fuel_pressure: Annotated[FuelPressure, UNMODELLED | MARGIN] | None = None
    """Fuel pressure at the carburetors, above ambient."""


class Evaporation(Record):
    """How much further than gasoline this fuel cools the charge by evaporating in it."""

    cooling_low: Annotated[Cooling, PREDICTION] | None = None
    """The least by which the charge is cooler than with gasoline, when the inlet valves close."""
    cooling_high: Annotated[Cooling, PREDICTION] | None = None
    """The most by which the charge is cooler than with gasoline, when the inlet valves close."""
    source: Annotated[Text, NOTHING] | None = None
    """Who says so, and on what basis."""


class Fuel(Assembly):
    """The fuel the car is set up for, and its supply."""

    kind: Annotated[FuelKind, PREDICTION | MARGIN | CALIBRATION] | None = None
    """What it burns."""
    ron: Annotated[Octane, UNMODELLED | MARGIN | CALIBRATION] | None = None
    """Research octane number."""
    mon: Annotated[Octane, UNMODELLED | MARGIN | CALIBRATION] | None = None
    """Motor octane number."""
    aki: Annotated[Octane, UNMODELLED | MARGIN | CALIBRATION] | None = None
    """Octane as North American pumps state it, (R+M)/2; no research octane number."""
    ethanol_content: Annotated[Share, PREDICTION | MARGIN | CALIBRATION] | None = None
    """Ethanol by volume."""
    ethanol_range: Annotated[tuple[Share, Share], Listed, UNMODELLED | MARGIN] | None = None
    """The least and the most ethanol it is set up for, by volume."""
    evaporation: Evaporation | None = None
    """A declared cooling of the charge by the fuel."""
    injectors: Annotated[Injectors, Here(kind=UNMODELLED | CALIBRATION)] | None = None
    """Injectors."""
    carburettors: Carburettors | None = None
    """Carburetors, where there are any."""
    pump: Pump | None = None
    """Pump."""
    regulator: SubAssembly | None = None
    """Pressure regulator."""
    filter: SubAssembly | None = None
    """Fuel filter."""
