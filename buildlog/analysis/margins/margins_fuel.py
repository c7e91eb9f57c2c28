"""Margins of fuel, mixture and charge: injectors, pump, lambda, knock, boost, belt, coolers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import pi, sqrt

from buildlog.analysis.margins.demands import (
    DemandFigure,
    Demands,
    Subject,
    absent,
    derive,
    exact,
    same_fuel,
)
from buildlog.analysis.margins.margin_rows import Row, row
from buildlog.physics.gases import charge, knock
from buildlog.physics.gases.fuels import FUELS
from buildlog.physics.numerics.constants import PSI
from buildlog.physics.parts import belt, injectors, margin_kinds, pump
from buildlog.records.paths import get
from buildlog.units import Quantity

_GASOLINE = FUELS["gasoline"].density
_NO_CHANGE = 0.05  # octane numbers: nothing that moves knock has changed
_RIB_GROOVE = 40 * pi / 180  # ribs of 40 degrees (common practice)


def fuel_rows(car: Demands) -> Iterator[Row]:
    """Injectors, pump, rail, mixture and knock: spark ignition only."""
    if not car.spark_ignition:
        return
    yield row(margin_kinds.INJECTOR_DUTY, car.injected, _injector_capacity(car))
    yield row(margin_kinds.FUEL_PUMP, _volume_demand(car), _pump_capacity(car))
    least = car.limit("fuel.injectors.least_differential")
    yield row(margin_kinds.RAIL_DIFFERENTIAL, _differential(car), least)
    yield from _mixture(car)
    yield from _knock(car)


def _referenced(car: Demands) -> DemandFigure:
    """1 where rail pressure follows the manifold; without boost it makes no difference."""
    value = get(car.configuration, "fuel.injectors.referenced")
    if value is None and car.boosted:
        return absent("fuel.injectors.referenced")
    return exact(1.0 if value is None or value else 0.0)


def _differential(car: Demands) -> DemandFigure:
    return derive(
        lambda system, boost, follows: injectors.differential_pressure(system, boost, follows > 0),
        car.given("fuel.injectors.system_pressure"), car.boost, _referenced(car),
    )  # fmt: skip


def _volume_flow(car: Demands, path: str) -> DemandFigure:
    """A flow stated by volume, or by mass of a fluid as dense as gasoline [m^3/s]."""
    value = get(car.configuration, path)
    mass = isinstance(value, Quantity) and value.dimension == "mass_flow"
    return derive(lambda flow: flow / _GASOLINE if mass else flow, car.given(path))


def _injector_capacity(car: Demands) -> DemandFigure:
    liquid, known = car.tank
    density = liquid.density if liquid else _GASOLINE
    return derive(
        lambda count, flow, rated, across, _: (
            count * injectors.mass_flow(flow, rated, across, density)
        ),
        car.given("fuel.injectors.count"),
        _volume_flow(car, "fuel.injectors.flow"),
        car.given("fuel.injectors.rated_pressure"),
        _differential(car),
        known,
    )


def _volume_demand(car: Demands) -> DemandFigure:
    liquid, known = car.tank
    density = liquid.density if liquid else _GASOLINE
    return derive(lambda mass, _: mass / density, car.fuel_flow, known)


def _pump_capacity(car: Demands) -> DemandFigure:
    rail = derive(
        lambda system, boost, follows: pump.rail_gauge(system, boost, follows > 0),
        car.given("fuel.injectors.system_pressure"), car.boost, _referenced(car),
    )  # fmt: skip
    count = car.given("fuel.pump.count")
    flow, at = _volume_flow(car, "fuel.pump.flow"), car.given("fuel.pump.at_pressure")
    second = _volume_flow(car, "fuel.pump.second_flow")
    second_at = car.given("fuel.pump.second_at_pressure")
    if second.band is None or second_at.band is None:
        loss = car.prior("pump_flow_loss")
        return derive(
            lambda n, q, p, k, rail: (
                n * pump.flow_from_slope(pump.PumpPoint(q, p), k / 100e3, rail)
            ),
            count, flow, at, loss, rail,
        )  # fmt: skip
    return derive(
        lambda n, q, p, q2, p2, rail: (
            n * pump.flow_from_two(pump.PumpPoint(q, p), pump.PumpPoint(q2, p2), rail)
        ),
        count, flow, at, second, second_at, rail,
    )  # fmt: skip


def _mixture(car: Demands) -> Iterator[Row]:
    if car.configuration.fuel is not None and car.configuration.fuel.kind == "methanol":
        return
    load = "boosted" if car.boosted else "unboosted"
    edge = margin_kinds.USUAL_LEAN_EDGE[load]
    usual = exact(edge, f"usual lean edge of {load} full load (common practice)", "typical")
    yield row(margin_kinds.FULL_LOAD_LAMBDA, car.mixture, usual)


def _knock(car: Demands) -> Iterator[Row]:
    """How much more octane than the last configuration that ran; no reserve is credited.

    A configuration that was itself pulled is its own known-good: told, but no limit.
    """
    run = car.subject.run
    if run is not None and run.basis == "measured":
        itself = exact(0.0, "this configuration itself ran under full load", "measured")
        kind = replace(margin_kinds.KNOCK, information=True)
        note = "this one itself was run; none that asks for more octane was"
        yield row(kind, absent(OCTANE_NEED), itself, note=note)
        return
    base = car.subject.known_good
    if base is None:
        return
    kind = margin_kinds.KNOCK
    limit = exact(0.0, f"{base.name} ran under full load on this fuel", "measured")
    if not same_fuel(base.configuration, car.configuration):
        asked = absent(f"{SAME_FUEL} of {base.name}")
        yield row(kind, asked, limit, note="no known-good configuration on this fuel")
        return
    change = _octane_change(car, _of_base(car))
    if change.band is not None and abs(change.band.p50) < _NO_CHANGE:
        note = f"asks for no more than {base.name}, which ran"
        yield row(replace(kind, information=True), change, limit, note=note)
        return
    yield row(kind, change, limit, note=f"against {base.name}")


SAME_FUEL = "a session on the fuel"
# No field holds it and no log gives it: what ran is known to have run, not what it had left.
OCTANE_NEED = "the octane that this engine needs"


def _of_base(car: Demands) -> Demands:
    base = car.subject.known_good
    assert base is not None
    return Demands(Subject(base.configuration, base.run, car.subject.priors))


def _octane_change(car: Demands, base: Demands) -> DemandFigure:
    """Octane numbers that the change asks for; the spread is that of boost and slopes.

    Inlet air is the same on both sides, so temperatures are compared at their middle.
    """
    heat = derive(
        lambda now, then: now - then, _middle(car.charge_temperature),
        _middle(base.charge_temperature),
    )  # fmt: skip
    change = derive(
        knock.octane_demand_change,
        derive(
            lambda now, then: now - then, car.given("engine.compression_ratio"),
            base.given("engine.compression_ratio"),
        ),
        derive(lambda now, then: now - then, car.manifold, base.manifold),
        heat,
        _retard(car, base),
        car.prior("octane_per_compression_point"),
        derive(lambda per_psi: per_psi / PSI, car.prior("octane_per_psi")),
        car.prior("octane_per_kelvin"),
        derive(lambda per_degree: -per_degree, car.prior("octane_per_degree")),
    )  # fmt: skip
    return change


def _middle(figure: DemandFigure) -> DemandFigure:
    return derive(lambda value: value, figure if figure.band is None else exact(figure.band.p50))


def _retard(car: Demands, base: Demands) -> DemandFigure:
    """Later spark than in the base [degrees]; none where the calibration is the same one."""
    ids = {get(one.configuration, "calibration.id") for one in (car, base)}
    if len(ids) == 1 and None not in ids:
        return exact(0.0)
    return derive(
        lambda now, then: (now - then) * 180 / pi,
        car.given("calibration.spark_retard"),
        base.given("calibration.spark_retard"),
    )


def charge_rows(car: Demands) -> Iterator[Row]:
    """Charge temperature, compressor, boost against what stops it, belt, charge cooler."""
    if not car.boosted or not car.combustion:
        return
    yield _temperature(car)
    yield row(
        margin_kinds.COMPRESSOR_SPEED, _shaft_speed(car),
        car.limit("induction.compressor.speed_limit", "angular_speed"),
    )  # fmt: skip
    yield row(margin_kinds.BOOST_RELIEF, car.boost, car.limit("induction.boost.relief_gauge"))
    yield row(margin_kinds.BOOST_LIMIT, car.boost, car.limit("calibration.boost_limit_gauge"))
    yield row(
        margin_kinds.BOOST_SENSOR, car.manifold, car.limit("intake.pressure_sensor.range_absolute")
    )
    if car.driven:
        yield from _belt(car)
    yield from _cooler_heat(car)


def _temperature(car: Demands) -> Row:
    """Against whatever the induction or its cooler states as a limit."""
    stated = car.general_limit("induction.charge_cooler", "temperature")
    if stated.band is None and stated.problem is None:
        stated = car.general_limit("induction", "temperature")
    return row(margin_kinds.CHARGE_TEMPERATURE, car.charge_temperature, stated)


def _drive_ratio(car: Demands) -> DemandFigure:
    """Turns of the compressor for one of the crank."""
    stated = car.given("induction.compressor.drive_ratio")
    if stated.band is not None:
        return stated
    step = car.given("induction.compressor.step_up_ratio")
    pulleys = derive(
        charge.drive_ratio,
        car.given("induction.compressor.crank_pulley_diameter"),
        car.given("induction.compressor.compressor_pulley_diameter"),
    )
    if pulleys.band is None:
        return pulleys if pulleys.problem else stated
    return derive(lambda x, gears: x * gears, pulleys, step if step.band else exact(1.0))


def _shaft_speed(car: Demands) -> DemandFigure:
    if car.driven:
        return derive(lambda omega, ratio: omega * ratio, car.limiter, _drive_ratio(car))
    return derive(
        _speed_at_ratio,
        car.pressure_ratio,
        car.given("induction.compressor.stated_pressure_ratio"),
        car.given("induction.compressor.stated_speed"),
    )


def _speed_at_ratio(ratio: float, stated_ratio: float, stated_speed: float) -> float:
    """Head of an impeller grows with speed squared: similarity laws (from memory)."""
    if stated_ratio <= 1:
        raise ValueError("induction.compressor.stated_pressure_ratio must be above 1.")
    head = (max(ratio, 1.0) ** charge.ISENTROPIC - 1) / (stated_ratio**charge.ISENTROPIC - 1)
    return stated_speed * sqrt(head)


def _belt(car: Demands) -> Iterator[Row]:
    pulley = car.given("induction.compressor.crank_pulley_diameter")
    at_limiter = derive(belt.belt_speed, car.limiter, pulley)
    limit = car.limit("induction.belt.speed_limit", "speed")
    yield row(margin_kinds.BELT_SPEED, at_limiter, limit)
    power = _compressor_power(car)
    speed = derive(belt.belt_speed, car.omega, pulley)
    yield row(margin_kinds.BELT_GRIP, derive(belt.effective_tension, power, speed), _grip(car))
    ribs = car.given("induction.belt.ribs")
    yield row(
        margin_kinds.BELT_RIB_POWER,
        derive(lambda p, n: belt.power_per_rib(p, int(n)), power, ribs),
        car.limit("induction.belt.rated_power_per_rib"),
    )  # fmt: skip


def _grip(car: Demands) -> DemandFigure:
    """What the belt can pass before it slips; ribs wedge, a flat belt does not."""
    ribbed = get(car.configuration, "induction.belt.ribs") is not None
    groove = _RIB_GROOVE if ribbed else pi
    return derive(
        lambda tension, mu, wrap: belt.grip(tension, mu, wrap, groove),
        car.given("induction.belt.installed_tension"),
        car.prior("belt_friction"),
        car.given("induction.belt.wrap_angle"),
    )


def _compressor_power(car: Demands) -> DemandFigure:
    return derive(
        lambda air, inlet, ratio, eta, drive: charge.compressor_power(
            air, inlet, charge.compressor_temperature(inlet, ratio, eta), drive
        ),
        car.air_flow, car.inlet, car.pressure_ratio, car.compressor_efficiency,
        car.prior("blower_drive_efficiency"),
    )  # fmt: skip


def _cooler_heat(car: Demands) -> Iterator[Row]:
    how = car.configuration.induction
    if how is None or how.charge_cooler is None or not car.spark_ignition:
        return
    from buildlog.physics.gases.heat import from_charge

    def heat(
        air: float, inlet: float, ratio: float, eta: float, effect: float, rise: float
    ) -> float:
        hot = charge.compressor_temperature(inlet, ratio, eta)
        return from_charge(air, hot, charge.cooled_temperature(hot, effect, inlet + rise))

    demand = derive(
        heat, car.air_flow, car.inlet, car.pressure_ratio, car.compressor_efficiency,
        car.given_or_prior("induction.charge_cooler.effectiveness", "cooler_effectiveness"),
        car.prior("cooler_coolant_rise"),
    )  # fmt: skip
    rated = car.limit("induction.charge_cooler.rated_heat", "power")
    yield row(margin_kinds.CHARGE_COOLER_HEAT, demand, rated)
