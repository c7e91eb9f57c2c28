"""A header cell to the channel it means, with the reason; what cannot be decided is left open."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from buildlog import units
from buildlog.rawfiles.aliases import spelling
from buildlog.rawfiles.channel_words import CHANNELS, WORDS
from buildlog.rawfiles.header import ColumnHeading, plain_words

# A heading that is only a unit still says what it heads, for these dimensions.
BY_DIMENSION = {
    "angular_speed": "engine_speed",
    "speed": "road_speed",
    "power": "power",
    "torque": "torque",
    "time": "time",
}
_QUALIFIERS = {name: frozenset(words.split()) for name, words in WORDS["qualifiers"].items()}
_WHEEL, _CRANK, _TARGET = (_QUALIFIERS[name] for name in ("wheel", "crank", "target"))
_CORRECTED, _OBSERVED = _QUALIFIERS["corrected"], _QUALIFIERS["observed"]
_DROPPED = frozenset[str]().union(*(_QUALIFIERS[name] for name in _QUALIFIERS if name != "target"))
_ABSOLUTE = {"abs", "absolute", "absolut", "absolu", "absolue"}
_GAUGE = {"gauge", "rel", "relative", "relativ", "uber", "gage"}


@dataclass(frozen=True)
class Guess:
    """What a heading may mean: one candidate is an answer, several are a question, none is silence.

    `place` is "wheel" or "crank", `state` "corrected" or "observed", where the words say so.
    """

    candidates: tuple[str, ...]
    why: str
    place: str | None = None
    state: str | None = None

    @property
    def channel(self) -> str | None:
        return self.candidates[0] if len(self.candidates) == 1 else None


@cache
def _by_word() -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for channel in CHANNELS.values():
        for word in channel.words:
            found[word] = (*found.get(word, ()), channel.name)
    return found


def guess(heading: ColumnHeading) -> Guess:
    """The channel a heading means.

    >>> from buildlog.rawfiles.header import read_heading
    >>> guess(read_heading("Drehzahl [1/min]")).channel, guess(read_heading("Speed")).candidates
    ('engine_speed', ('engine_speed', 'road_speed'))
    """
    words = _spelt_out(plain_words(heading.words))
    tokens = words.split()
    place, state = _place(tokens, heading), _state(tokens)
    if _TARGET & set(tokens):
        return Guess((), f'"{heading.words}" is what was aimed at, not what was measured')
    found, why = _look_up(words, heading)
    candidates, why = _fit_unit(_fit_reference(found, tokens, heading), why, heading)
    return Guess(candidates, why, place, state)


def is_known_word(words: str) -> bool:
    """Whether header words name some channel."""
    return bool(_look_up(_spelt_out(plain_words(words)), ColumnHeading(words))[0])


def _spelt_out(words: str) -> str:
    """German compounds with the temperature cut short: "oltemp" -> "oltemperatur"."""
    return re.sub(r"(?<=[a-z])temp\b", "temperatur", words)


def _look_up(words: str, heading: ColumnHeading) -> tuple[tuple[str, ...], str]:
    """Candidates by the whole heading, then without qualifiers, then by its longest known part."""
    if heading.unit and plain_words(heading.words) == plain_words(heading.unit.unit):
        return _by_unit(heading)
    for phrase in dict.fromkeys((words, _bare(words), _bare(words, numbers=True))):
        if found := _by_word().get(phrase):
            return found, f'"{heading.words}" says so'
    part = _longest_part(_bare(words, numbers=True).split() or words.split())
    if part:
        return _by_word()[part], f'"{part}" stands in "{heading.words}"'
    return _by_unit(heading)


def _by_unit(heading: ColumnHeading) -> tuple[tuple[str, ...], str]:
    """A heading that is nothing but a unit, perhaps with a qualifier: "RPM", "Wheel HP"."""
    unit = units.find(heading.unit.unit) if heading.unit else None
    words = plain_words(heading.words)
    if unit is None or not (_is_spelling_of(words, unit.text) or not _bare(words)):
        return (), f'"{heading.words}" is not known'
    channel = BY_DIMENSION.get(unit.dimension)
    return ((channel,) if channel else ()), f"a column in {unit.text}"


def _is_spelling_of(words: str, unit: str) -> bool:
    found = spelling(words.replace(" ", "-")) or spelling(words.replace(" ", ""))
    return found is not None and found.unit == unit


def _bare(words: str, numbers: bool = False) -> str:
    """Words without qualifiers, and without a sensor's number."""
    kept = [word for word in words.split() if word not in _DROPPED]
    return " ".join(word for word in kept if not (numbers and word.isdigit()))


def _longest_part(tokens: list[str]) -> str | None:
    """The longest run of tokens that is known; one short letter alone proves nothing."""
    for length in range(len(tokens), 0, -1):
        for start in range(len(tokens) - length + 1):
            part = " ".join(tokens[start : start + length])
            if part in _by_word() and len(part) > 1:
                return part
    return None


def _fit_reference(
    found: tuple[str, ...], tokens: list[str], heading: ColumnHeading
) -> tuple[str, ...]:
    """Gauge or absolute, where the unit or the words say it, decides between two channels."""
    reference = heading.unit.reference if heading.unit else None
    if reference == "absolute" or _ABSOLUTE & set(tokens):
        return tuple(dict.fromkeys("manifold_pressure" if c == "boost" else c for c in found))
    if reference == "gauge" or _GAUGE & set(tokens):
        return tuple(dict.fromkeys("boost" if c == "manifold_pressure" else c for c in found))
    if "ladedruck" in tokens and found == ("boost",):
        return ("boost", "manifold_pressure")
    return found


def _fit_unit(
    found: tuple[str, ...], why: str, heading: ColumnHeading
) -> tuple[tuple[str, ...], str]:
    """Candidates that can be given in the unit; a unit that fits none leaves the column open."""
    if heading.unit is None or not found:
        return found, why
    fitting = tuple(
        name for name in found if units.find(heading.unit.unit, CHANNELS[name].dimensions)
    )
    if fitting:
        return fitting, why
    if heading.unit.unit == "1":
        return found, why  # a dash is no unit: the unit is missing
    return (), f'"{heading.words}" does not go with the unit {heading.unit.unit}'


def _place(tokens: list[str], heading: ColumnHeading) -> str | None:
    if heading.unit and heading.unit.place:
        return heading.unit.place
    if _WHEEL & set(tokens):
        return "wheel"
    return "crank" if _CRANK & set(tokens) else None


def _state(tokens: list[str]) -> str | None:
    if _OBSERVED & set(tokens):
        return "observed"
    return "corrected" if _CORRECTED & set(tokens) else None
