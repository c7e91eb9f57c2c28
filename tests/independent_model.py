"""A second opinion on full-load wheel power, for tests only.

The program predicts a stage from ratios.  This module knows nothing of that: it walks one
cylinder round 720 degrees of crank angle (single zone, finite burn, wall heat loss, valves as
orifices), feeds it from a plenum with or without a compressor, and picks the combustion phasing
by a knock integral.  It stands in for a real car when a test needs curves that the program did
not make itself.  It is *a* plausible engine, not a validated one.

Accuracy wanted: the right size and the right trends.  Textbook relations are quoted from memory
(wall heat transfer by Hohenberg, burn law by Wiebe, ignition delay by Douglaud and Eyzat,
elliptical flow function as in ISO 6358); every other constant is common practice, no source.

Arrays run over (speeds, phasings) and all phasings are walked at once: numpy's cost per call,
not per element, sets the time.  SI units throughout; angles in degrees where a name ends in _deg.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Induction = Literal["none", "positive-displacement", "centrifugal", "turbocharger"]

AIR_R = 287.0
CP_AIR = 1005.0
CP_EXHAUST = 1150.0
STANDARD_PRESSURE = 99e3  # the day on which the maker sized filter, exhaust and blower drive
STANDARD_TEMPERATURE = 298.15
GAMMA = 1.33  # used only for slopes and limits; energy itself follows CV_A + CV_B T
CV_A, CV_B = 780.0, 0.14  # J/kg/K and J/kg/K2: gamma 1.35 cold, 1.25 burnt (from memory)
STEP_DEG = 2.0
OVERLAP_STEP_DEG = 0.5  # the clearance volume fills fast while both valves stand open
CYCLES = 5
PHASING_DEG = np.array([8.0, 13.0, 19.0, 26.0, 34.0])  # 50 % burnt, after firing top centre
WALL_TEMPERATURE = 450.0
WIEBE_A, WIEBE_POWER = 5.0, 3.0
CRITICAL_RATIO, FLOW_FUNCTION_MAX = 0.54, 0.67
SPEED_OF_SOUND = 345.0
KNOCK_SCALE = 1.2  # set so that compression 10 on 95 octane is borderline near the torque peak


@dataclass(frozen=True)
class Car:
    """One engine and driveline.  Lengths [m], pressure [Pa], ethanol by volume [0..1]."""

    cylinders: int = 6
    bore: float = 0.084
    stroke: float = 0.078
    compression_ratio: float = 9.5
    rev_limit_rpm: float = 6500.0
    peak_torque_speed_rpm: float = 4700.0
    induction: Induction = "none"
    boost_gauge_pa: float = 0.0
    compressor_efficiency: float = 0.65
    charge_cooler_effectiveness: float = 0.0
    exhaust_restriction: float = 1.0
    lambda_full_load: float = 0.88
    ethanol_content: float = 0.05
    driveline_loss_share: float = 0.08
    driveline_drag_w_at_6000: float = 6000.0

    @property
    def displacement(self) -> float:
        return self.cylinders * self.bore**2 * np.pi / 4 * self.stroke

    @property
    def power_peak_rpm(self) -> float:
        """Where filter, exhaust, valves and compressor are sized."""
        return min(1.3 * self.peak_torque_speed_rpm, 0.95 * self.rev_limit_rpm)

    @property
    def reference_flow(self) -> float:
        """Air flow [kg/s] of the engine unblown at the power peak on the standard day."""
        density = STANDARD_PRESSURE / (AIR_R * STANDARD_TEMPERATURE)
        return 0.9 * density * self.displacement * self.power_peak_rpm / 120


@dataclass(frozen=True)
class Fuel:
    """What one kilogram of charge carries; values from memory."""

    air_share: float
    heat: float  # J per kg of fresh charge, released
    gas_constant: float
    cooling: float  # K, by the part that evaporates in the port
    octane: float
    burn_factor: float


def fuel_of(car: Car) -> Fuel:
    """Pump petrol of 95 octane with ethanol; oxygen limits the heat once the mixture is rich."""
    ethanol_mass = 789 * car.ethanol_content
    share = ethanol_mass / (ethanol_mass + 745 * (1 - car.ethanol_content))
    blend = [(1 - share) * a + share * b for a, b in ((14.6, 9.0), (43.0e6, 26.8e6), (3.5e5, 9e5))]
    stoichiometric, heating_value, latent = blend
    moles_per_kg = (1 - share) / 0.105 + share / 0.046
    phi = 1 / car.lambda_full_load
    fuel_air = phi / stoichiometric
    burnt_share = 0.955 - 0.78 * max(phi - 1, 0.0)
    return Fuel(
        air_share=1 / (1 + fuel_air),
        heat=fuel_air / (1 + fuel_air) * heating_value * burnt_share,
        gas_constant=AIR_R * (1 + fuel_air * 0.029 * moles_per_kg) / (1 + fuel_air),
        cooling=0.3 * latent * fuel_air / CP_AIR,
        octane=95 + 15 * (1 - np.exp(-2.5 * (car.ethanol_content - 0.05))),
        burn_factor=(1 - 0.06 * share) * (1 + 4 * (car.lambda_full_load - 0.88) ** 2),
    )


@dataclass(frozen=True)
class Walk:
    """Everything that depends on crank angle alone: one entry per step, from inlet closing."""

    angle_deg: Array  # edges of the steps, one more than the steps
    volume: Array
    wall_area: Array
    inlet_area: Array
    exhaust_area: Array


def lift_area(angle_deg: Array, opens_deg: float, closes_deg: float, mean_area: float) -> Array:
    """Effective valve area over a sine lift whose mean over the event is `mean_area`."""
    inside = (angle_deg > opens_deg) & (angle_deg < closes_deg)
    phase = np.pi * (angle_deg - opens_deg) / (closes_deg - opens_deg)
    return np.where(inside, np.pi / 2 * mean_area * np.sin(phase), 0.0)


def crank_volume(car: Car, angle_deg: Array) -> Array:
    """Cylinder volume [m3] by the slider-crank with a rod of 1.65 strokes; 360 is firing top."""
    crank, rod = car.stroke / 2, 1.65 * car.stroke
    angle = np.radians(angle_deg)
    drop = crank * (1 - np.cos(angle)) + rod - np.sqrt(rod**2 - (crank * np.sin(angle)) ** 2)
    swept = np.pi / 4 * car.bore**2
    return swept * (car.stroke / (car.compression_ratio - 1) + drop)


def step_edges(closes_deg: float, overlap_deg: float) -> Array:
    """Edges of the steps over 720 degrees from inlet closing, finer through the overlap."""
    lands = (closes_deg, 720 - overlap_deg, 720 + overlap_deg, closes_deg + 720)
    steps = (STEP_DEG, OVERLAP_STEP_DEG, STEP_DEG)
    spans = zip(lands, lands[1:], steps, strict=False)
    pieces = [np.linspace(a, b, round((b - a) / step), endpoint=False) for a, b, step in spans]
    return np.append(np.concatenate(pieces), lands[-1])


def walk_of(car: Car) -> Walk:
    """Valve events widen with the torque-peak speed; areas hold the inlet Mach index."""
    tuned = car.peak_torque_speed_rpm / 1000
    closes = 540 + 22 + 9 * tuned - 360  # inlet closing after bottom centre
    overlap = 4 + 2.5 * tuned
    edges = step_edges(closes, overlap)
    middle = (edges[1:] + edges[:-1]) / 2
    piston = np.pi / 4 * car.bore**2
    mean_piston_speed = 2 * car.stroke * 1.3 * car.peak_torque_speed_rpm / 60
    inlet = piston * mean_piston_speed / (0.62 * SPEED_OF_SOUND)
    volume = crank_volume(car, edges)
    mid_volume = (volume[1:] + volume[:-1]) / 2
    return Walk(
        angle_deg=edges,
        volume=volume,
        wall_area=2.1 * piston + 4 * mid_volume / car.bore,
        inlet_area=lift_area(middle, 720 - overlap, closes + 720, inlet),
        exhaust_area=lift_area(middle, 490 - 2 * tuned, 720 + overlap, 0.75 * inlet),
    )


def burnt_fraction(car: Car, fuel: Fuel, walk: Walk, speeds: Array) -> Array:
    """Wiebe burn at every edge, shape (edges, speeds, phasings)."""
    length = 50 * fuel.burn_factor * (speeds / 4000) ** 0.25 * (car.bore / 0.085) ** 0.5
    start = 360 + PHASING_DEG - (np.log(2) / WIEBE_A) ** (1 / WIEBE_POWER) * length
    turned = np.maximum((walk.angle_deg[:, None, None] - start) / length, 0.0)
    return np.asarray(1 - np.exp(-WIEBE_A * turned**WIEBE_POWER))


@dataclass(frozen=True)
class Supply:
    """What stands at the ports during one cycle, shapes broadcast to (speeds, phasings)."""

    inlet_pressure: Array
    inlet_temperature: Array
    exhaust_pressure: Array
    drive_power: Array  # taken from the crank by a blower [W]


def tuning_gain(car: Car, speeds: Array) -> Array:
    """Inertia ram at the inlet valve, greatest at the torque peak (common practice, no source)."""
    away = (speeds / car.peak_torque_speed_rpm - 1) / 0.33
    return 1 + 0.07 * np.exp(-(away**2))


def blower_ratio(car: Car, speeds: Array, peak_ratio: float) -> Array:
    """Pressure ratio of a positive-displacement blower: fixed drive, slip, and engine demand."""

    def delivered(rpm: Array) -> Array:
        slip = np.minimum(0.05 * car.power_peak_rpm / rpm, 0.6)
        return (1 - slip) / tuning_gain(car, rpm)

    density = peak_ratio ** (1 / 1.3) * delivered(speeds)
    return np.asarray(np.maximum((density / delivered(np.array(car.power_peak_rpm))) ** 1.3, 1.0))


def centrifugal_ratio(car: Car, speeds: Array, peak_ratio: float) -> Array:
    """Pressure ratio of a belt-driven centrifugal wheel: work goes with tip speed squared."""
    head = (peak_ratio**0.2857 - 1) * (speeds / car.power_peak_rpm) ** 2
    return np.asarray((1 + head) ** (1 / 0.2857))


def turbocharger_ratio(car: Car, speeds: Array, peak_ratio: float) -> Array:
    """Waste-gated: nothing much below the spool speed, flat above it."""
    spool = 1 / (1 + np.exp(-(speeds / car.peak_torque_speed_rpm - 0.55) / 0.07))
    return 1 + (peak_ratio - 1) * spool


RATIOS: dict[str, Callable[[Car, Array, float], Array]] = {
    "positive-displacement": blower_ratio,
    "centrifugal": centrifugal_ratio,
    "turbocharger": turbocharger_ratio,
}


def plenum_pressure(car: Car, speeds: Array, ambient: float, filter_drop: Array) -> Array:
    """Absolute plenum pressure [Pa]; a waste gate holds gauge pressure, a belt holds ratio."""
    if car.induction == "none":
        return ambient - filter_drop
    at_peak = ambient if car.induction == "turbocharger" else STANDARD_PRESSURE
    ratio = RATIOS[car.induction](car, speeds, 1 + car.boost_gauge_pa / at_peak)
    return ambient * ratio


def efficiency_map(car: Car, ratio: Array, flow_share: Array) -> Array:
    """Isentropic efficiency: falls away from the design flow; a lobe blower falls with ratio."""
    if car.induction == "positive-displacement":
        lost = 0.2 * (flow_share - 0.6) ** 2 + 0.25 * np.maximum(ratio - 1.5, 0.0)
    elif car.induction == "centrifugal":
        lost = 0.35 * (flow_share - 0.9) ** 2
    else:
        lost = 0.5 * (flow_share - 0.75) ** 2
    return np.maximum(car.compressor_efficiency * (1 - lost), 0.3)


def cooler_temperature(car: Car, hot: Array, ambient: float, flow_share: Array) -> Array:
    """Charge cooler by transfer units, which fall with flow; bay air 8 K above ambient."""
    if car.charge_cooler_effectiveness == 0:
        return hot
    units = -np.log(1 - car.charge_cooler_effectiveness) * flow_share**-0.4
    return np.asarray(hot - (1 - np.exp(-units)) * np.maximum(hot - (ambient + 8), 0.0))


def turbine_ratio(specific_work: Array, exhaust_temperature: Array) -> Array:
    """Expansion ratio that pays for the compressor, turbine and bearings together 65 %."""
    share = specific_work / (0.65 * CP_EXHAUST * exhaust_temperature)
    return (1 - np.minimum(share, 0.6)) ** (-1.33 / 0.33)


def supply_for(
    car: Car, fuel: Fuel, speeds: Array, ambient: tuple[float, float], flow: Array, hot_gas: Array
) -> Supply:
    """Plenum and exhaust port states from the air flow and exhaust temperature of last cycle."""
    pressure, temperature = ambient
    squared = (flow / car.reference_flow) ** 2 * STANDARD_PRESSURE / pressure
    filter_drop = 2500 * squared * temperature / STANDARD_TEMPERATURE
    plenum = plenum_pressure(car, speeds, pressure, filter_drop)
    tail_drop = 24e3 * car.exhaust_restriction * squared * hot_gas / 1150
    charge_temperature, work = np.full_like(plenum, temperature), np.zeros_like(plenum)
    if car.induction != "none":
        share = flow / (car.reference_flow * (1 + car.boost_gauge_pa / STANDARD_PRESSURE))
        cooler_drop = 3000 * share**2 if car.charge_cooler_effectiveness else 0.0
        ratio = np.maximum((plenum + cooler_drop) / (pressure - filter_drop), 1.0)
        rise = temperature * (ratio**0.2857 - 1) / efficiency_map(car, ratio, share)
        charge_temperature = cooler_temperature(car, temperature + rise, temperature, share)
        work = CP_AIR * rise
    turbo = car.induction == "turbocharger"
    back = (pressure + tail_drop) * (turbine_ratio(work, hot_gas) if turbo else 1.0)
    return Supply(
        inlet_pressure=plenum * tuning_gain(car, speeds),
        inlet_temperature=charge_temperature + 0.15 * (365 - charge_temperature) - fuel.cooling,
        exhaust_pressure=back,
        drive_power=np.zeros_like(work) if turbo else flow * work / 0.92,
    )


@dataclass
class Cylinder:
    """The gas in one cylinder, the backflow waiting in its inlet port, and the accounts."""

    mass: Array
    energy: Array
    fresh: Array
    gas_constant: float
    port_mass: Array = field(init=False)
    port_enthalpy: Array = field(init=False)
    port_fresh: Array = field(init=False)

    def __post_init__(self) -> None:
        self.port_mass, self.port_enthalpy, self.port_fresh = np.zeros((3, *self.mass.shape))
        self.open_accounts()

    def open_accounts(self) -> None:
        """Start a cycle's sums [J, kg] afresh."""
        zero = np.zeros_like(self.mass)
        self.work, self.wall_heat, self.released = zero, zero, zero
        self.exhaust_mass, self.exhaust_enthalpy, self.inlet_enthalpy = zero, zero, zero
        self.knock, self.peak_pressure = np.zeros_like(zero), zero

    @property
    def temperature(self) -> Array:
        return temperature_of(self.energy / self.mass)

    def inlet_step(self, moved: Array, own: Array, source: Array) -> None:
        """Let `moved` kg in; what was blown back comes in first, and blown-back gas waits."""
        out, into = np.maximum(-moved, 0.0), np.maximum(moved, 0.0)
        own_fresh = self.fresh / self.mass
        again = np.minimum(into, self.port_mass)
        held = again / np.maximum(self.port_mass, 1e-12)
        back_enthalpy, back_fresh = held * self.port_enthalpy, held * self.port_fresh
        new = into - again
        self.inlet_enthalpy = self.inlet_enthalpy + new * source
        self.port_mass = self.port_mass + out - again
        self.port_enthalpy = self.port_enthalpy + out * own - back_enthalpy
        self.port_fresh = self.port_fresh + out * own_fresh - back_fresh
        self.mass = self.mass + moved
        self.energy = self.energy + new * source + back_enthalpy - out * own
        self.fresh = self.fresh + new + back_fresh - out * own_fresh

    def exhaust_step(self, moved: Array, own: Array, pipe: Array) -> None:
        """Let `moved` kg in from the exhaust (negative: out of the cylinder), pipe gas burnt."""
        carried = np.where(moved < 0, own, pipe)
        self.fresh = self.fresh + np.minimum(moved, 0.0) * self.fresh / self.mass
        self.mass = self.mass + moved
        self.energy = self.energy + moved * carried
        self.exhaust_mass = self.exhaust_mass - moved
        self.exhaust_enthalpy = self.exhaust_enthalpy - moved * carried


def energy_of(temperature: Array) -> Array:
    """Specific internal energy [J/kg] with heat capacity rising with temperature."""
    return (CV_A + CV_B / 2 * temperature) * temperature


def temperature_of(energy: Array) -> Array:
    """Inverse of `energy_of` [K]."""
    return (np.sqrt(CV_A**2 + 2 * CV_B * energy) - CV_A) / CV_B


def valve_flow(
    area_time: Array, outside: tuple[Array, Array], inside: tuple[Array, Array], limit: Array
) -> Array:
    """Mass [kg] into the cylinder in one step, (pressure, R*T) on either side.

    The elliptical flow function; `limit` [kg/Pa] keeps one step from overshooting equal pressure,
    which would otherwise ring at low speed.
    """
    inward = outside[0] > inside[0]
    upstream = np.where(inward, outside[0], inside[0])
    downstream = np.where(inward, inside[0], outside[0])
    gas = np.where(inward, outside[1], inside[1])
    over = np.maximum(downstream / upstream - CRITICAL_RATIO, 0.0) / (1 - CRITICAL_RATIO)
    flow = area_time * FLOW_FUNCTION_MAX * upstream * np.sqrt((1 - over * over) / gas)
    moved = np.minimum(flow, limit * (upstream - downstream))
    return np.asarray(np.where(inward, moved, -moved))


def exchange(gas: Cylinder, walk: Walk, i: int, supply: Supply, hot_gas: Array, dt: Array) -> None:
    """Move gas through whichever valves are open during step `i`."""
    constant = gas.gas_constant
    volume = walk.volume[i + 1]
    for is_inlet, area in ((True, walk.inlet_area[i]), (False, walk.exhaust_area[i])):
        if area == 0:
            continue
        temperature = gas.temperature
        pressure = gas.mass * constant * temperature / volume
        own = energy_of(temperature) + constant * temperature
        far_pressure = supply.inlet_pressure if is_inlet else supply.exhaust_pressure
        far = supply.inlet_temperature if is_inlet else hot_gas
        limit = 0.95 * volume / (GAMMA * constant * np.maximum(temperature, far))
        outside, inside = (far_pressure, constant * far), (pressure, constant * temperature)
        moved = valve_flow(area * dt, outside, inside, limit)
        enthalpy = energy_of(far) + constant * far
        (gas.inlet_step if is_inlet else gas.exhaust_step)(moved, own, enthalpy)


def wall_heat(pressure: Array, temperature: Array, volume: float, speed_term: Array) -> Array:
    """Hohenberg's heat-transfer coefficient [W/m2/K] times the temperature difference."""
    coefficient = 130 * volume**-0.06 * (pressure / 1e5) ** 0.8 * speed_term
    return np.asarray(coefficient * temperature**-0.4 * (temperature - WALL_TEMPERATURE))


def knock_rate(pressure: Array, end_gas: Array, octane: float) -> Array:
    """Share of the end gas's ignition delay used per second (Douglaud and Eyzat, from memory)."""
    delay = 17.68e-3 * (octane / 100) ** 3.402 * (pressure / 101325) ** -1.7
    return np.asarray(KNOCK_SCALE / (delay * np.exp(3800 / end_gas)))


def run_cycle(
    gas: Cylinder, walk: Walk, fuel: Fuel, burnt: Array, supply: Supply, hot_gas: Array,
    speeds: Array, piston_term: Array,
) -> None:  # fmt: skip
    """Carry the cylinder from one inlet closing to the next, keeping the accounts."""
    gas.open_accounts()
    steps_deg = np.diff(walk.angle_deg)
    charge = gas.fresh * fuel.heat
    start_temperature = gas.temperature
    start_pressure = gas.mass * gas.gas_constant * start_temperature / walk.volume[0]
    gained = np.diff(burnt, axis=0)
    live = np.any((burnt[:-1] < 0.999) & (burnt[1:] > 0), axis=(1, 2)).tolist()
    for i in range(len(walk.wall_area)):
        volume, after = walk.volume[i], walk.volume[i + 1]
        dt = steps_deg[i] / (6 * speeds)
        temperature = gas.temperature
        pressure = gas.mass * gas.gas_constant * temperature / volume
        lost = wall_heat(pressure, temperature, volume, piston_term) * walk.wall_area[i] * dt
        added = -lost
        if live[i]:
            heat = charge * gained[i]
            gas.released = gas.released + heat
            added = heat - lost
        middle = pressure * (0.5 + 0.5 * (volume / after) ** GAMMA)
        work = (middle + 0.5 * (GAMMA - 1) * added / after) * (after - volume)
        gas.energy = gas.energy + added - work
        gas.work, gas.wall_heat = gas.work + work, gas.wall_heat + lost
        if 300 < walk.angle_deg[i] < 420:
            gas.peak_pressure = np.maximum(gas.peak_pressure, pressure)
            end_gas = start_temperature * (pressure / start_pressure) ** 0.25
            end_gas_left = np.clip((0.9 - burnt[i]) / 0.1, 0.0, 1.0)
            gas.knock += end_gas_left * knock_rate(pressure, end_gas, fuel.octane) * dt
        exchange(gas, walk, i, supply, hot_gas, dt)
    gas.fresh = np.minimum(gas.fresh, gas.mass)


@dataclass(frozen=True)
class Result:
    """One car on one day, shapes (speeds, phasings); energies per cylinder and cycle [J]."""

    speeds: Array
    work: Array
    wall_heat: Array
    released: Array
    enthalpy_rise: Array
    knock: Array
    peak_pressure: Array
    air_flow: Array
    exhaust_temperature: Array
    supply: Supply


def simulate(
    car: Car,
    speeds_rpm: Array,
    ambient_pressure: float = 99e3,
    ambient_temperature: float = 298.15,
    cycles: int = CYCLES,
) -> Result:
    """Walk enough cycles for plenum, exhaust and residual gas to settle."""
    fuel, walk = fuel_of(car), walk_of(car)
    speeds = np.asarray(speeds_rpm, dtype=np.float64)[:, None]
    full = np.broadcast_to(speeds, (len(speeds), len(PHASING_DEG)))
    burnt = burnt_fraction(car, fuel, walk, speeds)
    piston_term = (2 * car.stroke * speeds / 60 + 1.4) ** 0.8
    ambient = (ambient_pressure, ambient_temperature)
    boost = 1 + car.boost_gauge_pa / STANDARD_PRESSURE
    flow = car.reference_flow * full / car.power_peak_rpm * boost
    hot_gas = np.full(full.shape, 1390.0)
    supply = supply_for(car, fuel, speeds, ambient, flow, hot_gas)
    gas = first_charge(walk, fuel, supply)
    for _ in range(cycles):
        supply = supply_for(car, fuel, speeds, ambient, flow, hot_gas)
        run_cycle(gas, walk, fuel, burnt, supply, hot_gas, speeds, piston_term)
        seen = gas.exhaust_mass * fuel.air_share * car.cylinders * speeds / 120
        mean_enthalpy = gas.exhaust_enthalpy / gas.exhaust_mass
        # not the whole way: back-pressure and residual gas would answer each other in turns
        flow = flow + 0.7 * (seen - flow)
        hot_gas += 0.7 * (enthalpy_temperature(mean_enthalpy, gas.gas_constant) - hot_gas)
    return Result(
        speeds, gas.work, gas.wall_heat, gas.released, gas.exhaust_enthalpy - gas.inlet_enthalpy,
        gas.knock, gas.peak_pressure, flow, hot_gas, supply,
    )  # fmt: skip


def first_charge(walk: Walk, fuel: Fuel, supply: Supply) -> Cylinder:
    """A guess at the gas trapped at inlet closing, good enough to settle from."""
    temperature = supply.inlet_temperature + 40
    mass = supply.inlet_pressure * walk.volume[0] / (fuel.gas_constant * temperature)
    mass, temperature = np.broadcast_arrays(mass, temperature)
    return Cylinder(mass, mass * energy_of(temperature), 0.95 * mass, fuel.gas_constant)


def enthalpy_temperature(enthalpy: Array, gas_constant: float) -> Array:
    """Temperature [K] of a stream of given specific enthalpy."""
    linear = CV_A + gas_constant
    return (np.sqrt(linear**2 + 2 * CV_B * enthalpy) - linear) / CV_B


def friction_pressure(car: Car, result: Result) -> Array:
    """Rubbing and accessories as mean effective pressure [Pa], Chen-Flynn form (from memory)."""
    piston_speed = 2 * car.stroke * result.speeds / 60
    return 0.4e5 + 0.005 * result.peak_pressure + 5000 * piston_speed + 180 * piston_speed**2


def crank_power_by_phasing(car: Car, result: Result) -> Array:
    """Brake power [W] at every phasing, after friction and any blower drive."""
    indicated = result.work * car.cylinders
    friction = friction_pressure(car, result) * car.displacement
    return (indicated - friction) * result.speeds / 120 - result.supply.drive_power


def knock_limited_phasing(result: Result) -> Array:
    """Earliest phasing [deg] whose knock integral stays below one, within the table."""
    table = np.log(result.knock)[:, ::-1]
    late_first = PHASING_DEG[::-1]
    return np.array([np.interp(0.0, row, late_first) for row in table])


def crank_power(car: Car, result: Result) -> Array:
    """Brake power [W] at the knock-limited phasing, shape (speeds,)."""
    chosen = knock_limited_phasing(result)
    fitted = np.polyfit(PHASING_DEG, crank_power_by_phasing(car, result).T, 3)
    return np.asarray([np.polyval(fitted[:, i], angle) for i, angle in enumerate(chosen)])


def wheel_power(
    car: Car,
    speeds_rpm: Array,
    ambient_pressure: float = 99e3,
    ambient_temperature: float = 298.15,
) -> Array:
    """Full-load power at the wheels [W], shape (speeds,); gear mesh takes a share, oil a drag."""
    result = simulate(car, speeds_rpm, ambient_pressure, ambient_temperature)
    drag = car.driveline_drag_w_at_6000 * (result.speeds[:, 0] / 6000) ** 2
    return crank_power(car, result) * (1 - car.driveline_loss_share) - drag


def brake_mean_effective_pressure(car: Car, speeds_rpm: Array) -> Array:
    """Crank torque as mean effective pressure [Pa], shape (speeds,)."""
    result = simulate(car, speeds_rpm)
    return crank_power(car, result) * 120 / (car.displacement * result.speeds[:, 0])


CHARGERS: tuple[Induction, ...] = ("positive-displacement", "centrifugal", "turbocharger")
STAGE_KINDS = (
    "exhaust",
    "compression",
    "fuel",
    *(f"{kind} {cooled}" for kind in CHARGERS for cooled in ("uncooled", "cooled")),
)


def draw_car(rng: np.random.Generator) -> Car:
    """A naturally aspirated road engine of 1.6 to 6 litres."""
    litres = rng.uniform(1.6, 6.0)
    cylinders = 4 if litres < 2.4 else 6 if litres < 3.6 else 8
    shape = rng.uniform(0.85, 1.05)  # stroke over bore
    bore = (litres * 1e-3 / cylinders * 4 / np.pi / shape) ** (1 / 3)
    peak = rng.uniform(3600, 4900) - 150 * (litres - 3)
    drag = rng.uniform(3000, 8000) * (litres / 3) ** 0.5
    return Car(
        cylinders=cylinders, bore=bore, stroke=shape * bore,
        compression_ratio=rng.uniform(8.6, 10.6), rev_limit_rpm=1.5 * peak,
        peak_torque_speed_rpm=peak, lambda_full_load=rng.uniform(0.85, 0.92),
        ethanol_content=rng.choice([0.0, 0.05, 0.10]),
        driveline_loss_share=rng.uniform(0.05, 0.10), driveline_drag_w_at_6000=drag,
    )  # fmt: skip


def charged(rng: np.random.Generator, car: Car, induction: Induction, cooled: bool) -> Car:
    """The car with 25 to 55 kPa of boost, richer, as a shop would calibrate it."""
    low, high = (0.52, 0.64) if induction == "positive-displacement" else (0.65, 0.76)
    return replace(
        car, induction=induction, boost_gauge_pa=rng.uniform(25e3, 55e3),
        compressor_efficiency=rng.uniform(low, high),
        charge_cooler_effectiveness=rng.uniform(0.6, 0.8) if cooled else 0.0,
        lambda_full_load=rng.uniform(0.80, 0.86),
    )  # fmt: skip


def staged(rng: np.random.Generator, car: Car, kind: str) -> Car:
    """One stage of the given kind fitted to the car."""
    if kind == "exhaust":
        return replace(car, exhaust_restriction=rng.uniform(0.35, 0.8))
    if kind == "compression":
        change = rng.uniform(0.4, 1.5) * rng.choice([-1, 1])
        return replace(car, compression_ratio=car.compression_ratio + change)
    if kind == "fuel":
        return replace(car, ethanol_content=rng.uniform(0.3, 0.85))
    name = next(charger for charger in CHARGERS if kind.startswith(charger))
    return charged(rng, car, name, cooled=kind.endswith(" cooled"))


def draw_stage(rng: np.random.Generator, kind: str | None = None) -> tuple[Car, Car]:
    """A random car and a random plausible stage of it (of `kind`, one of STAGE_KINDS)."""
    car = draw_car(rng)
    return car, staged(rng, car, kind or str(rng.choice(STAGE_KINDS)))


def measured(
    rng: np.random.Generator,
    car: Car,
    speeds_rpm: Array,
    pulls: int = 3,
    scatter: float = 0.005,
    day_bias: float = 0.01,
) -> Array:
    """Noisy curves [W], shape (pulls, speeds).

    One factor for the day (`day_bias`), one per pull (`scatter`) and one per point (half of it),
    all relative standard deviations.
    """
    true = wheel_power(car, speeds_rpm)
    day = rng.normal(0, day_bias)
    per_pull = rng.normal(0, scatter, (pulls, 1))
    per_point = rng.normal(0, scatter / 2, (pulls, len(true)))
    return np.asarray(true * (1 + day) * (1 + per_pull) * (1 + per_point))
