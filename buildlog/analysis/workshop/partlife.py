"""Part life: which piece is in the car, since when, and the distance on it.

- A part is fitted in the entry in which it first appears. In entry 1 of kind found and in any
  later entry of kind found it was there before that entry, and nobody knows since when unless
  its `part` table says so.
- Its identity is its path with maker, number, serial and kind. Another identity is another
  part, except in a correction or an entry about the past: these only describe it better.
- Refitted with the same serial it keeps its distance, less the time out.
- A new engine ends the life of its sub-parts, except those whose serial stays the same.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from buildlog.analysis.car.changes import origins
from buildlog.analysis.car.history_files import place
from buildlog.analysis.car.version import Version, distance_run, place_of
from buildlog.records.car.configuration import Configuration
from buildlog.records.car.engine import Engine
from buildlog.records.checked_paths import field, table
from buildlog.records.fields.base import once
from buildlog.records.fields.parts import Assembly, Part
from buildlog.records.key_words import key_words, piece_words
from buildlog.records.paths import same_value, words
from buildlog.units import Quantity

# Kinds of entries that describe what was there already, and so end no life.
_DESCRIBING = ("correction", "earlier")
# Tables that are no piece of hardware, unless they are given a part of their own.
_NO_PIECE = (table("calibration"), table("fuel"))
_ENGINE, _RATED = table("engine"), field("engine.rated_power")
_DONE = 1.0  # metres: less than any odometer shows


@dataclass(frozen=True)
class PartIdentity:
    """What makes a part this part and no other."""

    maker: str | None = None
    number: str | None = None
    serial: str | None = None
    kind: str | None = None
    piece: int | None = None

    @property
    def words(self) -> str:
        """ "Tolvane TC-240, serial 90233"; empty where nothing is known."""
        name = " ".join(word for word in (self.maker, self.number) if word)
        if self.serial:
            name = f"{name}, serial {self.serial}" if name else f"serial {self.serial}"
        return name or (self.kind or "")


@dataclass(frozen=True)
class PartLife:
    """One part in the car, as seen at one version. Distances in metres.

    `fitted` is None for a part that was there before the entry `first_seen`; then `by` is None
    too. `car_at_fitting` is the car's continuous distance when it was fitted. `distance` is
    what the part has run in all; None with the reason in `why_unknown`. `break_in` is what it
    asks for (`break_in_asked` as written) and `break_in_left` what is left of it: 0 when done,
    None with a reason when unknown, None without one when none is asked for. `heat_cycles` is
    how often it is to be warmed up first, which no odometer counts. `ended` is the version in
    which it was taken out. `maker_name` is what its maker calls it.
    """

    path: str
    identity: PartIdentity
    condition: str | None
    first_seen: Version
    fitted: Version | None
    fitted_on: dt.date | None
    car_at_fitting: float | None
    carried: float | None
    by: str | None
    basis: str
    distance: float | None = None
    why_unknown: str | None = None
    break_in: float | None = None
    break_in_asked: Quantity | None = None
    break_in_left: float | None = None
    break_in_why: str | None = None
    heat_cycles: int | None = None
    ended: Version | None = None
    maker_name: str | None = None

    @property
    def is_piece(self) -> bool:
        """Whether it names a piece; a table such as cooling may not."""
        return bool(self.fitted or self.identity.words or self.condition)

    @property
    def since(self) -> str:
        """ "entry 5" or "before entry 1"."""
        return self.entry if self.fitted else f"before {self.entry}"

    @property
    def entry(self) -> str:
        """ "entry 5": the one that fitted it, else the one that first shows it."""
        return self.fitted.name if self.fitted else _entry(self.first_seen)

    @property
    def name(self) -> str:
        """The part in words: "clutch", "pistons"."""
        if (called := piece_words(self.path)) != key_words(self.path.replace(".", " ")):
            return called
        head = self.path.split(".")[0].split("[")[0]
        below = "" if head == self.path else words(self.path)
        return f"{key_words(head)} {below}".strip()

    def distance_at(self, car: float | None) -> float | None:
        """The distance on the part when the car had run `car`; None where it is unknown."""
        if car is None or self.carried is None or self.car_at_fitting is None:
            return None
        run = car - self.car_at_fitting
        return self.carried + run if run >= 0 else None

    def left_at(self, car: float | None) -> float | None:
        """What was left of its break-in when the car had run `car`; None where unknown."""
        if self.break_in is None or car is None or self.car_at_fitting is None:
            return None
        if self.fitted is None and self.carried is None:
            return None
        left = self.break_in - (car - self.car_at_fitting) - (self.carried or 0.0)
        return left if left > _DONE else 0.0


def parts(history: Sequence[Version]) -> list[PartLife]:
    """The parts in the car at the last version of the history, in the order of car.toml."""
    return part_at(history, history[-1]) if history else []


def part_at(history: Sequence[Version], version: Version) -> list[PartLife]:
    """The parts in the car at a version; corrections made later are in force."""
    return Ages(history).at(place(history, version))


def lives(history: Sequence[Version]) -> list[PartLife]:
    """Every life, those that ended included, each as seen at its end or at the last version."""
    ages = Ages(history)
    return [ages.over(span) for span in ages.spans]


def part(found: Sequence[PartLife], path: str) -> PartLife | None:
    """The part at a path; for a field, the part that the field belongs to."""
    while path:
        hit = next((one for one in found if one.path == path), None)
        if hit:
            return hit
        path = path.rpartition(".")[0]
    return None


def since(history: Sequence[Version], path: str) -> Version | None:
    """The version in which a field got its present value; None where it has none."""
    return origins(history).get(path)


def rating_is_of_this_engine(history: Sequence[Version]) -> bool:
    """Whether the maker's rating was stated for the engine that is in the car now."""
    engine = part(parts(history), _ENGINE)
    stated = since(history, _RATED)
    if engine is None or stated is None:
        return False
    return place(history, stated) >= place(history, engine.first_seen)


def car_at(history: Sequence[Version], index: int, reading: float | None = None) -> float | None:
    """The car's continuous distance at a version, or at a reading [m] taken about then."""
    return Ages(history).car_at(index, reading)


@dataclass(frozen=True)
class _Span:
    """A run of versions with one part at one path. `before` is what stood there until then."""

    path: str
    identity: PartIdentity
    first: int
    last: int


class Ages:
    """All part lives of a history, for whoever asks at many of its versions."""

    def __init__(self, history: Sequence[Version]) -> None:
        self.history = history
        self.car = _car(history)
        self.spans = list(_spans(history))
        self._starts: dict[_Span, PartLife] = {}

    def at(self, here: int) -> list[PartLife]:
        """The parts in the car at a place of the history."""
        return [self.seen(span, here) for span in self.spans if span.first <= here <= span.last]

    def car_at(self, index: int, reading: float | None = None) -> float | None:
        """The car's continuous distance at a version, or at a reading [m] taken about then."""
        run, shown = self.car[index], self.history[index].odometer
        if reading is None:
            return run
        return reading + (run - shown) if run is not None and shown is not None else reading

    def over(self, span: _Span) -> PartLife:
        """A life at its end: when the part was taken out, or at the last version."""
        if span.last == len(self.history) - 1:
            return self.seen(span, span.last)
        out = self.seen(span, span.last, span.last + 1)
        return replace(out, ended=self.history[span.last + 1])

    def seen(self, span: _Span, at: int, when: int | None = None) -> PartLife:
        """A life as it is at a version, with the distance it has at that or a later one."""
        life = self.start(span)
        when = at if when is None else when
        car = self.car[when]
        distance = life.distance_at(car)
        why = None if distance is not None else life.why_unknown or self._why_not(car, when)
        table = _assemblies(self.history[at].configuration).get(span.path)
        asked = table.break_in.distance if table and table.break_in else None
        life = replace(
            life,
            distance=distance,
            why_unknown=why,
            break_in=asked.si if asked else None,
            break_in_asked=asked,
            heat_cycles=table.break_in.heat_cycles if table and table.break_in else None,
            maker_name=self._piece(span.path, at).name,
        )
        left = life.left_at(car)
        return replace(life, break_in_left=left, break_in_why=_break_in_why(life, left, why))

    def _why_not(self, car: float | None, at: int) -> str:
        if car is None:
            return f"the odometer is unknown at {_entry(self.history[at])}"
        return f"it was fitted at an odometer above that of {_entry(self.history[at])}"

    def start(self, span: _Span) -> PartLife:
        """A life as it began."""
        if span not in self._starts:
            self._starts[span] = self._begin(span)
        return self._starts[span]

    def _begin(self, span: _Span) -> PartLife:
        version = self.history[span.first]
        piece = self._piece(span.path, span.last)
        told = _Told(piece, self._left_over(span))
        there = version.kind in ("found", "earlier")
        bare = PartLife(
            span.path, span.identity, piece.condition, version,
            fitted=None if there else version,
            fitted_on=told.on or (None if there else version.date),
            car_at_fitting=None, carried=None,
            by=None if there else version.done_by, basis="computed",
        )  # fmt: skip
        here = self.car[span.first]
        if told.at is not None:
            at = self._continuous(told.at, span.first)
            return replace(bare, car_at_fitting=at, carried=told.before or 0.0, basis="declared")
        if told.before is not None:
            return self._from(replace(bare, carried=told.before, basis="declared"), here)
        if there:
            why = f"it was there before {_entry(version)} and nothing says since when"
            return replace(bare, why_unknown=why, basis="missing")
        return self._fitted_here(span, bare, here)

    def _fitted_here(self, span: _Span, bare: PartLife, here: float | None) -> PartLife:
        engine = self._engine_of(span)
        earlier = self._same_piece_before(span)
        if earlier:
            out = self.over(earlier)
            why = out.why_unknown and f"refitted; before that {out.why_unknown}"
            return self._from(replace(bare, carried=out.distance, why_unknown=why), here)
        if engine and bare.condition in (None, "original", "used"):
            whole = self.start(engine)
            return replace(
                bare, car_at_fitting=whole.car_at_fitting, carried=whole.carried,
                why_unknown=whole.why_unknown, basis=whole.basis,
            )  # fmt: skip
        if bare.condition in ("used", "original"):
            why = f"it was {bare.condition} when it was fitted, its distance before is not recorded"
            return self._from(replace(bare, why_unknown=why, basis="missing"), here)
        return self._from(replace(bare, carried=0.0), here)

    def _from(self, life: PartLife, here: float | None) -> PartLife:
        if here is None and life.why_unknown is None:
            why = f"the odometer is unknown at {_entry(life.first_seen)}, when it was fitted"
            return replace(life, why_unknown=why)
        return replace(life, car_at_fitting=here)

    def _piece(self, path: str, at: int) -> Part:
        configuration = self.history[at].configuration
        table = _assemblies(configuration).get(path)
        own = table.part if table else _work_parts(configuration).get(path)
        return own or Part.blank()

    def _left_over(self, span: _Span) -> Part:
        """What was said of the part before this one: said again, it says nothing of this one."""
        before = [one for one in self.spans if one.path == span.path and one.last < span.first]
        return self._piece(span.path, before[-1].last) if before else Part.blank()

    def _continuous(self, reading: float, first: int) -> float:
        """A stated reading as the car's distance; one above the instrument's is an older one's."""
        for index in range(first, -1, -1):
            shown, run = self.history[index].odometer, self.car[index]
            if self.history[index].kind != "earlier" and shown is not None and run is not None:
                return reading if reading > shown else reading + (run - shown)
        return reading

    def _same_piece_before(self, span: _Span) -> _Span | None:
        name = span.identity
        if name.serial is None:
            return None
        same = [
            one
            for one in self.spans
            if one.path == span.path
            and one.last < span.first
            and replace(one.identity, kind=name.kind) == name
        ]
        return same[-1] if same else None

    def _engine_of(self, span: _Span) -> _Span | None:
        """The engine that a sub-part came with; none for the engine of the first entry."""
        if not span.path.startswith(f"{_ENGINE}.") or span.first == 0:
            return None
        engines = (one for one in self.spans if one.path == _ENGINE and one.first == span.first)
        return next(engines, None)


class _Told:
    """What a part's table says of its past, less what it said of the part before it."""

    def __init__(self, piece: Part, left_over: Part) -> None:
        at, before = piece.fitted_at_odometer, piece.distance_before
        self.at = at.si if at and not same_value(at, left_over.fitted_at_odometer) else None
        known = before and not same_value(before, left_over.distance_before)
        self.before = before.si if before and known else None
        self.on = piece.fitted_on if piece.fitted_on != left_over.fitted_on else None


def _break_in_why(life: PartLife, left: float | None, why: str | None) -> str | None:
    if life.break_in is None or left is not None:
        return None
    if life.fitted is None:
        return f"it was there before {_entry(life.first_seen)}: how much is left cannot be known"
    return why


def _car(history: Sequence[Version]) -> list[float | None]:
    """The car's distance at each version; an entry about the past leaves it where it was."""
    run = distance_run(history)
    for index, version in enumerate(history):
        if version.kind == "earlier":
            run[index] = run[index - 1] if index else None
    return run


def _spans(history: Sequence[Version]) -> Iterator[_Span]:
    timeline = [dict(identities(version.configuration)) for version in history]
    for index, version in enumerate(history):
        if index and version.kind in _DESCRIBING:
            _described(timeline, index, place_of(history, version.corrects))
    order = [path for names in reversed(timeline) for path in names]
    moved = [i for i, names in enumerate(timeline) if i == 0 or names != timeline[i - 1]]
    for path in dict.fromkeys(order):
        yield from _spans_at(timeline, moved, path)


def _described(timeline: list[dict[str, PartIdentity]], here: int, corrected: int | None) -> None:
    """Carry what an entry says of a part back to where that part began."""
    for path in {*timeline[here - 1], *timeline[here]}:
        wrong, right = timeline[here - 1].get(path), timeline[here].get(path)
        if wrong == right:
            continue
        first = 0 if wrong else (here if corrected is None else corrected)
        index = here - 1
        while index >= first and timeline[index].get(path) == wrong:
            if right:
                timeline[index][path] = right
            else:
                del timeline[index][path]
            index -= 1


def _spans_at(
    timeline: list[dict[str, PartIdentity]], moved: list[int], path: str
) -> Iterator[_Span]:
    """The spans at a path; only where any part `moved` can one end or begin."""
    first: int | None = None
    for index in moved:
        name = timeline[index].get(path)
        if first is not None and (
            timeline[first].get(path) != name or _swapped(timeline, index, path)
        ):
            yield _Span(path, timeline[first][path], first, index - 1)
            first = None
        if first is None and name is not None:
            first = index
    if first is not None:
        yield _Span(path, timeline[first][path], first, len(timeline) - 1)


def _swapped(timeline: list[dict[str, PartIdentity]], index: int, path: str) -> bool:
    """Whether a part went with the engine that was taken out at this version."""
    if not path.startswith(f"{_ENGINE}.") or index == 0 or timeline[index][path].serial:
        return False
    old, new = timeline[index - 1].get(_ENGINE), timeline[index].get(_ENGINE)
    return old is not None and new is not None and old != new


@once
def identities(configuration: Configuration) -> dict[str, PartIdentity]:
    """The parts of a configuration by path, in its order."""
    found = {}
    for path, piece in _assemblies(configuration).items():
        if path not in _NO_PIECE or piece.part:
            kind = piece.code if isinstance(piece, Engine) else getattr(piece, "kind", None)
            found[path] = _identity(piece.part, None if path in _NO_PIECE else kind)
    return found | {path: _identity(own) for path, own in _work_parts(configuration).items()}


def _identity(piece: Part | None, kind: str | None = None) -> PartIdentity:
    if piece is None:
        return PartIdentity(None, None, None, kind)
    return PartIdentity(piece.maker, piece.number, piece.serial, kind, piece.piece)


@once
def _assemblies(configuration: Configuration) -> dict[str, Assembly]:
    """Every assembly and sub-assembly that is given, by path."""
    return _below(configuration, "")


def _below(table: Configuration | Assembly, prefix: str) -> dict[str, Assembly]:
    found: dict[str, Assembly] = {}
    for name in type(table).model_fields:
        inner = getattr(table, name)
        if isinstance(inner, Assembly):
            found[f"{prefix}{name}"] = inner
            found |= _below(inner, f"{prefix}{name}.")
    return found


def _work_parts(configuration: Configuration) -> dict[str, Part]:
    return {f"work[{work.item}]": work.part for work in configuration.work if work.part}


def _entry(version: Version) -> str:
    return f"entry {version.number}" if version.number else "the working files"
