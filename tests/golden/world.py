"""A world that stands still: the clock, the machine's names, chance and the environment."""

from __future__ import annotations

import datetime as dt
import getpass
import importlib
import io
import itertools
import platform
import re
import secrets
import sys
import types
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import pin

NOW = dt.datetime(2026, 6, 10, 9, 30, tzinfo=dt.UTC)  # four days after the demo's last entry
_ASKS_THE_CLOCK = re.compile(r"\b(?:date|datetime)\.(?:today|now|utcnow)\(")


class _Stands(type):
    """Of a class whose clock stands: everything of the real class counts as one of it."""

    def __instancecheck__(cls, value: object) -> bool:
        return isinstance(value, cls.__mro__[1])


class _Date(dt.date, metaclass=_Stands):
    @classmethod
    def today(cls) -> Any:
        return NOW.date()


class _DateTime(dt.datetime, metaclass=_Stands):
    @classmethod
    def now(cls, tz: dt.tzinfo | None = None) -> Any:
        return NOW.astimezone(tz) if tz else NOW.replace(tzinfo=None)


_STANDING = types.SimpleNamespace(**{**vars(dt), "date": _Date, "datetime": _DateTime})
_INSTEAD = ((dt, _STANDING), (dt.date, _Date), (dt.datetime, _DateTime))


def _modules_with_a_clock() -> Iterator[types.ModuleType]:
    """Every module of the program that asks what day or time it is, wherever it lies."""
    import buildlog

    package = Path(buildlog.__file__).parent
    for file in sorted(package.rglob("*.py")):
        if _ASKS_THE_CLOCK.search(file.read_text("utf-8")):
            parts = file.relative_to(package.parent).with_suffix("").parts
            yield importlib.import_module(".".join(parts).removesuffix(".__init__"))


def _stop_the_clock(patch: pytest.MonkeyPatch) -> None:
    for module in _modules_with_a_clock():
        found = [
            (name, standing)
            for name, value in vars(module).items()
            for real, standing in _INSTEAD
            if value is real
        ]
        assert found, f"{module.__name__} asks the clock in a way that cannot be stopped here"
        for name, standing in found:
            patch.setattr(module, name, standing)


def _no_chance(patch: pytest.MonkeyPatch) -> None:
    """Tokens count up instead of being drawn: a new ledger's nonce is the same each time."""
    numbers = itertools.count(1)
    patch.setattr(secrets, "token_hex", lambda size=32: f"{next(numbers):0{2 * size}x}")


@contextmanager
def standing_still(base: Path) -> Iterator[None]:
    """Work in `base` as on every machine at any time; cache and home lie beside it."""
    with pytest.MonkeyPatch.context() as patch:
        pin(patch, base.parent)
        patch.setenv("BUILDLOG_CONFIG", "../settings.toml")  # its name is told on screens
        patch.setattr(platform, "node", lambda: "a-computer-without-a-name")
        patch.setattr(getpass, "getuser", lambda: "an-account-without-a-name")
        patch.setattr(sys, "stdin", io.StringIO())
        patch.chdir(base)
        _stop_the_clock(patch)
        _no_chance(patch)
        yield
