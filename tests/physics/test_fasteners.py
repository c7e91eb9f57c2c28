"""Fasteners against two hardware makers' tables and an extract of ISO 898-1."""

import tomllib
from math import pi
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.physics.numerics.band import Band, propagate
from buildlog.physics.parts import bolt_tension as fas

TABLES = Path(__file__).parents[2] / "shared" / "tables"
TABLE = tomllib.loads((TABLES / "margin-examples.toml").read_text(encoding="utf-8"))
LBF, LBF_FT = 4.4482216, 1.3558179


@pytest.mark.parametrize(("text", "grade", "pounds", "pound_feet"), TABLE["bolts"]["rows"])
def test_published_preload_and_torque(text: str, grade: str, pounds: int, pound_feet: int) -> None:
    thread = fas.parse_thread(text)
    preload = fas.usual_preload(thread, grade)
    assert preload / LBF == pytest.approx(pounds, abs=0.6)
    torque = fas.torque_for_preload(preload, thread, 0.20)
    assert torque / LBF_FT == pytest.approx(pound_feet, abs=0.5)


@pytest.mark.parametrize(("text", "square_mm"), TABLE["stress_area"]["rows"])
def test_metric_stress_area(text: str, square_mm: float) -> None:
    area = fas.tensile_stress_area(fas.parse_thread(text))
    assert area * 1e6 == pytest.approx(square_mm, abs=6e-4)


@pytest.mark.parametrize(
    ("text", "preloads", "torques"),
    [
        ("M8x1.25", (15.93, 22.79, 26.63), (25.48, 36.46, 42.61)),
        ("M10x1.5", (25.23, 36.10, 42.19), (50.45, 72.20, 84.37)),
        ("M12x1.25", (40.05, 57.32, 66.98), (96.12, 137.56, 160.76)),
    ],
)
def test_metric_rows_computed_independently(
    text: str, preloads: tuple[float, ...], torques: tuple[float, ...]
) -> None:
    thread = fas.parse_thread(text)
    for grade, kilonewton, torque in zip(("8.8", "10.9", "12.9"), preloads, torques, strict=True):
        preload = fas.usual_preload(thread, grade)
        assert preload / 1e3 == pytest.approx(kilonewton, abs=0.006)
        got = fas.torque_for_preload(preload, thread, 0.20)
        assert got == pytest.approx(torque, abs=0.006)


@pytest.mark.parametrize(("grade", "tensile", "proof_stress"), TABLE["iso_898_1"]["rows"])
def test_proof_strength_lies_below_the_printed_yield(
    grade: str, tensile: float, proof_stress: float
) -> None:
    proof = fas.proof_strength(grade, 0.010) / 1e6
    assert 0.85 * proof_stress < proof < proof_stress < tensile


def test_stress_area_is_that_of_the_mean_of_pitch_and_minor_diameter() -> None:
    """d2 = d - 0.649519 p, d3 = d - 1.226869 p: 3/4 and 17/12 of a triangle's height of
    p sqrt(3)/2 (computed); that the area is of their mean, ISO 898-1 (from memory)."""
    d, p = 10.0, 1.5
    mean = (d - 0.649519 * p + d - 1.226869 * p) / 2
    area = fas.tensile_stress_area(fas.parse_thread("M10x1.5")) * 1e6
    assert area == pytest.approx(pi / 4 * mean**2, rel=1e-6)


threads = st.sampled_from(["M6", "M8", "M10x1.25", "M12", "3/8-24", "1/2-13"]).map(fas.parse_thread)


@given(threads, st.floats(1, 500), st.floats(0.08, 0.3))
def test_torque_and_preload_are_inverse(thread: fas.Thread, torque: float, k: float) -> None:
    preload = fas.preload_at_torque(torque, thread, k)
    assert fas.torque_for_preload(preload, thread, k) == pytest.approx(torque, rel=1e-9)


def test_a_torque_wrench_scatters_the_preload_by_thirty_percent() -> None:
    """Glossary (opened): 30 %. A nut factor 0.20 that varies so spreads the preload so."""
    thread = fas.parse_thread("M10x1.5")
    band = propagate(fas.preload_at_torque, 50.45, thread, Band(0.20 / 1.3, 0.20, 0.20 / 0.7))
    assert band.p10 / band.p50 == pytest.approx(0.70)
    assert band.p90 / band.p50 == pytest.approx(1.30)


@pytest.mark.parametrize(
    ("size", "pitch"),
    [(5, 0.8), (6, 1), (8, 1.25), (10, 1.5), (12, 1.75), (14, 2), (16, 2), (18, 2.5), (20, 2.5)],
)
def test_coarse_pitch_of_a_bare_size(size: int, pitch: float) -> None:
    """ISO 261, coarse series: the pitches of the ISO 4014 and 4017 screws in the open package
    bd_warehouse 0.4.0, hex_head_parameters.csv (opened)."""
    assert fas.parse_thread(f"M{size}").pitch * 1e3 == pytest.approx(pitch)


@pytest.mark.parametrize(
    ("text", "millimetres", "pitch", "inch"),
    [
        ("M8", 8.0, 1.25, False),
        ("m10 x 1.25", 10.0, 1.25, False),
        ("M12×1.5", 12.0, 1.5, False),
        ("7/16-14", 11.1125, 25.4 / 14, True),
        ("1/2-20 UNF", 12.7, 1.27, True),
    ],
)
def test_designations(text: str, millimetres: float, pitch: float, inch: bool) -> None:
    thread = fas.parse_thread(text)
    assert thread.diameter * 1e3 == pytest.approx(millimetres)
    assert thread.pitch * 1e3 == pytest.approx(pitch)
    assert thread.inch is inch


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: fas.parse_thread("10x1.5"), "not a thread"),
        (lambda: fas.parse_thread("M9"), "pitch written out"),
        (lambda: fas.parse_thread("M6x6"), "too coarse"),
        (lambda: fas.parse_thread("3/8-0"), "not a thread"),
        (lambda: fas.parse_thread("3/0-16"), "not a thread"),
        (lambda: fas.parse_thread("0/8-16"), "thread diameter"),
        (lambda: fas.proof_strength("11.9", 0.01), "not a known grade"),
        (lambda: fas.proof_strength("10.9", 0.05), "not tabulated"),
        (lambda: fas.usual_preload(fas.parse_thread("M8"), "8.8", 1.2), "share"),
        (lambda: fas.torque_for_preload(0.0, fas.parse_thread("M8"), 0.2), "preload"),
        (lambda: fas.preload_at_torque(10.0, fas.parse_thread("M8"), 0.0), "nut factor"),
    ],
)
def test_nonsense_is_refused(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
