"""Rates of the search for sags on curves with known truth: false alarms, hits, depth, time.

Run: python tests/benchmarks/bench_sags.py [sessions of a family] [seed]     (110, 2026)
The curves, dips and pulls are those of tests/sag_curves.py, all of the unseen kind. A false alarm
is a session with any sag, of all pulls or of one. A dip is found where a sag's middle lies within
0.6 of its width; "with room" counts those whose foot and 150 rpm beside it lie inside the pulls.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from buildlog.physics.numerics.regression import RPM
from tests.sag_curves import (
    FAMILIES,
    OWN_LOSS,
    SMOOTH,
    curve_of,
    dip_of,
    session_of,
)

HARD = tuple(family for family in FAMILIES if family not in SMOOTH)
ANY = (*SMOOTH, "published", "spool", "overshoot")


def false_alarms(family: str, sessions: int, seed: int, unseen: bool = True) -> tuple[int, list]:
    """Sessions with a sag where there is none, and what was said of published curves."""
    alarms, named = 0, []
    for i in range(sessions):
        rng = np.random.default_rng([seed, i, FAMILIES.index(family)])
        curve = curve_of(family, rng, unseen)
        session = session_of(curve, rng, 1 + i % 5, hop=family == "roller_hop")
        found = session.sags().found
        if found and curve.vehicle in OWN_LOSS:
            named.append((curve.vehicle, round(found[0].at / RPM)))
        alarms += bool(found) and curve.vehicle not in OWN_LOSS
    return alarms, named


def hits(
    bases: tuple[str, ...],
    width: float,
    depth: float,
    sessions: int,
    seed: int,
    noise: tuple[float, float] | None = None,
    unseen: bool = True,
    pulls: int = 3,
) -> np.ndarray:
    """A row for each session: found, with room, another sag beside, depth over truth, depth in its
    own standard deviations, whether the interval holds the truth."""
    rows = []
    for i in range(sessions):
        rng = np.random.default_rng([seed, int(width), round(1000 * depth), i])
        curve = curve_of(bases[i % len(bases)], rng, unseen)
        place = curve.low + rng.uniform(0.03, 0.97) * (curve.high - curve.low)
        share = None if noise is None else rng.uniform(*noise)
        dipped = curve.with_dip(place, depth, dip_of(width, rng, unseen))
        result = session_of(dipped, rng, pulls, noise_share=share).sags()
        near = [s for s in result.found if abs(s.at / RPM - place) <= 0.6 * width]
        room = curve.low + width + 150 <= place <= curve.high - width - 150
        ratio = near[0].depth / depth if near else np.nan
        holds = abs(near[0].depth - depth) <= near[0].half_width if near else np.nan
        strong = depth / (near[0].half_width / 2) if near else np.nan
        rows.append((bool(near), room, len(result.found) > len(near), ratio, strong, holds))
    return np.array(rows, dtype=float)


def honest(families: tuple[str, ...], i: int, seed: int, unseen: bool = True) -> tuple | None:
    """What a session says would show, and whether a dip as deep does when the same machine
    measures it; None where it says nothing, finds a sag, or is too short for such a dip."""
    rng = np.random.default_rng([seed, i, 300])
    curve, machine = curve_of(families[i % len(families)], rng, unseen), int(rng.integers(1 << 30))
    pulls, room = 1 + i // len(families) % 5, 450.0
    found = session_of(curve, np.random.default_rng(machine), pulls).sags()
    least = None if found.found else found.smallest(300 * RPM)
    if least is None or curve.high - curve.low < 2.5 * room:
        return None
    low, high = (
        (curve.low + room, curve.high - room)
        if least.whole
        else (least.low / RPM, least.high / RPM)
    )
    place = rng.uniform(low, high)
    dipped = curve.with_dip(place, least.depth, dip_of(300, rng, unseen))
    result = session_of(dipped, np.random.default_rng(machine), pulls, again=rng).sags()
    return least.depth, any(abs(s.at / RPM - place) <= 180 for s in result.found)


def main() -> None:
    """Print the tables."""
    sessions = int(sys.argv[1]) if len(sys.argv) > 1 else 110
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 2026
    began, total, own = time.perf_counter(), 0, []
    print(f"false alarms of {sessions} sessions, 1 to 5 pulls")
    for family in FAMILIES:
        alarms, named = false_alarms(family, sessions, seed)
        total, own = total + alarms, own + named
        print(f"  {family:12s} {alarms}", flush=True)
    print(f"  all {total} of {sessions * len(FAMILIES)}; losses of published curves told: {own}")
    for title, bases, noise in (
        ("noise under 0.2 % of the peak, smooth bases", SMOOTH, (0.0003, 0.002)),
        ("any noise, any base", ANY, None),
    ):
        print(f"{title}: found of {sessions // 2} (of those with room), 3 pulls")
        every = []
        for width in (150, 300, 500, 800):
            cells = []
            for depth in (0.01, 0.02, 0.03, 0.05):
                rows = hits(bases, width, depth, sessions // 2, seed, noise)
                room = rows[:, 1] > 0
                cells.append(f"{rows[:, 0].sum():3.0f} ({rows[room, 0].mean():4.0%})")
                every.append(np.column_stack([rows, np.full(len(rows), depth)]))
            print(f"  {width:4d} rpm  " + "  ".join(cells), flush=True)
        all_rows = np.vstack(every)
        found = all_rows[all_rows[:, 0] > 0]
        strong = found[found[:, 4] > 5]
        print(
            f"  another sag beside: {all_rows[:, 2].sum():.0f} of {len(all_rows)}; depth within "
            f"20 % beyond 5 sd: {np.mean(np.abs(strong[:, 3] - 1) <= 0.2):.0%}, median "
            f"{np.median(strong[:, 3]):.2f}; interval holds {np.mean(found[:, 5]):.0%}"
        )
    for families in (SMOOTH, HARD):
        rows = [honest(families, i, seed) for i in range(2 * sessions)]
        told = [row for row in rows if row is not None]
        depths = [depth for depth, _ in told]
        print(
            f"smallest depth that would show, 300 rpm, {', '.join(families)}: said in {len(told)} "
            f"of {len(rows)}, median {np.median(depths):.1%}; of dips so deep, with room, "
            f"{np.mean([shown for _, shown in told]):.0%} found"
        )
    print(f"{time.perf_counter() - began:.0f} s")


if __name__ == "__main__":
    main()
