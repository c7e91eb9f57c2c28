"""Margins from the flywheel to the road: clutch, gearbox, shafts, tyres; and fasteners."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import pi

from buildlog.analysis.margins.demands import DemandFigure, Demands, absent, as_limit, derive, exact
from buildlog.analysis.margins.margin_rows import Row, row
from buildlog.analysis.workshop.fastener_book import NUT_FACTOR, grade_key
from buildlog.physics.engines.losses import wheel_force
from buildlog.physics.numerics.band import Band
from buildlog.physics.parts import (
    bolt_tension,
    clutch,
    driveshaft,
    flywheel,
    gear_train,
    margin_kinds,
    traction,
)
from buildlog.physics.parts import tyres as tyre_physics
from buildlog.records.driveline import TyreSet
from buildlog.records.fasteners import Joint
from buildlog.records.paths import get

# Handbook densities [kg/m^3] (from memory).
_DENSITY = {"grey-iron": 7200.0, "ductile-iron": 7100.0, "steel": 7850.0, "aluminium": 2700.0}
_OPEN_ENDED = "ZR"
_NO_CAUTION = 1e-6
_SHAFTS = driveshaft.MATERIALS


def driveline_rows(car: Demands) -> Iterator[Row]:
    """Clutch, flywheel, gearbox, driveshaft, final drive."""
    if car.combustion:
        yield from _clutch(car)
        yield from _flywheel(car)
    torque = car.crank_torque if car.combustion else _motor_torque(car)
    rated = car.limit("gearbox.rated_torque", "torque")
    if car.combustion or car.configuration.gearbox is not None:
        yield row(margin_kinds.GEARBOX_TORQUE, _behind_primary(car, torque), rated)
    if car.combustion:
        yield from _driveshaft(car)
        yield from _final_drive(car)


def _behind_primary(car: Demands, torque: DemandFigure) -> DemandFigure:
    """What clutch and gearbox see: more than the crank gives where a primary drive reduces."""
    primary = car.given("gearbox.primary_ratio")
    return torque if primary.band is None else derive(lambda t, r: t * r, torque, primary)


def _motor_torque(car: Demands) -> DemandFigure:
    return car.given("motor.rated_torque")


def _clutch(car: Demands) -> Iterator[Row]:
    box = car.configuration.gearbox
    if box is not None and box.kind == "automatic":
        return
    rated = car.limit("clutch.rated_torque", "torque")
    torque = _behind_primary(car, car.crank_torque)
    yield row(margin_kinds.CLUTCH_TORQUE, torque, rated, _clutch_computed(car))


def _clutch_computed(car: Demands) -> DemandFigure:
    """From geometry, friction and clamp force, with the service factor."""
    kind = get(car.configuration, "clutch.kind")
    friction = car.given("clutch.friction_coefficient")
    if friction.band is None and kind == "organic":  # the prior is that of an organic facing
        friction = car.prior("clutch_friction")
    return derive(
        lambda mu, force, outer, inner, faces, factor: clutch.usable_torque(
            clutch.capacity_uniform_wear(mu, force, outer, inner, int(faces)), factor
        ),
        friction,
        car.given("clutch.clamp_force"),
        car.given("clutch.outer_diameter"),
        car.given("clutch.inner_diameter"),
        car.given("clutch.faces"),
        car.prior("clutch_service_factor"),
    )


def _flywheel(car: Demands) -> Iterator[Row]:
    """Stress as of a thin rim: an upper bound for a disc of the same diameter."""
    material = get(car.configuration, "flywheel.material")
    density = exact(_DENSITY[str(material)]) if material else absent("flywheel.material")
    stress = derive(
        lambda omega, diameter, rho: flywheel.ring_stress(omega, diameter / 2, rho),
        car.limiter, car.given("flywheel.diameter"), density,
    )  # fmt: skip
    limit = car.general_limit("flywheel", "pressure")
    yield row(margin_kinds.FLYWHEEL_STRESS, stress, limit, note="as a thin rim: an upper bound")
    speed = car.limit("flywheel.speed_limit", "angular_speed")
    yield row(margin_kinds.FLYWHEEL_SPEED, car.limiter, speed)


def _driveshaft(car: Demands) -> Iterator[Row]:
    chassis = car.configuration.chassis
    if car.configuration.driveshaft is None and chassis and chassis.driven_wheels == "front":
        return
    torque = car.limit("driveshaft.rated_torque", "torque")
    yield row(margin_kinds.DRIVESHAFT_TORQUE, car.shaft_torque, torque)
    outer, wall = car.given("driveshaft.outer_diameter"), car.given("driveshaft.wall")
    stress = derive(driveshaft.shear_stress, car.shaft_torque, outer, wall)
    strength = car.limit("driveshaft.shear_strength", "pressure")
    yield row(margin_kinds.DRIVESHAFT_STRESS, stress, strength)
    speed = car.through_gears(gear_train.fastest_shaft, car.limiter)
    stated = car.limit("driveshaft.speed_limit", "angular_speed")
    kind = margin_kinds.DRIVESHAFT_SPEED
    if stated.band is not None:  # a supplier's speed has the reserve for whirling in it
        kind = replace(kind, caution=0.10, caution_source="common practice, no source")
    yield row(kind, speed, stated, _critical_speed(car, outer, wall))


def _critical_speed(car: Demands, outer: DemandFigure, wall: DemandFigure) -> DemandFigure:
    material = _SHAFTS.get(str(get(car.configuration, "driveshaft.material")))
    if material is None:  # carbon tubes depend on their lay-up
        return absent("driveshaft.material")
    return derive(
        lambda length, d, t: driveshaft.critical_speed(length, d, t, material),
        car.given("driveshaft.length"), outer, wall,
    )  # fmt: skip


def _final_drive(car: Demands) -> Iterator[Row]:
    """Input torque at the pinion, no more than the tyres let it see."""
    path = f"final_drive.{'front' if _driven(car) == 'front' else 'rear'}"
    stated = car.limit(f"{path}.rated_torque", "torque")
    if stated.band is None and stated.problem is None:
        stated = car.limit("final_drive.rated_torque", "torque")
    grip = derive(traction.torque_at_grip, _grip_force(car), _final_ratio(car), _radius(car))
    demand = car.shaft_torque
    if grip.band is not None and demand.band is not None:
        demand = derive(min, demand, grip)
    yield row(margin_kinds.FINAL_DRIVE_TORQUE, demand, stated)


def _driven(car: Demands) -> str | None:
    chassis = car.configuration.chassis
    return chassis.driven_wheels if chassis else None


def _final_ratio(car: Demands) -> DemandFigure:
    axle = "front" if _driven(car) == "front" else "rear"
    own = car.given(f"final_drive.{axle}.ratio")
    return own if own.band is not None else car.given("final_drive.ratio")


def _radius(car: Demands) -> DemandFigure:
    return derive(lambda round_: round_ / (2 * pi), car.circumference)


def _grip_force(car: Demands) -> DemandFigure:
    """Largest force of the driven tyres, with the load that driving off moves to the rear."""
    driven = _driven(car)
    if driven is None:
        return absent("chassis.driven_wheels")
    whole = driven == "all"
    load = car.given("chassis.mass" if whole else "chassis.driven_axle_load")
    if load.band is None and not whole:
        load = car.given(f"chassis.{driven}_axle_load")
    height, base = (
        car.given(f"chassis.{n}") for n in ("centre_of_gravity_height", "wheelbase")
    )  # fmt: skip
    friction = car.given_or_prior("chassis.grip_coefficient", "tyre_friction")
    if whole or height.band is None or base.band is None:
        return derive(traction.grip_force, friction, load)
    sign = -1.0 if driven == "front" else 1.0
    return derive(
        lambda mu, mass, h, b: traction.grip_force(mu, mass, sign * h / b),
        friction, load, height, base,
    )  # fmt: skip


def tyre_rows(car: Demands) -> Iterator[Row]:
    """Speed symbol, load index, age, grip; the worse axle where the two differ."""
    sets = _tyre_sets(car)
    speed = _road_speed(car)
    for axle, path, tyre in sets:
        symbol = _symbol(tyre, path)
        yield _tyre_speed(speed, symbol, path, axle)
        mass, capacity = _axle_mass(car, axle), _tyre_load(car, tyre, path, symbol[1], speed)
        if axle is None:
            yield from _loads_of_one_set(car, capacity)
        else:
            yield row(margin_kinds.TYRE_LOAD, mass, capacity, what=axle)
        yield row(margin_kinds.TYRE_AGE, _age(car, tyre, path), _usual_age(), what=axle)
    if car.combustion:
        yield _grip(car)


def _tyre_sets(car: Demands) -> list[tuple[str | None, str, TyreSet]]:
    tyres = car.configuration.tyres
    if tyres is None:
        return [(None, "tyres", TyreSet.blank())]
    if tyres.front is None and tyres.rear is None:
        return [(None, "tyres", tyres)]
    return [
        (axle, f"tyres.{axle}" if own is not None else "tyres", own if own is not None else tyres)
        for axle, own in (("front", tyres.front), ("rear", tyres.rear))
    ]


def _road_speed(car: Demands) -> DemandFigure:
    """Road speed at the limiter in the fastest gear, no more than the calibration allows."""
    by_gear = car.through_gears(
        lambda omega, final, circumference, ratios: gear_train.fastest_at_limiter(
            omega, ratios, final, circumference
        ),
        car.limiter, _final_ratio(car), car.circumference,
    )  # fmt: skip
    cut = car.given("calibration.speed_limit")
    if cut.band is None or (by_gear.band is not None and by_gear.band.p50 < cut.band.p50):
        return by_gear
    return cut


def _tyre_speed(
    speed: DemandFigure, symbol: tuple[DemandFigure, str], path: str, axle: str | None
) -> Row:
    """ZR alone promises more than its speed and no upper end: up to it all is clear, beyond it
    only the symbol beside the load index answers (W or Y)."""
    kind, (limit, letters) = margin_kinds.TYRE_SPEED, symbol
    if letters == _OPEN_ENDED and limit.band is not None:
        kind = replace(kind, caution=_NO_CAUTION, caution_source="ZR means above 240 km/h")
        if speed.band is not None and speed.band.p90 > limit.band.p50:
            limit = absent(f"{path}.speed_symbol")
    return row(kind, speed, limit, what=axle)


def _symbol(tyre: TyreSet, path: str) -> tuple[DemandFigure, str]:
    """The speed that the symbol allows [m/s], and the symbol."""
    symbol = tyre.speed_symbol or (_marked(tyre)[1] or "")
    if not symbol:
        return absent(f"{path}.speed_symbol"), ""
    words = f"speed symbol {symbol}, table of tyre makers"
    figure = derive(
        lambda _: traction.speed_rating(symbol),
        _with_path(exact(1.0, words), f"{path}.speed_symbol"),
    )
    return replace(figure, basis="declared") if figure.band is not None else figure, symbol


def _with_path(figure: DemandFigure, path: str) -> DemandFigure:
    return replace(figure, paths=(path,))


def _marked(tyre: TyreSet) -> tuple[int | None, str | None]:
    """Load index and speed symbol where the size text holds them."""
    try:
        size = tyre_physics.parse_size(tyre.size or "")
    except ValueError:
        return None, None
    return size.load_index, size.speed_symbol


def _tyre_load(
    car: Demands, tyre: TyreSet, path: str, symbol: str, speed: DemandFigure
) -> DemandFigure:
    """What two tyres of an axle may carry at the highest speed [kg]."""
    index = tyre.load_index or _marked(tyre)[0]
    if index is None:
        return absent(f"{path}.load_index")
    count = 1 if car.configuration.car.vehicle == "motorcycle" else 2
    top = speed if speed.band is not None else exact(0.0)
    words = f"load index {index}, table of UN Regulation No. 30 (from memory)"
    stated = _with_path(exact(float(index), words), f"{path}.load_index")
    figure = derive(
        lambda number, v: traction.axle_capacity(int(number), count, symbol, v), stated,
        replace(top, sources=(), paths=()),
    )  # fmt: skip
    return replace(figure, basis="declared") if figure.band is not None else figure


def _axle_mass(car: Demands, axle: str | None) -> DemandFigure:
    if axle is None:
        return absent("chassis.front_axle_load")
    own = car.given(f"chassis.{axle}_axle_load")
    driven = _driven(car)
    if own.band is not None or driven not in ("front", "rear"):
        return own
    load = car.given("chassis.driven_axle_load")
    if driven == axle:
        return load if load.band is not None else own
    rest = derive(lambda whole, part: whole - part, car.given("chassis.mass"), load)
    return rest if rest.band is not None else own


def _loads_of_one_set(car: Demands, capacity: DemandFigure) -> Iterator[Row]:
    """The heavier axle counts where both carry the same tyres; both must be known."""
    front, rear = (_axle_mass(car, axle) for axle in ("front", "rear"))
    yield row(margin_kinds.TYRE_LOAD, derive(max, front, rear), capacity)


def _age(car: Demands, tyre: TyreSet, path: str) -> DemandFigure:
    if tyre.made is None:
        return absent(f"{path}.made")
    made, on = tyre.made, car.subject.on
    if on is None:
        return absent("the day")
    code = _with_path(exact(1.0, f"date code {made}"), f"{path}.made")
    return derive(lambda _: traction.age_years(traction.made_on(made), on), code)


def _usual_age() -> DemandFigure:
    words = ("age at which tyres are usually replaced (common practice)",)
    return DemandFigure(margin_kinds.USUAL_TYRE_AGE, "typical", words)


def _grip(car: Demands) -> Row:
    """Force in first gear at the highest torque against what the tyres can pass."""
    force = car.through_gears(
        lambda torque, loss, omega, final, round_, ratios: wheel_force(
            torque * omega * (1 - loss), omega, max(ratios) * final, round_
        ),
        car.crank_torque, car.driveline_loss, car.omega, _final_ratio(car), car.circumference,
    )  # fmt: skip
    return row(margin_kinds.GRIP, force, _grip_force(car), note="information: past it tyres spin")


def fastener_rows(car: Demands) -> Iterator[Row]:
    """Every joint whose thread and grade are stated; with an angle the torque says little."""
    for name, joint in car.subject.joints.items():
        torques = [one.torque.si for one in joint.fastener if one.torque and not one.angle]
        if not torques or joint.thread is None or joint.grade is None or joint.spec_angle:
            continue
        yield _fastener(car, name, joint, max(torques))


def _fastener(car: Demands, name: str, joint: Joint, torque: float) -> Row:
    where = f"torque/{name}.toml"
    thread, grade = str(joint.thread), grade_key(str(joint.grade))
    written = DemandFigure(Band.exact(torque), "measured", (where,), paths=(where,))
    tightened = derive(
        lambda t, k: bolt_tension.preload_at_torque(t, bolt_tension.parse_thread(thread), k),
        written, _nut_factor(car, joint),
    )  # fmt: skip
    words = f"proof load of {thread} {joint.grade}"
    proof = derive(
        lambda _: bolt_tension.proof_load(bolt_tension.parse_thread(thread), grade),
        _with_path(exact(1.0, words), where),
    )
    return row(margin_kinds.FASTENER, tightened, as_limit(proof), what=joint.joint)


def _nut_factor(car: Demands, joint: Joint) -> DemandFigure:
    """K by what was on the threads, with the spread of a torque wrench."""
    plain = car.prior("nut_factor")
    usual = NUT_FACTOR.get(joint.condition or "")
    if usual is None or plain.band is None:
        return plain
    words = (f"nut factor {usual:g} ({joint.condition}), spread of a torque wrench typical",)
    return replace(plain, band=plain.band * (usual / NUT_FACTOR["dry"]), sources=words)
