"""What the car's file declares of an effect that no formula gives, between two ends."""

from __future__ import annotations

from dataclasses import dataclass

from buildlog.physics.numerics.sampling import Uncertain


@dataclass(frozen=True)
class Declared(Uncertain):
    """An uncertain input that is declared: at which field, and its range in words."""

    at: str
    words: str
