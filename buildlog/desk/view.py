"""What every answer of an opened car has in common, and what stands where there is none."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Literal, Never, NoReturn

from buildlog.errors import NotFound

if TYPE_CHECKING:
    from buildlog.desk.give.views import Views


class NotThere(NotFound, AttributeError):
    """Something was asked of a block that an answer has not; `what` is the reason."""


class Absent:
    """A block that an answer has not: false, with the `reason`; asked for anything else it
    raises `NotThere`, which says the reason.

    >>> curve = Absent("torque", "the engine speed was not logged")
    >>> bool(curve), curve.reason
    (False, 'the engine speed was not logged')
    >>> curve.peak_nm
    Traceback (most recent call last):
      ...
    buildlog.desk.view.NotThere: no torque: the engine speed was not logged
    """

    def __init__(self, what: str, reason: str) -> None:
        self.reason = reason
        self._what = what

    def __bool__(self) -> Literal[False]:
        return False

    def __getattr__(self, name: str) -> NoReturn:
        if name.startswith("_"):  # what Python and notebooks ask of every object
            raise AttributeError(name)
        raise self._error()

    def __iter__(self) -> Iterator[Never]:
        raise self._error()

    def __len__(self) -> NoReturn:
        raise self._error()

    def __getitem__(self, key: object) -> NoReturn:
        raise self._error()

    def __repr__(self) -> str:
        return f"<no {self._what}: {self.reason}>"

    def _error(self) -> NotThere:
        return NotThere(f"no {self._what}: {self.reason}")


class View(ABC):
    """An answer: `print` it for the command's text, show it in a notebook for tables."""

    def to_dict(self) -> dict[str, Any]:
        """What the command prints with --json: SI numbers with the unit in the key."""
        return self._views().body()

    def __str__(self) -> str:
        return self._views().text()

    def _repr_html_(self) -> str:
        return self._views().html()

    def __repr__(self) -> str:
        return f"<{self._views().short()}>"

    @abstractmethod
    def _views(self) -> Views: ...
