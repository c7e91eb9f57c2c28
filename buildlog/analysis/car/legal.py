"""Facts that local codes have something to say about. They are stated, never judged:
local codes and licensed practice decide."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from buildlog.analysis.car.gearing import driven_final_ratio, driven_tyres
from buildlog.analysis.car.version import Version
from buildlog.findings import Finding, Severity
from buildlog.physics.parts.tyres import LOAD_INDEX, diameter, parse_size
from buildlog.records.car.configuration import Configuration
from buildlog.records.car.driveline import TyreSet
from buildlog.records.checked_paths import field, table

_CATALYSTS, _SOUND = table("exhaust.catalysts"), field("exhaust.sound_level")
_TYRES, _LOAD_INDEX, _FINAL = table("tyres"), field("tyres.load_index"), table("final_drive")
DECIDE = "local codes and licensed practice decide"
_SPEEDOMETER = 0.005  # a smaller change than half a per cent is within a tyre's own wear


@dataclass(frozen=True, kw_only=True)
class LegalFact(Finding):
    """A finding of which only local codes and licensed practice can say what it means."""

    fact: str


def facts(history: Sequence[Version]) -> list[LegalFact]:
    """What is to be stated of the last version, against how the car came."""
    first, now = history[0].configuration, history[-1].configuration
    return [*_emissions(first, now), *_sound(first, now), *_tyres(now), *_speedometer(first, now)]


def _emissions(first: Configuration, now: Configuration) -> Iterator[LegalFact]:
    fitted = now.exhaust.catalysts if now.exhaust else None
    before = first.exhaust.catalysts if first.exhaust else None
    had = before is not None and before.kind != "none"
    gone = (fitted is None and had) or (fitted is not None and (fitted.kind == "none"))
    fewer = bool(fitted and before and (fitted.count or 0) < (before.count or 0))
    if fitted is not None and fitted.exemption:
        return
    wanted = bool(now.intent and now.intent.keep_emission_equipment)
    if gone or fewer:
        what = "catalysts removed" if gone else "fewer catalysts than when the car came"
        also = "; the owner wants emission equipment kept" if wanted else ""
        yield _fact("emission-equipment", f"{what}, no exemption recorded{also}",
                    (_CATALYSTS,), wanted)  # fmt: skip
    elif fitted is not None and fitted.kind == "high-flow":
        text = "catalysts are not the maker's, no exemption recorded"
        yield _fact("emission-equipment", text, (_CATALYSTS,))


def _sound(first: Configuration, now: Configuration) -> Iterator[LegalFact]:
    exhaust = now.exhaust
    limit = now.intent.sound_level_limit if now.intent else None
    if exhaust is None:
        return
    if exhaust.sound_level is None:
        if first.exhaust != exhaust:
            text = "exhaust changed, sound level not recorded"
            yield _fact("sound-level", text, (_SOUND,))
        return
    how = f" ({exhaust.sound_method})" if exhaust.sound_method else ", method not recorded"
    over = limit is not None and exhaust.sound_level.si > limit.si
    asked = f"; the limit set is {limit}" if limit else ""
    text = f"sound level {exhaust.sound_level}{how}{asked}"
    yield _fact("sound-level", text, (_SOUND,), over)


def _tyres(now: Configuration) -> Iterator[LegalFact]:
    chassis, tyres = now.chassis, now.tyres
    if chassis is None or tyres is None:
        return
    driven = chassis.driven_axle_load
    sides = {"front": chassis.front_axle_load, "rear": chassis.rear_axle_load}
    if chassis.driven_wheels in sides:
        sides[chassis.driven_wheels] = sides[chassis.driven_wheels] or driven
    for side, load in sides.items():
        own = tyres.front if side == "front" else tyres.rear
        index = _load_index(own) or _load_index(tyres)
        if load is None or index is None or index not in LOAD_INDEX:
            continue
        carries = 2 * LOAD_INDEX[index]
        if carries < load.si:
            text = (
                f"load index {index} of the {side} tires carries {carries:.0f} kg on the axle, "
                f"the {side} axle load is {load}"
            )
            yield _fact("tyre-load-index", text, (_LOAD_INDEX,), True)


def _load_index(tyres: TyreSet | None) -> int | None:
    if tyres is None:
        return None
    if tyres.load_index is not None or tyres.size is None:
        return tyres.load_index
    try:
        return parse_size(tyres.size).load_index
    except ValueError:
        return None


def _speedometer(first: Configuration, now: Configuration) -> Iterator[LegalFact]:
    rolls = _rolling_ratio(first, now)
    if rolls and abs(rolls - 1) > _SPEEDOMETER:
        text = f"tires roll {100 * (rolls - 1):+.1f} % against how the car came: {_effect(rolls)}"
        yield _fact("speedometer", text, (_TYRES,), rolls > 1)
    old, new = driven_final_ratio(first), driven_final_ratio(now)
    if old and new and abs(old / new - 1) > _SPEEDOMETER:
        text = (
            f"final drive {new:g} for {old:g}: where the speedometer is driven by the gearbox, "
            f"{_effect(old / new)}"
        )
        yield _fact("speedometer", text, (_FINAL,), old > new)


def _rolling_ratio(first: Configuration, now: Configuration) -> float | None:
    """What a turn of the tyre rolls now over what it rolled: sizes with sizes, else measured."""
    one, other = driven_tyres(first), driven_tyres(now)
    if one is None or other is None:
        return None
    if one.size and other.size:
        try:
            return diameter(parse_size(other.size)) / diameter(parse_size(one.size))
        except ValueError:
            return None
    if one.rolling_circumference and other.rolling_circumference:
        return other.rolling_circumference.si / one.rolling_circumference.si
    return None


def _effect(ratio: float) -> str:
    side = "below" if ratio > 1 else "above"
    return f"the speedometer reads {100 * abs(1 - 1 / ratio):.1f} % {side} what it read"


def _fact(code: str, fact: str, paths: tuple[str, ...], caution: bool = False) -> LegalFact:
    severity: Severity = "caution" if caution else "note"
    return LegalFact(code, severity, f"{fact}; {DECIDE}", paths, fact=fact)
