"""Refusing nonsense in one sentence, the same sentence everywhere."""

from __future__ import annotations

from math import isfinite


def above_zero(**named: float) -> None:
    """Raise ValueError for the first named value that is not a finite number above zero.

    The names become the words of the sentence: `outer_diameter` reads "outer diameter".

    >>> above_zero(clamp_force=-1.0)
    Traceback (most recent call last):
    ValueError: clamp force must be above zero, not -1.0.
    """
    for name, value in named.items():
        if not (isfinite(value) and value > 0):
            raise ValueError(f"{name.replace('_', ' ')} must be above zero, not {value}.")


def not_negative(**named: float) -> None:
    """Raise ValueError for the first named value that is negative or not a finite number.

    >>> not_negative(boost=float("nan"))
    Traceback (most recent call last):
    ValueError: boost must not be negative or undefined, but is nan.
    """
    for name, value in named.items():
        if not (isfinite(value) and value >= 0):
            raise ValueError(
                f"{name.replace('_', ' ')} must not be negative or undefined, but is {value}."
            )
