"""The trailer `Measured`: the peak of a session as it was worked out when its entry was recorded.

Written and read here alone. The words are those of format 1 and never change; words behind
them are passed over, so that an older program reads what a newer one adds.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

_WORDS = re.compile(r"(\d+) W at (\d+) (rpm|km/h), (wheels|hubs)(?:, (.+), (\d+) pulls)?")


@dataclass(frozen=True)
class RecordedPeak:
    """Peak power [W] of the mean of the pulls, its place [rpm or km/h], where and how measured.

    `standard` and `pulls` are None where a trailer does not hold them.
    """

    power_w: float
    at: float
    unit: str  # rpm or km/h
    place: str  # wheels or hubs
    standard: str | None
    pulls: int | None

    def text(self) -> str:
        """The trailer's value."""
        return (
            f"{self.power_w:.0f} W at {self.at:.0f} {self.unit}, {self.place}, {self.standard}, "
            f"{self.pulls} pulls"
        )


def recorded_peak(trailer: str | None) -> RecordedPeak | None:
    """The peak that a trailer states; None without one that can be read.

    >>> recorded_peak("112523 W at 5781 rpm, wheels, SAE J1349, 3 pulls").standard
    'SAE J1349'
    """
    found = _WORDS.match(trailer or "")
    if found is None:
        return None
    power, at, unit, place, standard, pulls = found.groups()
    return RecordedPeak(
        float(power), float(at), unit, place, standard, int(pulls) if pulls else None
    )
