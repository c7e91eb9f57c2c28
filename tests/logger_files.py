"""Pulls and the files of other loggers beside them, made from one known course of the car."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

RPM = math.pi / 30
KMH_PER_RPM = 1 / 52.0


def engine_speed(t: np.ndarray) -> np.ndarray:
    """Engine speed [rpm]: held, a pull from 0 s to 10 s that slackens, the lift after."""
    rising = 2000 + 4500 * np.clip(t / 10, 0, 1) ** 0.85
    return np.where(t < 10, rising, 6500 - 700 * np.clip(t - 10, 0, 5))


def mixture(t: np.ndarray) -> np.ndarray:
    """Lambda: 1.0 before the pull, 0.86 to 0.84 in it, 1.45 after the lift."""
    return np.select([t < 0, t > 10], [1.0, 1.45], 0.86 - 0.002 * np.clip(t, 0, 10))


def table(heads: str, *columns: np.ndarray) -> bytes:
    rows = (",".join(f"{value:.4f}" for value in row) for row in zip(*columns, strict=True))
    return "\n".join([heads, *rows, ""]).encode()


def pull(seed: int = 1, rate: float = 20.0, *, time: bool = True, rpm: bool = False) -> bytes:
    """A dyno file of the sweep alone: road speed and power, with time and engine speed if asked."""
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, 10.0, 1 / rate)
    n = engine_speed(t)
    power = 100 * np.sin(np.pi * n / 12_000) + rng.normal(0, 0.1, t.size)
    columns = {
        "time [s]": t if time else None,
        "engine speed [rpm]": n + rng.normal(0, 6, t.size) if rpm else None,
        "road speed [km/h]": n * KMH_PER_RPM + rng.normal(0, 0.1, t.size),
        "power [kW]": power,
    }
    held = {name: values for name, values in columns.items() if values is not None}
    return table(",".join(held), *held.values())


@dataclass(frozen=True)
class Logger:
    """A logger of so many rows a second, which reads road speed by a factor of its own."""

    rate: float
    gain: float = 1.0
    noise: float = 0.3  # km/h
    before: float = 4.0
    after: float = 3.0

    def file(self, shift: float, heads: str, seed: int = 2) -> bytes:
        """Its file of a pull; the pull's time is its own plus `shift` [s].

        `heads` may name time, speed, rpm, lambda, boost, throttle; each with its unit.
        """
        rng = np.random.default_rng(seed)
        t = np.arange(-self.before, 10 + self.after, 1 / self.rate) + rng.uniform(0, 1 / self.rate)
        n = engine_speed(t)
        size = t.size
        known = {
            "time [s]": t - shift,
            "speed [km/h]": self.gain * n * KMH_PER_RPM + rng.normal(0, self.noise, size),
            "rpm": n + rng.normal(0, 10, size),
            "lambda": mixture(t) + rng.normal(0, 0.003, size),
            "boost [kPa]": np.where((t > 0) & (t < 10), 50.0, 0.0) + rng.normal(0, 0.3, size),
        }
        return table(heads, *(known[name] for name in heads.split(",")))
