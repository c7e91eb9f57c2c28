"""The priors: what is assumed when a car's file does not say, and a ledger's own in their place.

The defaults stand in priors.toml beside this file, one table each, for people to read.
Nothing here needs numpy until a prior is drawn from.
"""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buildlog import units
from buildlog.errors import InvalidInput, refused_at
from buildlog.records.key_words import key_words

if TYPE_CHECKING:
    from buildlog.physics.numerics.sampling import Distribution, Uncertain

NUMBERS = {
    "triangular": ("low", "mode", "high"),
    "uniform": ("low", "high"),
    "normal": ("mean", "sd"),
    "lognormal": ("median", "sigma"),
}
_KEYS = {"meaning", "quantity", "unit", "distribution", "allowed", "source"}


@dataclass(frozen=True)
class Prior:
    """One assumption. `numbers` as written, in `unit`, in the order of NUMBERS."""

    name: str
    meaning: str
    quantity: str
    unit: str
    distribution: str
    numbers: tuple[float, ...]
    source: str
    allowed: tuple[float, float]  # in the unit of the default
    own: bool = False  # from the ledger's priors.toml
    called: str = ""  # on a screen

    @property
    def _factor(self) -> float:
        return units.unit(self.unit, self.quantity).factor

    @property
    def si(self) -> tuple[float, ...]:
        """The numbers in SI; a lognormal's sigma has no unit."""
        first, *others = self.numbers
        if self.distribution == "lognormal":
            return (first * self._factor, *others)
        return tuple(x * self._factor for x in self.numbers)

    def quantile(self, probability: float) -> float:
        """The SI value below which this share of the prior lies."""
        return _QUANTILES[self.distribution](probability, *self.si)

    def uncertain(self) -> Uncertain:
        """The prior as an input that can be drawn from."""
        from buildlog.physics.numerics.sampling import Uncertain

        return Uncertain(self.name, self._distribution())

    def _distribution(self) -> Distribution:
        from buildlog.physics.numerics import sampling

        kinds: dict[str, Any] = {
            "triangular": sampling.Triangular,
            "uniform": sampling.Uniform,
            "normal": sampling.Normal,
            "lognormal": sampling.LogNormal,
        }
        made: Distribution = kinds[self.distribution](*self.si)
        return made

    def describe(self) -> str:
        """The prior in words, in the unit it was written in.

        >>> load()["driveline_loss"].describe()
        '12 to 20 %, most likely 15 %'
        """
        unit = "" if self.unit == "1" else f" {self.unit}"
        return _WORDS[self.distribution].format(*(f"{x:g}" for x in self.numbers), unit=unit)


_WORDS = {
    "triangular": "{0} to {2}{unit}, most likely {1}{unit}",
    "uniform": "{0} to {1}{unit}",
    "normal": "{0}{unit} with standard deviation {1}{unit}",
    "lognormal": "{0}{unit} with a standard deviation of the logarithm of {1}",
}


def _triangular(p: float, low: float, mode: float, high: float) -> float:
    if p * (high - low) < mode - low:
        return low + math.sqrt(p * (high - low) * (mode - low))
    return high - math.sqrt((1 - p) * (high - low) * (high - mode))


def _normal(p: float) -> float:
    from statistics import NormalDist  # few priors are normal

    return NormalDist().inv_cdf(p)


_QUANTILES: dict[str, Callable[..., float]] = {
    "triangular": _triangular,
    "uniform": lambda p, low, high: low + p * (high - low),
    "normal": lambda p, mean, sd: mean + sd * _normal(p),
    "lognormal": lambda p, median, sigma: median * math.exp(sigma * _normal(p)),
}


def load(own: str | None = None, where: str = "priors.toml") -> dict[str, Prior]:
    """Return all priors by name, with those of a ledger's priors.toml in place of the defaults.

    `own` is that file's text. InvalidInput names the place: unknown prior or key, missing
    source, a unit of another kind, numbers out of order or outside what is allowed.
    """
    priors = dict(_defaults())
    if own is None:
        return priors
    for name, table in _read(own, where).items():
        with refused_at(_place(own, where, name)):
            if name not in priors:
                raise InvalidInput(f'there is no prior "{name}"', hint=_nearest(name, priors))
            if not isinstance(table, dict):
                hint = f"write [{name}] with unit, distribution, its numbers and source"
                raise InvalidInput(f'"{name}" must be a table', hint=hint)
            priors[name] = _replaced(priors[name], table)
    return priors


def called(name: str) -> str:
    """What a screen calls an assumption: of a prior its own words, else the name in words.

    >>> called("friction_factor"), called("exhaust.headers (declared effect)")
    ('engine friction', 'exhaust headers (declared effect)')
    """
    prior = _defaults().get(name)
    return prior.called if prior else key_words(name).replace(".", " ")


def uncertain(priors: Mapping[str, Prior]) -> dict[str, Uncertain]:
    """Return the priors as inputs that a prediction can draw from."""
    return {name: prior.uncertain() for name, prior in priors.items()}


@cache
def _defaults() -> dict[str, Prior]:
    text = Path(__file__).with_name("priors.toml").read_text(encoding="utf-8")
    return {name: _default(name, table) for name, table in tomllib.loads(text).items()}


def _default(name: str, table: dict[str, Any]) -> Prior:
    low, high = table["allowed"]
    return Prior(
        name,
        table["meaning"],
        table["quantity"],
        table["unit"],
        table["distribution"],
        tuple(float(table[key]) for key in NUMBERS[table["distribution"]]),
        table["source"],
        (float(low), float(high)),
        called=table.get("called", key_words(name)),
    )


def _read(text: str, where: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InvalidInput(f"this is not TOML: {error}", where=where) from None


def _place(text: str, where: str, name: str) -> str:
    pattern = re.compile(rf"\s*(\[\s*)?[\"']?{re.escape(name)}[\"']?\s*[\].=]")
    for number, line in enumerate(text.splitlines(), start=1):
        if pattern.match(line):
            return f"{where}, line {number}, {name}"
    return f"{where}, {name}"


def _nearest(name: str, known: Collection[str]) -> str:
    close = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    return f"did you mean {close[0]}?" if close else f"known: {', '.join(sorted(known))}"


def _replaced(default: Prior, table: dict[str, Any]) -> Prior:
    kind = table.get("distribution")
    if kind not in NUMBERS:
        raise InvalidInput(
            f"{default.name} needs a distribution",
            hint=f"write distribution = one of {', '.join(NUMBERS)}",
        )
    _only_known(table, _KEYS - {"allowed"} | set(NUMBERS[kind]))
    source = table.get("source")
    if not isinstance(source, str) or not source.strip():
        raise InvalidInput(
            f"{default.name} has no source",
            why="a prior without a source cannot be judged later",
            hint='write source = "where the numbers come from"',
        )
    if table.get("quantity", default.quantity) != default.quantity:
        raise InvalidInput(f"{default.name} is a {default.quantity}")
    unit = _unit(default, table)
    numbers = tuple(_number(table, key) for key in NUMBERS[kind])
    made = replace(
        default, meaning=str(table.get("meaning", default.meaning)), unit=unit, distribution=kind,
        numbers=numbers, source=source.strip(), own=True,
    )  # fmt: skip
    _check(made, default)
    return made


def _only_known(table: dict[str, Any], known: set[str]) -> None:
    for key in table:
        if key not in known:
            hint = _nearest(key, known)
            raise InvalidInput(f'"{key}" is not a key of this prior', hint=hint)


def _unit(default: Prior, table: dict[str, Any]) -> str:
    text = table.get("unit")
    found = units.find(text, (default.quantity,)) if isinstance(text, str) else None
    if found is None:
        raise InvalidInput(
            f"{default.name} needs a unit of {default.quantity.replace('_', ' ')}",
            hint=f'write unit = "{default.unit}"',
        )
    return found.text


def _number(table: dict[str, Any], key: str) -> float:
    value = table.get(key)
    plain = isinstance(value, (int, float)) and not isinstance(value, bool)
    if not plain or not math.isfinite(value):  # type: ignore[arg-type]
        raise InvalidInput(
            f'"{key}" must be a plain number in the stated unit',
            hint=f"write {key} = a number",
        )
    return float(value)  # type: ignore[arg-type]


def _check(prior: Prior, default: Prior) -> None:
    try:
        prior._distribution()
    except ValueError as error:
        raise InvalidInput(str(error).rstrip(".")) from None
    factor = units.unit(default.unit, default.quantity).factor
    low, high = (x * factor for x in default.allowed)
    ends = (prior.quantile(0.001), prior.quantile(0.999))
    if ends[0] < low - 1e-12 * abs(low) or ends[1] > high + 1e-12 * abs(high):
        allowed = " to ".join(f"{x:g}" for x in default.allowed)
        unit = "" if default.unit == "1" else f" {default.unit}"
        raise InvalidInput(
            f"{prior.name} of {prior.describe()} leaves {allowed}{unit}",
            hint="check the unit and the numbers",
        )
