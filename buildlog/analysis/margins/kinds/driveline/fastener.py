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
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, Row, row
from buildlog.physics.parts import bolt_tension
from buildlog.records.fasteners import Joint

KIND = Kind(
    name="fastener",
    unit="N",
    caution=0.05,
    meaning="The force that tightening put into a bolt against the force at which it keeps a "
    "stretch.",
    formula="preload T/(K d), with its scatter, of proof strength times stress area",
    source="Shigley, section 8-8 (from memory); SAE J429, ISO 898-1",
    typical="tightened to 75 to 90 % of the proof load (Shigley, section 8-9, from memory)",
    says_not="whether the joint holds, or what a stretch bolt needs",
)
EXAMPLE = Example(
    by_hand="50 N*m/(0.20 x 10 mm) = 25 kN, of 57.99 mm2 x 830 MPa = 48.13 kN",
    demand=25e3,
    capacity=48.13e3,
    car={},
    joint={
        "thread": "M10x1.5", "grade": "10.9", "condition": "dry",
        "fastener": [{"position": "bolt 1", "torque": "50 N*m"}],
    },
)  # fmt: skip


def rows(car: MarginCar) -> Iterator[Row]:
    """Every joint whose thread and grade are stated; with an angle the torque says little."""
    for name, joint in car.subject.joints.items():
        torques = [one.torque.si for one in joint.fastener if one.torque and not one.angle]
        if torques and joint.thread and joint.grade and not joint.spec_angle:
            yield _of_joint(car, f"torque/{name}.toml", joint, max(torques))


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
