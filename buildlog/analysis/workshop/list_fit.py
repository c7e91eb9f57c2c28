"""Lists as they fit a car: an electric one is not asked for its compression."""

from __future__ import annotations

from buildlog.records.car.configuration import Configuration
from buildlog.records.checks import CarTrait, Checklist, Fits

FORCED = ("positive-displacement", "centrifugal", "turbocharger")


def traits_of(car: Configuration) -> dict[CarTrait, bool]:
    """What a car has and has not; what nobody recorded is left out, and everything fits it."""
    source = car.car.power_source
    burns, carburettors = source != "electric", bool(car.fuel and car.fuel.carburettors)
    found: dict[CarTrait, bool] = {
        "combustion": burns,
        "spark-ignition": source in (None, "spark-ignition") or _sparks(car),
        "compression-ignition": source == "compression-ignition" or _burns_diesel(car),
        "carburettor": burns and carburettors,
        "injection": burns and not carburettors,
        "control-unit": not carburettors,
        "high-voltage": source in ("hybrid", "electric"),
        "electric": source == "electric",
    }
    kind = car.induction.kind if car.induction else None
    if kind is not None or not burns:
        found["forced-induction"] = kind in FORCED
    return found


def _burns_diesel(car: Configuration) -> bool:
    kind = car.fuel.kind if car.fuel else None
    return car.car.power_source == "hybrid" and kind == "diesel"


def _sparks(car: Configuration) -> bool:
    return car.car.power_source == "hybrid" and not _burns_diesel(car)


def fitting(wanted: Fits, car: Configuration) -> bool:
    """Whether a car has all that is asked; what is not known of it counts as had."""
    known = traits_of(car)
    return all(known.get(one, True) for one in wanted)


def in_us_units(listed: Checklist) -> Checklist:
    """A list of the program, which asks in metric units, as it asks of a car with US ones."""
    items = tuple(one.model_copy(update={"unit": _US_UNITS.get(one.unit or "", one.unit)})
                  for one in listed.item)  # fmt: skip
    return listed.model_copy(update={"item": items})


_US_UNITS = {"bar": "psi", "degC": "degF", "km": "mi", "N*m": "lb*ft"}


def fitted(listed: Checklist, car: Configuration) -> Checklist | None:
    """A list with the items and cautions that fit a car; None where it is of no use to it."""
    if not fitting(listed.fits, car):
        return None
    cautions = tuple(one.text for one in listed.caution if fitting(one.fits, car))
    burns = traits_of(car)["combustion"]
    return listed.model_copy(
        update={
            "item": tuple(one for one in listed.item if fitting(one.fits, car)),
            "cautions": (*listed.cautions, *cautions),
            "caution": (),
            "before": listed.before if burns or listed.before in _ANY_CAR else None,
        }
    )


_ANY_CAR = ("pull", "hand-back")  # steps that a car without an engine goes through, too
