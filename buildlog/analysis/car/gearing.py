"""The driveline of a configuration as numbers: what turns how often for one of the wheels."""

from __future__ import annotations

from dataclasses import dataclass

from buildlog.physics.parts import tyres as tyre_physics
from buildlog.records.car.configuration import Configuration
from buildlog.records.car.driveline import TyreSet
from buildlog.records.checked_paths import field
from buildlog.records.session import Session

_RATIOS, _FINAL = field("gearbox.ratios"), field("final_drive.ratio")
_SIZE = field("tyres.size")
# Relative standard uncertainties of a rolling circumference (common practice, no source).
U_MEASURED = 0.005
U_FROM_SIZE = 0.015


@dataclass(frozen=True)
class Gearing:
    """Engine turns per wheel turn in one gear, and what the wheel rolls in one turn [m].

    `u` is the relative standard uncertainty of circumference and slip together;
    `missing` names the fields that are not given, and then the numbers are None.
    """

    ratio: float | None
    circumference: float | None
    u: float
    basis: str
    missing: tuple[str, ...]

    @property
    def turns_per_metre(self) -> float | None:
        """Engine turns for a metre of road; None where something is missing."""
        if self.ratio is None or self.circumference is None:
            return None
        return self.ratio / self.circumference


def gearing(configuration: Configuration, gear: int | None) -> Gearing:
    """The gearing in one gear, from gearbox, final drive and driven tyres."""
    missing: list[str] = []
    box = configuration.gearbox
    gear_ratio = None
    if configuration.car.power_source == "electric" and not (box and box.ratios):
        gear_ratio = 1.0  # one reduction, which is the final drive's
    elif gear is None:
        missing.append("session: gear")
    elif box is None or box.ratios is None or len(box.ratios) < gear:
        missing.append(_RATIOS)
    else:
        gear_ratio = box.ratios[gear - 1] * primary_ratio(configuration)
    final = driven_final_ratio(configuration)
    if final is None:
        missing.append(_FINAL)
    circumference, u, basis = rolling(configuration)
    if circumference is None:
        missing.append(_SIZE)
    ratio = gear_ratio * final if gear_ratio and final else None
    return Gearing(ratio, circumference, u, basis, tuple(missing))


def locked(session: Session, configuration: Configuration) -> bool:
    """Whether wheels and engine turned in one ratio: manual, dual-clutch, or said to be locked."""
    box = configuration.gearbox
    kind = box.kind if box else None
    if configuration.car.power_source == "electric":
        return True  # nothing that slips between motor and wheel
    if session.lockup is not None and session.lockup != "locked":
        return False
    return kind in {"manual", "dual-clutch"} or session.lockup == "locked"


def primary_ratio(configuration: Configuration) -> float:
    """Reduction between crankshaft and clutch; 1 where none is stated, as in cars."""
    box = configuration.gearbox
    return box.primary_ratio if box is not None and box.primary_ratio is not None else 1.0


def loss_prior(configuration: Configuration) -> str:
    """The name of the prior for what this driveline takes."""
    box = configuration.gearbox
    if _driven(configuration) == "all":
        return "driveline_loss_all_wheel"
    return "driveline_loss_automatic" if box and box.kind == "automatic" else "driveline_loss"


def driven_final_ratio(configuration: Configuration) -> float | None:
    """Ratio of the driven axle's final drive."""
    final = configuration.final_drive
    if final is None:
        return None
    front_driven = _driven(configuration) == "front"
    axle = final.front if front_driven else final.rear
    own = axle.ratio if axle else None
    return own if own is not None else final.ratio


def driven_tyres(configuration: Configuration) -> TyreSet | None:
    """The tyres of the driven axle: the axle's own set where it is given."""
    tyres = configuration.tyres
    if tyres is None:
        return None
    axle = tyres.front if _driven(configuration) == "front" else tyres.rear
    return axle if axle is not None and axle.size else tyres


def rolling(configuration: Configuration) -> tuple[float | None, float, str]:
    """Rolling circumference [m], its relative uncertainty, and its basis in words."""
    tyres = driven_tyres(configuration)
    if tyres is None:
        return None, 0.0, "missing"
    if tyres.rolling_circumference is not None:
        return tyres.rolling_circumference.si, U_MEASURED, "measured circumference"
    if tyres.size is None:
        return None, 0.0, "missing"
    try:
        size = tyre_physics.parse_size(tyres.size)
    except ValueError:
        return None, 0.0, "missing"
    diameter = tyre_physics.diameter(size)
    return tyre_physics.rolling_circumference(diameter), U_FROM_SIZE, f"size {tyres.size}"


def _driven(configuration: Configuration) -> str | None:
    return configuration.chassis.driven_wheels if configuration.chassis else None
