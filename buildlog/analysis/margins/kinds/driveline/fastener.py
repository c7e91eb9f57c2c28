"""Fastener: the force that tightening put into a bolt of the force at which it keeps a stretch."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from buildlog.analysis.margins.figures.demand_figure import (
    DemandFigure,
    Source,
    as_limit,
    derive,
    exact,
)
from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.physics.parts import bolt_tension
from buildlog.records.fasteners import Joint, place_of

KIND = kind_of(__file__)


def rows(car: MarginCar) -> Iterator[Row]:
    """Every joint whose thread and grade are stated; with an angle the torque says little."""
    for name, joint in car.subject.joints.items():
        torques = [one.torque.si for one in joint.fastener if one.torque and not one.angle]
        if torques and joint.thread and joint.grade and not joint.spec_angle:
            yield _of_joint(car, place_of(name), joint, max(torques))


def _of_joint(car: MarginCar, where: str, joint: Joint, torque: float) -> Row:
    thread, grade = str(joint.thread), bolt_tension.grade_key(str(joint.grade))
    tightened = derive(
        lambda t, k: bolt_tension.preload_at_torque(t, bolt_tension.parse_thread(thread), k),
        exact(torque, where, "measured", where), _nut_factor(car, joint),
    )  # fmt: skip
    proof = derive(
        lambda _: bolt_tension.proof_load(bolt_tension.parse_thread(thread), grade),
        exact(1.0, f"proof load of {thread} {joint.grade}", path=where),
    )
    return row(KIND, tightened, as_limit(proof), what=joint.joint)


def _nut_factor(car: MarginCar, joint: Joint) -> DemandFigure:
    """K by what was on the threads, with the spread of a torque wrench."""
    plain, known = car.prior("nut_factor"), bolt_tension.NUT_FACTOR
    usual = known.get(joint.condition or "")
    if usual is None or plain.band is None:
        return plain
    words = f"nut factor {usual:g} ({joint.condition}), spread of a torque wrench typical"
    return replace(plain, band=plain.band * (usual / known["dry"]), sources=(Source(words),))
