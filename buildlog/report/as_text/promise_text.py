"""Where a result lies beside what was promised: for screens and for documents."""

from __future__ import annotations

from typing import NamedTuple

from buildlog.analysis.pulls.measured import Delta, Measured
from buildlog.records.recorded_promise import RecordedPromise


class Gain(NamedTuple):
    """The gain that was expected, in SI: the ends that 8 results in 10 fall between."""

    low: float
    high: float


def stored_gain(promise: RecordedPromise, dimension: str) -> Gain | None:
    """The gain of power or torque that a quote stored; None where it promised none."""
    band = promise.power if dimension == "power" else promise.torque
    return Gain(band.p10 - band.before, band.p90 - band.before) if band else None


def place(wanted: Gain, delta: Delta, result: Measured) -> str:
    """Where the result lies, if the pulls can tell."""
    if not result.comparable:
        return "not like for like"
    if not delta.beyond_scatter:
        return "too small to tell"
    return where(wanted, delta.peak_delta, delta.half_width_95)


def where(wanted: Gain, gain: float, half: float | None) -> str:
    """ "inside", at an edge where the interval reaches past it, else "above it", "below it"."""
    if gain < wanted.low:
        return "below it"
    if gain > wanted.high:
        return "above it"
    low, high = (gain - half, gain + half) if half is not None else (gain, gain)
    edges = [
        name for name, at in (("upper", high > wanted.high), ("lower", low < wanted.low)) if at
    ]
    return f"inside, at its {edges[0]} edge" if len(edges) == 1 else "inside"
