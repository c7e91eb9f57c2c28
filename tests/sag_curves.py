"""Full-load curves with known truth, for the search for sags: families, dips, and how a pull looks.

`Known` shapes are those that the limits of the search were set with; `unseen` ones (other steps,
rings, dips, the other half of the published curves) are for judging it. A curve is driving force
over its highest at an engine speed [rpm]. What a shop's pulls look like is common practice: levels
scatter by 0.6 %, noise is 0.3 to 1.5 hp and at most 0.5 % of the peak, half of it correlated over
20 to 150 rpm, a row stands every 10 to 50 rpm.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.special import erf

from buildlog.physics.numerics.regression import RPM, local_quadratic, noise
from buildlog.physics.traces.sags import Sags, find_sags, sample_noise

LOW, HIGH = 2000.0, 6500.0
Floats = np.ndarray
Random = np.random.Generator
Force = Callable[[Floats], Floats]
TABLE = Path(__file__).parents[1] / "shared" / "tables" / "full-load-curves.toml"
# Published curves that hold a loss of their own: vehicle 10 stands still from 2,000 to 2,250 rpm
# and gains again beyond; 31 and 32 fall by 1 to 2 % at 1,600 rpm and come back.
OWN_LOSS = {10, 31, 32}


@dataclass(frozen=True)
class Curve:
    """A force over engine speed, between two speeds; `vehicle` of a published one."""

    force: Force
    low: float = LOW
    high: float = HIGH
    vehicle: int | None = None

    def with_dip(self, place: float, depth: float, dip: Force) -> Curve:
        """The same with a loss."""
        return Curve(lambda x: self.force(x) * (1 - depth * dip(x - place)), self.low, self.high)


def _known_step(z: Floats, rng: Random) -> Floats:
    kinds = (
        lambda: 1 / (1 + np.exp(-np.clip(z, -60, 60))),
        lambda: 0.5 * (1 + erf(z / 1.6)),
        lambda: np.clip(z / 4 + 0.5, 0, 1),
    )
    return kinds[rng.integers(3)]()


def _unseen_step(z: Floats, rng: Random) -> Floats:
    kinds = (
        lambda: np.exp(-np.exp(-np.clip(0.9 * z, -20, 60))),
        lambda: 0.5 + np.arctan(1.5 * z) / np.pi,
        lambda: 0.5 * (1 + np.sin(np.clip(z / 2.5, -1, 1) * np.pi / 2)),
    )
    return kinds[rng.integers(3)]()


class Maker:
    """Draws curves of a family from one random stream."""

    def __init__(self, rng: Random, unseen: bool) -> None:
        self.rng, self.unseen = rng, unseen

    def step(self, centre: float, scale: float) -> Force:
        seed, shape = self.rng.integers(1 << 30), _unseen_step if self.unseen else _known_step
        return lambda x: shape((x - centre) / scale, np.random.default_rng(seed))

    def power(self, usual: float) -> float:
        return usual * self.rng.uniform(0.75, 1.3) if self.unseen else usual

    def hump(self) -> Curve:
        """Naturally aspirated: one broad hump of torque."""
        centre, fall, p = self.rng.uniform(3500, 5000), self.rng.uniform(0.1, 0.35), self.power(2)
        return Curve(lambda x: 1 - fall * np.abs((x - centre) / 2200) ** p)

    def flat(self) -> Curve:
        """A motor held to one torque."""
        slope = self.rng.uniform(-0.03, 0.03)
        return Curve(lambda x: 1 + slope * (x - 4200) / 2000)

    def rising(self) -> Curve:
        """Positive displacement: torque that never falls."""
        rise, p = self.rng.uniform(0.1, 0.75), self.power(1)
        return Curve(lambda x: (1 + rise * ((x - LOW) / 4500) ** p) / (1 + rise))

    def knee(self) -> Curve:
        """A slope that changes at one place."""
        centre, scale = self.rng.uniform(3000, 5500), self.rng.uniform(20, 200)
        before, after = self.rng.uniform(-0.05, 0.15), self.rng.uniform(-0.3, -0.05)
        return Curve(
            lambda x: 1 + before * (x - centre) / 2500
            + (after - before) / 2500 * scale * np.logaddexp(0, (x - centre) / scale)
        )  # fmt: skip

    def spool(self) -> Curve:
        """A large turbocharger: torque that rises steeply with boost, then holds."""
        rise = self.step(self.rng.uniform(1800, 3500), self.rng.uniform(150, 350))
        low, more = self.rng.uniform(100, 200), self.rng.uniform(100, 250)
        return Curve(lambda x: (low + more * rise(x)) / (low + more))

    def late_step(self) -> Curve:
        """A second cam or turbocharger that comes in late."""
        base, more = self.hump(), self.rng.uniform(0.05, 0.4)
        rise = self.step(self.rng.uniform(3500, 5500), self.rng.uniform(15, 150))
        return Curve(lambda x: base.force(x) * (1 + more * rise(x)) / (1 + more))

    def taper(self) -> Curve:
        """A small turbocharger: flat, then fading toward the end."""
        start, fall, p = self.rng.uniform(3500, 5500), self.rng.uniform(0.1, 0.3), self.power(2)
        return Curve(lambda x: 1 - fall * np.clip((x - start) / 2500, 0, None) ** p)

    def tail_off(self) -> Curve:
        """A fall over the last few hundred rpm."""
        return self._end(self.rng.uniform(300, 1000), self.rng.uniform(0.1, 0.35), self.power(2))

    def run_out(self) -> Curve:
        """A limiter that takes power away at the end."""
        return self._end(self.rng.uniform(60, 250), self.rng.uniform(0.4, 1.0), self.power(1))

    def _end(self, length: float, fall: float, p: float) -> Curve:
        base = self.hump()
        return Curve(
            lambda x: (
                base.force(x) * (1 - fall * np.clip((x - HIGH + length) / length, 0, None) ** p)
            )
        )

    def start_shift(self) -> Curve:
        """A pull that begins in the gear before, or with the throttle still opening."""
        base, p = self.hump(), self.power(1)
        length, fall = self.rng.uniform(60, 300), self.rng.uniform(0.2, 0.7)
        return Curve(
            lambda x: (
                base.force(x) * (1 - fall * np.clip((LOW + length - x) / length, 0, None) ** p)
            )
        )

    def ringing(self) -> Curve:
        """Oscillation after the throttle opened."""
        base, onset = self.hump(), self.rng.uniform(1900, 4500)
        wave = self.rng.uniform(200, 900)
        decay, phase = self.rng.uniform(0.8, 2.5) * wave, self.rng.uniform(0, 2 * np.pi)
        size, drift = self.rng.uniform(0.01, 0.06), self.rng.uniform(-0.2, 0.2)
        soft = 10.0 if self.rng.random() < 0.5 else 60.0
        begin = self.step(onset, soft)

        def ring(x: Floats) -> Floats:
            u = np.clip(x - onset, 0, None)
            fade = np.exp(-((u / (1.5 * decay)) ** 2)) if self.unseen else np.exp(-u / decay)
            return begin(x) * fade * np.cos(2 * np.pi * u / wave * (1 + drift * u / 3000) + phase)

        return Curve(lambda x: base.force(x) * (1 + size * ring(x)))

    def roller_hop(self) -> Curve:
        """A hump; the hop of some 8 Hz is put on by the pulls."""
        return self.hump()

    def overshoot(self) -> Curve:
        """Boost control that shoots past its target and settles."""
        base, centre = self.taper(), self.rng.uniform(2200, 3500)
        rise = self.step(centre, self.rng.uniform(80, 250))
        share, size = self.rng.uniform(0.3, 0.6), self.rng.uniform(0.03, 0.12)
        wave, late = self.rng.uniform(500, 1100), self.rng.uniform(200, 500)
        decay = self.rng.uniform(0.4, 1.2) * wave

        def force(x: Floats) -> Floats:
            fade = np.exp(-np.clip(x - centre, 0, None) / decay)
            swing = size * rise(x) * fade * np.cos(2 * np.pi * (x - centre - late) / wave)
            return base.force(x) * (1 - share + share * rise(x) + swing)

        return Curve(force)

    def published(self) -> Curve:
        """A full-load curve that somebody else drew or measured (see the table's head)."""
        own = [c for n, c in enumerate(published_curves()) if (n % 2 == 1) == self.unseen]
        return own[self.rng.integers(len(own))]


@cache
def published_curves() -> list[Curve]:
    """All curves of the table, between their points by a monotone cubic."""
    return [_published(row) for row in tomllib.loads(TABLE.read_text("utf-8"))["curve"]]


def _published(row: dict) -> Curve:
    n, p = np.array(row["n"]), np.array(row["p"])
    held = p > 0.05 * p.max()
    n, force = n[held], (p / n)[held]
    between = PchipInterpolator(n, force / force.max())
    return Curve(
        lambda x: between(np.clip(x, n[0], n[-1])), max(float(n[0]), 1000.0), float(n[-1]),
        row["vehicle"],
    )  # fmt: skip


FAMILIES = (
    "hump", "flat", "rising", "knee", "spool", "late_step", "taper", "tail_off", "run_out",
    "start_shift", "ringing", "roller_hop", "overshoot", "published",
)  # fmt: skip
SMOOTH = ("hump", "flat", "rising", "knee", "taper")


def curve_of(family: str, rng: Random, unseen: bool) -> Curve:
    """A curve of a family."""
    made: Curve = getattr(Maker(rng, unseen), family)()
    return made


def dip_of(width: float, rng: Random, unseen: bool) -> Force:
    """A loss of full width `width` at half depth: 1 at 0."""
    half = 4 * math.log(2)
    known = (
        lambda u: np.where(np.abs(u) < width, 0.5 * (1 + np.cos(np.pi * u / width)), 0.0),
        lambda u: np.exp(-half * (u / width) ** 2),
        lambda u: np.clip(1 - np.abs(u) / width, 0, None),
    )
    unseen_kinds = (
        lambda u: np.cosh(np.clip(1.763 * u / width, -30, 30)) ** -2.0,
        lambda u: np.where(np.abs(u) < 0.75 * width, np.cos(np.pi * u / (1.5 * width)), 0.0),
        lambda u: np.exp(-half * (u / np.where(u < 0, 1.3 * width, 0.7 * width)) ** 2),
        lambda u: np.clip(1.5 - np.abs(u) / width * 2, 0, 1),
    )
    kinds = unseen_kinds if unseen else known
    return kinds[rng.integers(len(kinds))]


@dataclass(frozen=True)
class Session:
    """Pulls of one curve on the sheet's grid: engine speed [rpm], power (n, g), smoothing [rpm],
    noise of a single pull, noise over the peak."""

    grid: Floats
    power: Floats
    smoothing: float
    single: float | None
    noise: float

    def sags(self) -> Sags:
        """What the search says of it; a range too short says nothing."""
        return find_sags(
            self.grid * RPM, self.power, smoothing=self.smoothing * RPM, noise=self.single
        )


def session_of(
    curve: Curve,
    rng: Random,
    pulls: int,
    *,
    noise_share: float | None = None,
    hop: bool = False,
    ends: tuple[float, ...] = (),
    again: Random | None = None,
) -> Session:
    """Pulls of a curve as a dyno logs them; `ends` [rpm] where a pull was lifted early. With
    `again` the machine is that of `rng`, and the pulls are others."""
    spacing, peak = rng.uniform(10, 50), rng.uniform(90, 500)
    sigma = min(rng.uniform(0.3, 1.5), 0.005 * peak) if noise_share is None else noise_share * peak
    reach = 0.0 if rng.random() < 0.5 else rng.uniform(20, 150)
    wave, size = rng.uniform(300, 700) / 8, rng.uniform(0.003, 0.01)
    grid = np.arange(math.ceil(curve.low / 50) * 50, curve.high + 1, 50.0)
    fine = np.arange(curve.low, curve.high, 10.0)
    top = float((curve.force(fine) * fine).max())
    smoothing = max(200.0, 7 * spacing)
    rng = again or rng
    rows, single = [], None
    for pull in range(pulls):
        x = np.arange(curve.low - rng.uniform(0, spacing), curve.high + spacing, spacing)
        power = curve.force(np.clip(x, curve.low, curve.high)) * x / top * peak
        power = power * (1 + rng.normal(0, 0.006))
        if hop:
            power = power * (1 + size * np.sin(2 * np.pi * x / wave + rng.uniform(0, 6.28)))
        power = power + sigma * _correlated(rng, x.size, spacing, reach)
        if pull < len(ends):
            x, power = x[x <= ends[pull]], power[x <= ends[pull]]
        rows.append(local_quadratic(x, power, grid, smoothing).values)
        if pulls == 1:
            single = sample_noise(*noise(x, power, smoothing), spacing)
    return Session(grid, np.array(rows), smoothing, single, sigma / peak)


def _correlated(rng: Random, size: int, spacing: float, reach: float) -> Floats:
    white = rng.standard_normal(size)
    if not reach:
        return white
    keep = math.exp(-spacing / reach)
    for i in range(1, size):
        white[i] = keep * white[i - 1] + math.sqrt(1 - keep * keep) * white[i]
    return white
