"""Two figures for one power: at the wheels and at the crank, asked about where what lies between
them is not what such a driveline usually takes, wherever the two stand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from buildlog.analysis.car.changes import power_neutral
from buildlog.analysis.car.history_files import HistoryFiles, Visit
from buildlog.analysis.car.version import Version
from buildlog.analysis.workshop import partlife
from buildlog.findings import Finding
from buildlog.physics.gases import correction
from buildlog.physics.parts import usual_ranges
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import field
from buildlog.records.paths import differences
from buildlog.units import Quantity

CODES = ("wheel-power", "wheel-power-optimistic", "wheel-power-low")
_RATED = field("engine.rated_power")
# Kinds of entries after which a value that was unknown is known: nothing was changed by that.
_FOUND, _DESCRIBING = "found", ("correction", "earlier")


class SessionPeak(NamedTuple):
    """The highest mean power of a session [W]: at the "wheels", "hubs" or "crank", corrected to
    this standard."""

    power: float
    at: str = "wheels"
    standard: str = "SAE J1349"


class _Crank(NamedTuple):
    value: float
    told: str
    standard: str


def doubted(
    history: Sequence[Version], held: HistoryFiles, peaks: Mapping[str, SessionPeak]
) -> list[Finding]:
    """What to ask about each visit that measured a version; `peaks` by the session's name."""
    found: list[Finding] = []
    for index, visit in held.visits_in(history):
        peak = peaks.get(visit.name)
        for power, standard in _wheels(visit, peak):
            for figure in _cranks(history[: index + 1], visit, peak):
                found += _pair(visit, history[index].configuration, power, standard, figure)
    return list(dict.fromkeys(found))


def may_be_asked(history: Sequence[Version], visit: Visit) -> bool:
    """Whether a measured peak of this visit has a figure beside it; `history` ends with what it
    measured."""
    places = {one.measured_at for one in visit.session.stated if one.quantity == "power"}
    return bool(places) or _rating(history) is not None


def _wheels(visit: Visit, peak: SessionPeak | None) -> Iterator[tuple[float, str]]:
    if peak is not None and peak.at != "crank":
        yield peak.power, peak.standard
    for one in visit.session.stated:
        if one.quantity == "power" and one.measured_at == "wheel":
            yield one.value.si, _standard(one.standard)


def _cranks(history: Sequence[Version], visit: Visit, peak: SessionPeak | None) -> Iterator[_Crank]:
    rated, engine = _rating(history), history[-1].configuration.engine
    if rated is not None and engine is not None:
        told = f"the maker's {rated} at the crank"
        yield _Crank(rated.si, told, _standard(engine.rated_standard))
    if peak is not None and peak.at == "crank":
        yield _Crank(peak.power, f"the {peak.power / 1e3:.0f} kW at the crank of this session's "
                     "pulls", peak.standard)  # fmt: skip
    for one in visit.session.stated:
        if one.quantity == "power" and one.measured_at == "crank":
            told = f"the stated {one.value} at the crank"
            yield _Crank(one.value.si, told, _standard(one.standard))


def _standard(named: str | None) -> str:
    try:
        return correction.standard_named(named or "unknown")
    except ValueError:
        return named or "unknown"


def _rating(history: Sequence[Version]) -> Quantity | None:
    """The maker's crank power, while nothing that moves power has changed on the engine that was
    rated. What became known later was there before."""
    now = history[-1].configuration
    rated = now.engine.rated_power if now.engine else None
    if rated is None or not partlife.rating_is_of_this_engine(history):
        return None
    for before, after in pairwise(history):
        if before.configuration is after.configuration or after.kind in _DESCRIBING:
            continue
        for path, old, _ in differences(before.configuration, after.configuration):
            learned = after.kind == _FOUND and old is None
            if not power_neutral(path) and not learned:
                return None
    return rated


def _pair(
    visit: Visit, now: Configuration, peak: float, standard: str, crank: _Crank
) -> Iterator[Finding]:
    """One wheel figure against one for the crank."""
    dyno, box, chassis = visit.session.dyno, now.gearbox, now.chassis
    usual = usual_ranges.usual_loss(
        crank.value,
        box.kind if box else None,
        chassis.driven_wheels if chassis else None,
        at_hubs=dyno is not None and dyno.driven == "hubs",
        two_standards="unknown" not in (standard, crank.standard) and standard != crank.standard,
        gross="gross" in crank.standard.casefold(),
    )
    found = usual_ranges.against_crank(peak, crank.value, usual)
    where, hint = f"dyno/{visit.name}", "look at the power's unit, at what the file has corrected"
    unit = now.engine.rated_power.unit if now.engine and now.engine.rated_power else None
    unit = next((s.value.unit for s in visit.session.stated if s.quantity == "power"), unit)
    wheel = f"{unit.from_si(peak):.0f} {unit.text}" if unit else f"{peak / 1e3:.0f} kW"
    loss = f"{100 * found.implied_loss:.0f} %"
    if found.at_or_above:
        text = f"{wheel} at the wheels is not below {crank.told}"
        yield Finding(CODES[0], "caution", text, (_RATED,), where, f"{hint}, at the air")
    elif found.optimistic:
        text = (
            f"{wheel} at the wheels is only {loss} below {crank.told}; such a driveline usually "
            f"takes {100 * usual[0]:.0f} % or more (common practice)"
        )
        yield Finding(CODES[1], "note", text, (_RATED,), where)
    elif found.low:
        text = (
            f"{wheel} at the wheels is {loss} below {crank.told}; such a driveline usually takes "
            f"{100 * usual[1]:.0f} % at most (common practice)"
        )
        yield Finding(CODES[2], "note", text, (_RATED,), where, f"{hint}, at the engine itself")
