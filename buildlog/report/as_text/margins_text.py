"""Margins on one screen: the tightest first, in a sentence that can be repeated."""

from __future__ import annotations

from collections.abc import Sequence
from math import isinf

from buildlog.analysis.answers.look_answers import MarginsAnswer
from buildlog.analysis.car.version import Version
from buildlog.analysis.margins.figures.demand_figure import Source
from buildlog.analysis.margins.figures.margin_car import Subject
from buildlog.analysis.margins.figures.margin_rows import Band, Kind, Row, Rule, State, worth_asking
from buildlog.records.checked_paths import FieldPath
from buildlog.report.in_units import in_units
from buildlog.report.lines import PAGE, finding_lines, shorten, table, wrap
from buildlog.report.numbers import Display, plain, share
from buildlog.units import unit

SHOWN = 5
ORDER = "worst case first: what is left at the worse end, against its own caution band"
CAUTION = "figures are distances from stated limits, not approvals; local codes decide"
_DIMENSIONS: dict[str, str] = {
    "W": "power", "N*m": "torque", "Pa": "pressure", "kg/s": "mass_flow", "m/s": "speed",
    "kg": "mass", "K": "temperature", "m^3/s": "volume_flow", "rad/s": "angular_speed",
    "N": "force",
}  # fmt: skip
# Units that the trade uses for a quantity, whatever the system.
_ANY_SYSTEM = {"rad/s": "rpm"}
_PLAIN = {"1": "lambda", "year": "years", "octane numbers": "octane"}
_SAYS = {
    State.OVER: "past the limit",
    State.CLOSE: "close to the limit",
    State.CLEAR: "clear of the limit",
    State.UNKNOWN: "unknown",
}


def margins_lines(found: MarginsAnswer, show: Display, full: bool = False) -> list[str]:
    """The whole screen."""
    counted = [one for one in found.rows if not one.kind.information]
    answers = [one for one in counted if one.state is not State.UNKNOWN]
    unknown = [one for one in counted if one.state is State.UNKNOWN]
    lines = _head(answers, show)
    lines += wrap(f"{_name(found.version)}; {power_words(found.subject, show)}", 2, 0)
    lines += ["", *([ORDER] if answers else [])]
    many = len(answers) if full else SHOWN
    lines += _rows(answers[:many], show, full)
    lines += _short(answers[many:], show)
    lines += _unknown(unknown)
    for one in found.rows:
        if one.kind.information:
            lines += wrap(f"for information: {one.name}, {_told(one, show)}", 2, 0)
    lines += finding_lines(found.findings, 0)
    asked = worth_asking(unknown)
    return [*lines, CAUTION, *last_lines(asked)]


def _told(one: Row, show: Display) -> str:
    """What is no limit of a part; octane is told in words, since none is ever measured."""
    note = f" ({one.note})" if one.note else ""
    if one.state is State.UNKNOWN:
        return f"unknown: missing {', '.join(one.ask[:3])}{note}"
    if one.kind.unit == "octane numbers" and one.note:
        return one.note
    return f"{_figures(one, show)}{note}"


def _head(answers: Sequence[Row], show: Display) -> list[str]:
    if not answers:
        return ["no limit can be answered yet: each needs more data"]
    first = answers[0]
    return [
        *wrap(f"tightest: {headline(first, show)}", 2, 0),
        *wrap(f"in words: {verdict(first, show)}", 2, 2),
    ]


def headline(one: Row, show: Display) -> str:
    """ "clutch torque, 5 % left (385 N*m declared; 365 N*m computed, 343 to 396)  close"."""
    demand, capacity = one.margin.demand, one.margin.capacity
    if demand is None or capacity is None:
        return f"{one.name}, unknown"
    text = f"{value(capacity.p50, one.kind, show)} {one.capacity.basis}; "
    text += f"{value(demand.p50, one.kind, show)} {one.demand.basis}{spread(demand, one, show)}"
    return f"{one.name}, {left_words(one, show)} ({text})  {one.state.value}{past_words(one)}"


def past_words(one: Row) -> str:
    """What the word for the state leaves unsaid: that the limit lies inside the band."""
    return ", its band reaches past the limit" if one.margin.reaches_past else ""


def sentence(one: Row, show: Display) -> str:
    """What anybody can repeat: both sides in words."""
    demand, capacity = one.margin.demand, one.margin.capacity
    if demand is None or capacity is None:
        return f"nobody can say how far the {one.name} is from its limit"
    used, limit = (value(x.p50, one.kind, show) for x in (demand, capacity))
    if one.kind.unit == "octane numbers":
        return f"{one.name} asks for {used} more than what ran before, with {limit} to spare"
    if one.kind.rule is Rule.AT_LEAST:
        return f"{one.name} comes to {used}, and {limit} is the least allowed"
    return f"{one.name} comes to {used} of the {limit} allowed"


def verdict(one: Row, show: Display) -> str:
    """The same with where that leaves it."""
    return f"{sentence(one, show)}; that is {_SAYS[one.state]}{past_words(one)}"


def left_words(one: Row, show: Display) -> str:
    """ "8 % left", "1.5 psi left", or how far it is past."""
    left = one.margin.left
    if left is None:
        return "unknown"
    said = distance(left.p50, one.kind, show)
    return f"over by {said.removeprefix('-')}" if left.p50 < 0 else f"{said} left"


def distance(left: float, kind: Kind, show: Display) -> str:
    """What is left, as a share or in its unit."""
    if kind.rule is Rule.RATIO:
        return "all of it" if isinf(left) else share(left)
    if kind.unit == "K":
        factor = show.unit("temperature").factor
        return f"{plain(left / factor, 0)} {show.unit('temperature').text}"
    return value(left, kind, show)


def value(si: float, kind: Kind, show: Display) -> str:
    """A figure of a kind, with its unit."""
    number, text = _in_unit(si, kind, show)
    return f"{plain(number, _decimals(number, kind))} {text}"


def number(si: float, kind: Kind, show: Display) -> str:
    """The same without its unit."""
    shown, _ = _in_unit(si, kind, show)
    return plain(shown, _decimals(shown, kind))


def _in_unit(si: float, kind: Kind, show: Display) -> tuple[float, str]:
    if kind.unit in _PLAIN:
        return si, _PLAIN[kind.unit]
    own, dimension = kind.shown or _ANY_SYSTEM.get(kind.unit), _DIMENSIONS[kind.unit]
    shown = unit(show.instead(own), dimension) if own else show.unit(dimension)
    return shown.from_si(si), shown.text


def _decimals(value: float, kind: Kind) -> int:
    if kind.unit == "1":
        return 2
    return 0 if abs(value) >= 100 else 1


def spread(band: Band, one: Row, show: Display) -> str:
    """ ", 343 to 396" where a figure has a spread."""
    if band.is_exact:
        return ""
    return f", {number(band.p10, one.kind, show)} to {number(band.p90, one.kind, show)}"


def power_words(subject: Subject, show: Display) -> str:
    """Where the power that everything rests on comes from."""
    run = subject.run
    if run is None:
        return f"power unknown: {in_units(subject.no_run or '')}"
    where = "crank power" if run.at_crank else "wheel power"
    note = f"; {run.note}" if run.note else ""
    told = in_units(f"{run.source or ''}{note}").removeprefix("power ")
    return f"{where} {show.value(run.power.p50, 'power', 0)}, {told}"


def _rows(rows: Sequence[Row], show: Display, full: bool) -> list[str]:
    """A line of figures for each margin, and below it what the two sides rest on."""
    cells = [
        [shorten(one.name, 24), _figures(one, show), left_words(one, show), one.state.value]
        for one in rows
    ]
    lines: list[str] = []
    for line, one in zip(table(cells, right=(1, 2)), rows, strict=True):
        lines += [line, *_basis(one, show, full)]
    return lines


def _figures(one: Row, show: Display) -> str:
    demand, capacity = one.margin.demand, one.margin.capacity
    if demand is None or capacity is None:
        return "-"
    return f"{number(demand.p50, one.kind, show)} of {value(capacity.p50, one.kind, show)}"


def _basis(one: Row, show: Display, full: bool) -> list[str]:
    """Basis and source of both sides; in full also the formula and what it does not say."""
    demand = _rests("load", one.demand.basis, one.demand.sources, full)
    limit = _rests("limit", one.capacity.basis, one.capacity.sources, full)
    lines = wrap(f"{demand}; {limit}", 6, 4)
    if one.alternative is not None and one.alternative.band is not None:
        other = value(one.alternative.band.p50, one.kind, show)
        lines += wrap(f"also: from its dimensions: {other} (computed)", 6, 4)
    if one.margin.reaches_past:
        lines += wrap(past_words(one).removeprefix(", "), 6, 4)
    if one.note:
        lines += wrap(in_units(one.note), 6, 4)
    if one.case:
        lines += wrap(f"worse with it {one.case}", 6, 4)
    if full:
        lines += wrap(f"formula: {one.kind.formula} ({one.kind.source})", 6, 4)
        lines += wrap(f"does not say: {in_units(one.kind.says_not)}", 6, 4)
        lines += wrap(f"close within {_caution(one, show)}", 6, 4)
    return lines


def _caution(one: Row, show: Display) -> str:
    return f"{distance(one.kind.caution, one.kind, show)} ({in_units(one.kind.caution_source)})"


def _rests(word: str, basis: str, sources: Sequence[Source], full: bool) -> str:
    """A typical rate without its numbers, a power without its session: --full gives both."""
    said = [in_units(one if full else one.brief) for one in sources[: None if full else 2]]
    more = f" and {len(sources) - 2} more" if not full and len(sources) > 2 else ""
    return f"{word}: {basis}" + (f" ({'; '.join(said)}{more})" if said else "")


def _short(rows: Sequence[Row], show: Display) -> list[str]:
    """The rest by state, each with what is left and its basis."""
    lines: list[str] = []
    for state in (State.OVER, State.CLOSE, State.CLEAR):
        said = [f"{r.name} {left_words(r, show)} ({r.basis})" for r in rows if r.state is state]
        if said:
            lines += wrap(f"also {state.value}: {', '.join(said)}", 2, 0)
    return lines


def _unknown(rows: Sequence[Row]) -> list[str]:
    """What each unknown margin lacks."""
    if not rows:
        return []
    lacks = [f"{one.name} (missing: {', '.join(one.ask[:3])})" for one in rows]
    return wrap(f"unknown: {', '.join(lacks)}", 2, 0)


def last_lines(asked: Sequence[str]) -> list[str]:
    """The next command: what would answer most of the unknown margins; never broken in two."""
    if not asked:
        return ["next: buildlog headroom"]
    line = f"unknown is not clear. next: {command_for(asked[0])}"
    return [line] if len(line) <= PAGE.width else line.replace(". next", "\nnext").split("\n")


def command_for(path: str) -> str:
    """The command that writes a missing datum: a field, a file, or what only a session tells."""
    if isinstance(path, FieldPath):
        return f'buildlog set {path}="..."'
    if path.startswith("torque/"):
        return "buildlog torque list"
    return "buildlog dyno add FILE... --session NAME"


def _name(version: Version) -> str:
    if version.working:
        return "working"
    return f"{version.name} ({version.id[:8]})" if version.number else version.name
