"""The kinds of margin: rule, caution band, formula, source, and what each does not say.

The edges of the caution bands are data of the trade, not of physics; nearly all of them are
common practice without a source, and each says so. A kind carries no limit: the limit is the
part's, stated or computed from the part's own measures, or the margin is unknown. The few
usual limits below belong to no part; they are shown as "typical" wherever they are used.
"""

from __future__ import annotations

from buildlog.physics.numerics.band import Band
from buildlog.physics.numerics.constants import PSI
from buildlog.physics.parts.margin import Kind, Rule

_PRACTICE = "common practice, no source"

INJECTOR_DUTY = Kind(
    name="injector duty",
    rule=Rule.RATIO,
    unit="kg/s",
    caution=0.15,
    caution_source="80 to 85 % duty at most, trade pages (opened, no authority)",
    formula="P/(eta LHV) at the highest ethanol content, of n q sqrt(rho rho_r dp/dp_r)",
    source="orifice law (Bernoulli)",
    says_not="how long the injectors take to open and close, or whether they spray alike",
    power_driven=True,
)
FUEL_PUMP = Kind(
    name="fuel pump",
    rule=Rule.RATIO,
    unit="m^3/s",
    caution=0.20,
    caution_source=_PRACTICE,
    formula="fuel flow of the pump's flow at rail pressure plus boost",
    source="straight-line slip of the pump; common practice, no source",
    says_not="what lines, filter, voltage drop and fuel temperature take away",
    power_driven=True,
)
RAIL_DIFFERENTIAL = Kind(
    name="rail-to-manifold differential",
    rule=Rule.AT_LEAST,
    unit="Pa",
    caution=50e3,
    caution_source=_PRACTICE,
    formula="rail setting, less boost if the regulator does not feel the manifold",
    source="definition",
    says_not="whether the pump holds the rail at its setting; see fuel pump",
    power_driven=True,
)
FULL_LOAD_LAMBDA = Kind(
    name="full-load lambda",
    rule=Rule.AT_MOST,
    unit="1",
    caution=0.03,
    caution_source=_PRACTICE,
    formula="lean edge less lambda",
    source="definition",
    says_not="what each cylinder gets, or that a richer mixture is a better one",
)
KNOCK = Kind(
    name="knock",
    rule=Rule.AT_MOST,
    unit="octane numbers",
    caution=2.0,
    caution_source=_PRACTICE,
    formula="change of octane requirement since the last known-good configuration, same fuel",
    source="octane slopes of physics/knock.py (secondary and computed)",
    says_not="how much octane the engine needs, or whether it knocks: only a log can",
    power_driven=True,
)
CHARGE_TEMPERATURE = Kind(
    name="charge temperature",
    rule=Rule.AT_MOST,
    unit="K",
    caution=10.0,
    caution_source=_PRACTICE,
    formula="T2 - effectiveness (T2 - Tc), T2 by pressure ratio and efficiency",
    source="NASA Glenn, Compressor Thermodynamics (opened)",
    says_not="what a cooler does once it is soaked with heat",
    power_driven=True,
)
COMPRESSOR_SPEED = Kind(
    name="compressor speed",
    rule=Rule.RATIO,
    unit="rad/s",
    caution=0.05,
    caution_source=_PRACTICE,
    formula="engine speed at the limiter times drive ratio",
    source="kinematics",
    says_not="what an overrun past the limiter does in a missed shift",
)
BOOST_RELIEF = Kind(
    name="boost against relief",
    rule=Rule.AT_MOST,
    unit="Pa",
    caution=1.0 * PSI,
    caution_source=_PRACTICE,
    formula="relief setting less boost",
    source="definition",
    says_not="at what pressure the relief begins to leak",
    power_driven=True,
)
BOOST_LIMIT = Kind(
    name="boost against limit",
    rule=Rule.AT_MOST,
    unit="Pa",
    caution=1.0 * PSI,
    caution_source=_PRACTICE,
    formula="boost limit of the calibration less boost",
    source="definition",
    says_not="what the calibration does when the limit is reached",
    power_driven=True,
)
BOOST_SENSOR = Kind(
    name="boost against sensor range",
    rule=Rule.RATIO,
    unit="Pa",
    caution=0.05,
    caution_source=_PRACTICE,
    formula="absolute manifold pressure of the sensor's upper end",
    source="definition",
    says_not="how accurate the sensor is near its end",
    power_driven=True,
)
BELT_SPEED = Kind(
    name="belt speed",
    rule=Rule.RATIO,
    unit="m/s",
    caution=0.10,
    caution_source=_PRACTICE,
    formula="omega D/2",
    source="kinematics",
    says_not="whether pulleys and tensioner are balanced for it",
)
BELT_GRIP = Kind(
    name="belt grip",
    rule=Rule.RATIO,
    unit="N",
    caution=0.15,
    caution_source=_PRACTICE,
    formula="P/v of 2 (T0 - m v^2)(R - 1)/(R + 1), R = exp(mu wrap/sin(beta/2))",
    source="belt equation; Shigley, ch. 17 (from memory)",
    says_not="what oil, water, wear or a weak tensioner do to the grip",
    power_driven=True,
)
BELT_RIB_POWER = Kind(
    name="belt power per rib",
    rule=Rule.RATIO,
    unit="W",
    caution=0.10,
    caution_source=_PRACTICE,
    formula="P/ribs",
    source="definition",
    says_not="how long the belt lasts at that load",
    power_driven=True,
)
PISTON_SPEED = Kind(
    name="mean piston speed",
    rule=Rule.RATIO,
    unit="m/s",
    caution=0.10,
    caution_source=_PRACTICE,
    formula="2 S n at the limiter",
    source="Heywood, Internal Combustion Engine Fundamentals, eq. 2.9 (from memory)",
    says_not="what rods, pistons and bearings of this engine bear",
)
ROTATING_ASSEMBLY = Kind(
    name="rotating assembly",
    rule=Rule.RATIO,
    unit="W",
    caution=0.10,
    caution_source=_PRACTICE,
    formula="crank power of the supplier's rating",
    source="definition",
    says_not="what detonation or a lean mixture does at any power",
    power_driven=True,
)
ENGINE_SPEED = Kind(
    name="engine speed",
    rule=Rule.RATIO,
    unit="rad/s",
    caution=0.03,
    caution_source=_PRACTICE,
    formula="limiter of the engine's limit",
    source="definition",
    says_not="what a missed shift does past the limiter",
)
CLUTCH_TORQUE = Kind(
    name="clutch torque",
    rule=Rule.RATIO,
    unit="N*m",
    caution=0.10,
    caution_source=_PRACTICE,
    formula="T of the supplier's rating, or of n mu F (D + d)/4 over the service factor",
    source="Shigley, section 16-5, uniform wear (from memory)",
    says_not="how hot the facings get, or how the clutch feels",
    power_driven=True,
)
FLYWHEEL_STRESS = Kind(
    name="flywheel stress",
    rule=Rule.RATIO,
    unit="Pa",
    caution=0.50,
    caution_source="twofold reserve of stress; common practice, no source",
    formula="(rho omega^2/4)[(3 + nu) ro^2 + (1 - nu) ri^2]; rho v^2 for a ring",
    source="Roark (from memory); Mechanical Engineer's Data Handbook p. 15 (opened)",
    says_not="what holes, cracks, heat checks or repairs leave of the strength",
)
FLYWHEEL_SPEED = Kind(
    name="flywheel speed",
    rule=Rule.RATIO,
    unit="rad/s",
    caution=0.10,
    caution_source=_PRACTICE,
    formula="limiter of the supplier's speed",
    source="definition",
    says_not="whether the flywheel was resurfaced or cracked since it was rated",
)
GEARBOX_TORQUE = Kind(
    name="gearbox torque",
    rule=Rule.RATIO,
    unit="N*m",
    caution=0.10,
    caution_source=_PRACTICE,
    formula="engine torque of the rated input torque",
    source="definition",
    says_not="how shocks and hard shifts shorten its life",
    power_driven=True,
)
DRIVESHAFT_TORQUE = Kind(
    name="driveshaft torque",
    rule=Rule.RATIO,
    unit="N*m",
    caution=0.20,
    caution_source=_PRACTICE,
    formula="engine torque times the highest gear ratio of the rated torque",
    source="power balance",
    says_not="what a dropped clutch adds",
    power_driven=True,
)
DRIVESHAFT_STRESS = Kind(
    name="driveshaft stress",
    rule=Rule.RATIO,
    unit="Pa",
    caution=0.33,
    caution_source="reserve of 1.5 for shocks; common practice, no source",
    formula="16 T D/(pi (D^4 - d^4))",
    source="Shigley, eq. 3-37 (from memory)",
    says_not="what welds, joints and a dropped clutch add",
    power_driven=True,
)
DRIVESHAFT_SPEED = Kind(
    name="driveshaft critical speed",
    rule=Rule.RATIO,
    unit="rad/s",
    caution=0.30,
    caution_source="run to 65 to 75 % of it; common practice, no source",
    formula="limiter over lowest gear ratio of (pi/L)^2 sqrt(E I/(rho A))",
    source="beam theory; Shigley, section 7-6 (eq. 7-23 secondary)",
    says_not="what soft mounts, worn joints and unbalance take away",
)
FINAL_DRIVE_TORQUE = Kind(
    name="final drive torque",
    rule=Rule.RATIO,
    unit="N*m",
    caution=0.20,
    caution_source=_PRACTICE,
    formula="engine torque times the highest gear ratio, as grip allows, of the rated torque",
    source="power balance",
    says_not="what a dropped clutch or wheel hop adds",
    power_driven=True,
)
TYRE_SPEED = Kind(
    name="tyre speed",
    rule=Rule.RATIO,
    unit="m/s",
    caution=0.05,
    caution_source=_PRACTICE,
    formula="road speed in the fastest gear at the limiter of the speed symbol's",
    source="tyre speed symbols (secondary, two tables)",
    says_not="whether the car can reach that speed, or what damage and pressure take away",
)
TYRE_LOAD = Kind(
    name="tyre load",
    rule=Rule.RATIO,
    unit="kg",
    caution=0.05,
    caution_source=_PRACTICE,
    formula="axle load of two tyres' load index",
    source="load index table, UN Regulation No. 30 (from memory)",
    says_not="whether the pressure is right for that load",
)
TYRE_AGE = Kind(
    name="tyre age",
    rule=Rule.AT_MOST,
    unit="year",
    caution=4.0,
    caution_source="a yearly look from six years on; common practice, no source",
    formula="limit less years since the week of the date code",
    source="definition",
    says_not="how the tyre was stored; rubber is judged by eye and hand as well",
)
GRIP = Kind(
    name="grip",
    rule=Rule.RATIO,
    unit="N",
    caution=0.10,
    caution_source=_PRACTICE,
    formula="P/v or T i eta/r of mu N",
    source="power balance; Gillespie, ch. 2 (from memory)",
    says_not="that anything breaks: past it the tyres spin",
    power_driven=True,
    information=True,
)
BACK_PRESSURE = Kind(
    name="exhaust back-pressure",
    rule=Rule.AT_MOST,
    unit="Pa",
    caution=5e3,
    caution_source=_PRACTICE,
    formula="known back-pressure times resistance ratio times flow squared",
    source="turbulent loss law (from memory)",
    says_not="what pulsation and a catalyst that is clogging do",
    power_driven=True,
)
COOLANT_HEAT = Kind(
    name="heat to coolant",
    rule=Rule.RATIO,
    unit="W",
    caution=0.15,
    caution_source=_PRACTICE,
    formula="fuel flow times heating value times share",
    source="energy balance",
    says_not="that the radiator gets its air, or how long the load is held",
    power_driven=True,
)
CHARGE_COOLER_HEAT = Kind(
    name="charge cooler heat",
    rule=Rule.RATIO,
    unit="W",
    caution=0.15,
    caution_source=_PRACTICE,
    formula="m cp (T2 - T3)",
    source="first law",
    says_not="what a cooler does once it is soaked with heat",
    power_driven=True,
)
FASTENER = Kind(
    name="fastener",
    rule=Rule.RATIO,
    unit="N",
    caution=0.05,
    caution_source=_PRACTICE,
    formula="preload T/(K d), with its scatter, of proof strength times stress area",
    source="Shigley, section 8-8 (from memory); SAE J429, ISO 898-1",
    says_not="whether the joint holds, or what a stretch bolt needs",
)

KINDS: dict[str, Kind] = {
    kind.name: kind for kind in list(globals().values()) if isinstance(kind, Kind)
}
"""Every kind by name."""

# Limits that belong to no part but to the trade. They are bands, so that a margin built on
# one is clear only at its worse end, and whoever uses one must call it "typical".
USUAL_PISTON_SPEED = Band(20.0, 22.5, 25.0)
"""[m/s] usual upper mean piston speed: sporty road engines 20 to 25 (trade pages, opened, no
authority). 155 unboosted petrol cars of 1985 at peak power: 9.2 to 17.6 (imports-85, computed)."""

USUAL_TYRE_AGE = Band.exact(10.0)
"""[year] age at which tyres are usually replaced whatever their tread (common practice)."""

USUAL_LEAN_EDGE = {"unboosted": 0.90, "boosted": 0.85}
"""[-] lean edge of the usual full-load lambda on gasoline (common practice, no source)."""
