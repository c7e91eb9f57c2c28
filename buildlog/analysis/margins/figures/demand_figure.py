"""A figure with its band, its basis and the words for what it rests on, and what follows from
several of them. What cannot be known names the data that would answer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, Self

from buildlog.physics.numerics.band import Band, propagate

Basis = Literal["measured", "declared", "computed", "predicted", "typical", "missing"]
SESSION = "dyno session"
"""The name of the missing datum where no power is known at all."""

Z90 = 1.2816
"""[-] standard deviations from the middle to P90 of a normal distribution."""


class Source(str):
    """What a figure rests on, in words; `brief` is as much of them as a short screen shows."""

    brief: str

    def __new__(cls, words: str, brief: str | None = None) -> Self:
        """The words, and fewer of them where they are long."""
        made = super().__new__(cls, words)
        made.brief = brief if brief is not None else words
        return made


@dataclass(frozen=True)
class DemandFigure:
    """A number in SI with its band, its basis, and the words for what it rests on.

    band is None where `missing` names what would answer. paths: the fields it was read from.
    problem: why the given data make no sense, in a sentence.
    """

    band: Band | None
    basis: Basis
    sources: tuple[Source, ...] = ()
    missing: tuple[str, ...] = ()
    paths: tuple[str, ...] = ()
    problem: str | None = None

    @property
    def p50(self) -> float | None:
        """The middle, None where it is not known."""
        return None if self.band is None else self.band.p50

    @property
    def unstated(self) -> bool:
        """Whether nobody gave it; nonsense was given, and is a problem."""
        return self.band is None and self.problem is None


def absent(*names: str) -> DemandFigure:
    """A figure that cannot be known without these data."""
    return DemandFigure(None, "missing", (), names)


def exact(
    value: float, source: str = "", basis: Basis = "declared", path: str | None = None
) -> DemandFigure:
    """A figure without spread."""
    words = (source if isinstance(source, Source) else Source(source),) if source else ()
    return DemandFigure(Band.exact(value), basis, words, paths=(path,) if path else ())


def derive(formula: Callable[..., float], *inputs: DemandFigure | float) -> DemandFigure:
    """The result of a formula. It is missing what its inputs miss; nonsense becomes a problem.

    Basis: predicted if an input is, else computed.
    """
    figures = [one for one in inputs if isinstance(one, DemandFigure)]
    sources = tuple(dict.fromkeys(s for one in figures for s in one.sources))
    paths = tuple(dict.fromkeys(p for one in figures for p in one.paths))
    missing = tuple(dict.fromkeys(m for one in figures for m in one.missing))
    problem = next((one.problem for one in figures if one.problem), None)
    if missing:
        return DemandFigure(None, "missing", sources, missing, paths, problem)
    try:
        band = propagate(
            formula, *(one.band if isinstance(one, DemandFigure) else one for one in inputs)
        )
    except (ValueError, ZeroDivisionError, OverflowError) as error:
        return DemandFigure(
            None, "missing", sources, paths or ("a possible value",), paths, str(error)
        )
    predicted = any(one.basis == "predicted" for one in figures)
    return DemandFigure(band, "predicted" if predicted else "computed", sources, (), paths)


def as_limit(figure: DemandFigure) -> DemandFigure:
    """A stated limit or rating; one of zero or below is a problem, never a limit."""
    if figure.band is None or figure.band.p10 > 0:
        return figure
    where = figure.paths[0] if figure.paths else "the limit"
    text = f"{where} is {figure.band.p50:g}, but a limit must be above zero"
    return DemandFigure(
        None, "missing", figure.sources, figure.paths or (where,), figure.paths, text
    )
