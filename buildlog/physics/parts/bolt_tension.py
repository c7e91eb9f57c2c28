"""Tightening torque, preload and strength of threaded fasteners."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from math import pi

from buildlog.physics.numerics.arguments import above_zero
from buildlog.physics.numerics.constants import INCH, LBF


@dataclass(frozen=True)
class Thread:
    """A thread in SI: nominal diameter [m], pitch [m], and whether it is an inch thread."""

    diameter: float
    pitch: float
    inch: bool

    def __post_init__(self) -> None:
        above_zero(thread_diameter=self.diameter, thread_pitch=self.pitch)
        if self.pitch > self.diameter / 2:
            raise ValueError(
                f"a pitch of {self.pitch * 1000:.4g} mm is too coarse for a diameter of "
                f"{self.diameter * 1000:.4g} mm."
            )


_COARSE_MM = {5: 0.8, 6: 1.0, 8: 1.25, 10: 1.5, 12: 1.75, 14: 2.0, 16: 2.0, 18: 2.5, 20: 2.5}
"""Coarse pitch of a metric thread named without one, ISO 261 (from memory)."""

_METRIC = re.compile(r"M(\d+(?:\.\d+)?)(?:\s*[x×]\s*(\d+(?:\.\d+)?))?", re.IGNORECASE)
_INCH = re.compile(
    r"(\d+(?:/[1-9]\d*)?|\d*\.\d+)(?:\s*in)?\s*-\s*(\d+)(?:\s*UN[CFS]?)?", re.IGNORECASE
)


def parse_thread(text: str) -> Thread:
    """Read a thread such as "M10x1.5", "M8" (coarse) or "3/8-16".

    Formula: metric: diameter and pitch in mm; inch: diameter in inches, threads per inch.
    Inputs: text. Result: Thread [m].
    Validity: ISO metric and unified inch threads. Errors: ValueError for anything else.
    Source: designations of ISO 965-1 and ASME B1.1 (from memory).

    >>> parse_thread("M8").pitch
    0.00125
    >>> round(parse_thread("3/8-16").diameter * 1000, 3)
    9.525
    """
    if metric := _METRIC.fullmatch(text.strip()):
        size = float(metric[1])
        pitch = (
            float(metric[2]) if metric[2] else _COARSE_MM.get(int(size) if size % 1 == 0 else -1)
        )
        if pitch is None:
            raise ValueError(f"{text!r} needs its pitch written out, such as M9x1.25.")
        return Thread(size / 1000, pitch / 1000, inch=False)
    if (inch := _INCH.fullmatch(text.strip())) and int(inch[2]) > 0:
        return Thread(float(Fraction(inch[1])) * INCH, INCH / int(inch[2]), inch=True)
    raise ValueError(f"{text!r} is not a thread such as M10x1.5 or 3/8-16.")


def tensile_stress_area(thread: Thread) -> float:
    """Return the area on which a thread's strength is reckoned.

    Formula: metric (pi/4)(d - 0.938194 p)^2; inch (pi/4)(d - 0.9743 p)^2.
    Inputs: Thread. Result: area [m^2].
    Validity: ISO metric and unified inch threads. Errors: none.
    Source: ISO 898-1 and ASME B1.1 (from memory); inch rows agree with a published table.

    >>> round(tensile_stress_area(parse_thread("M10x1.5")) * 1e6, 2)  # mm^2
    57.99
    """
    depth = 0.9743 if thread.inch else 0.938194
    return pi / 4 * (thread.diameter - depth * thread.pitch) ** 2


_KSI = 1000 * LBF / INCH**2

# (largest diameter [m], proof strength [Pa]) in rising order.
# SAE J429 from two hardware tables (opened); ISO 898-1 from memory.
PROOF_STRENGTH: dict[str, tuple[tuple[float, float], ...]] = {
    "J429 2": ((0.75 * INCH, 55 * _KSI), (1.5 * INCH, 33 * _KSI)),
    "J429 5": ((1.0 * INCH, 85 * _KSI), (1.5 * INCH, 74 * _KSI)),
    "J429 8": ((1.5 * INCH, 120 * _KSI),),
    "8.8": ((0.016, 580e6), (0.039, 600e6)),
    "9.8": ((0.016, 650e6),),
    "10.9": ((0.039, 830e6),),
    "12.9": ((0.039, 970e6),),
}


def grade_key(grade: str) -> str:
    """A grade as the strength table names it: "SAE 5" and "grade 5" are "J429 5".

    >>> grade_key("SAE 8"), grade_key("10.9")
    ('J429 8', '10.9')
    """
    plain = grade.strip().upper()
    for prefix in ("SAE J429 GRADE", "SAE GRADE", "GRADE", "SAE J429", "SAE", "J429"):
        if plain.startswith(prefix):
            return f"J429 {plain.removeprefix(prefix).strip()}"
    return plain


def proof_strength(grade: str, diameter: float) -> float:
    """Return the stress a fastener must bear without lasting stretch.

    Formula: table. Inputs: grade ("J429 5", "10.9"), nominal diameter [m].
    Result: stress [Pa].
    Validity: steel bolts and studs of these grades; not stainless, not a maker's own grade.
    Errors: ValueError for an unknown grade or a diameter beyond the table.
    Source: SAE J429 (two hardware tables, opened); ISO 898-1 (from memory).

    >>> round(proof_strength("10.9", 0.010) / 1e6)
    830
    """
    above_zero(diameter=diameter)
    rows = PROOF_STRENGTH.get(grade.strip().upper())
    if rows is None:
        raise ValueError(f"{grade!r} is not a known grade ({', '.join(PROOF_STRENGTH)}).")
    # A hundredth of a millimetre of slack, for diameters that went through inches.
    strength = next((s for limit, s in rows if diameter <= limit + 1e-5), None)
    if strength is None:
        raise ValueError(f"grade {grade} is not tabulated for {diameter * 1000:.4g} mm.")
    return strength


def proof_load(thread: Thread, grade: str) -> float:
    """Return the force a fastener must bear without lasting stretch.

    Formula: stress area times proof strength. Inputs: Thread, grade. Result: force [N].
    Validity, errors, source: as proof_strength.

    >>> round(proof_load(parse_thread("M10x1.5"), "10.9") / 1e3, 2)  # kN
    48.13
    """
    return proof_strength(grade, thread.diameter) * tensile_stress_area(thread)


def usual_preload(thread: Thread, grade: str, share: float = 0.75) -> float:
    """Return the preload a joint is usually tightened to.

    Formula: share of the proof load; 0.75 for a joint that is reused, 0.90 for a lasting one.
    Inputs: Thread, grade, share [-]. Result: force [N].
    Validity: without a maker's figure, which comes first.
    Errors: as proof_strength; ValueError unless the share is above 0 and at most 1.
    Source: Shigley, Mechanical Engineering Design, section 8-9 (from memory).

    >>> round(usual_preload(parse_thread("3/8-16"), "J429 5") / LBF)
    4940
    """
    if not 0 < share <= 1:
        raise ValueError(f"the share of the proof load must be above 0 and at most 1, not {share}.")
    return share * proof_load(thread, grade)


NUT_FACTOR = {"dry": 0.20, "plated": 0.22, "oiled": 0.16, "anti-seize": 0.16, "waxed": 0.10}
"""[-] K by what is on the threads: machine makers' tables (opened); anti-seize as oiled."""


def torque_for_preload(preload: float, thread: Thread, nut_factor: float) -> float:
    """Return the tightening torque for a preload.

    Formula: T = K d F.
    Inputs: preload F [N], Thread (d [m]), nut_factor K [-]: 0.20 plain, 0.22 zinc, 0.15 to
    0.17 lubricated, 0.10 waxed. Result: torque [N*m].
    Validity: torque tightening; a stretch bolt goes by angle and is used once.
    Errors: ValueError unless preload and K are above zero.
    Source: Shigley, section 8-8, K 0.20 (from memory); other K machine maker's table (opened).

    >>> t = parse_thread("1/2-13")
    >>> round(torque_for_preload(usual_preload(t, "J429 8"), t, 0.20) / (LBF * 12 * INCH))
    106
    """
    above_zero(preload=preload, nut_factor=nut_factor)
    return nut_factor * thread.diameter * preload


def preload_at_torque(torque: float, thread: Thread, nut_factor: float) -> float:
    """Return the preload that a tightening torque makes; the inverse of torque_for_preload.

    Formula: F = T/(K d). Inputs: torque T [N*m], Thread, nut_factor K [-].
    Result: force [N].
    Validity: with a torque wrench alone the preload scatters by about 30 % either way
    (opened, glossary): give nut_factor as a band.
    Errors: ValueError unless torque and K are above zero. Source: as torque_for_preload.

    >>> round(preload_at_torque(50.45, parse_thread("M10x1.5"), 0.20) / 1e3, 2)
    25.23
    """
    above_zero(torque=torque, nut_factor=nut_factor)
    return torque / (nut_factor * thread.diameter)
