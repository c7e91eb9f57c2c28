"""What every answer of an opened car has in common, and what stands where there is none."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any, Literal, Never, NoReturn, TypeVar, overload

from buildlog.errors import NotFound
from buildlog.report.lines import clean, printed
from buildlog.report.numbers import Display, all_in
from buildlog.units import System

T = TypeVar("T")


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
    buildlog.desk.views.view.NotThere: no torque: the engine speed was not logged
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


@dataclass(frozen=True)
class Forms:
    """The forms of one answer; `table` is None where the text stands for it."""

    lines: Callable[[], list[str]]
    body: Callable[[], dict[str, Any]]
    short: Callable[[], str]
    table: Callable[[], str] | None = None


class View(ABC):
    """An answer: `print` it for the command's text, show it in a notebook for tables."""

    _units: System = "metric"

    def to_dict(self) -> dict[str, Any]:
        """What the command prints with --json: SI numbers with the unit in the key."""
        return self._forms().body()

    def __str__(self) -> str:
        """What the command prints, with nothing in it that a terminal would obey."""
        with self._declared_alike():
            return printed("\n".join(map(clean, self._forms().lines())))

    def _repr_html_(self) -> str:
        with self._declared_alike():
            forms = self._forms()
            text: str = forms.table() if forms.table else self._tables.pre_html(forms.lines())
            return text

    def __repr__(self) -> str:
        return f"<{self._forms().short()}>"

    @property
    def _tables(self) -> Any:
        """The tables of a notebook."""
        from buildlog.report.notebook import notebook_tables

        return notebook_tables

    def _declared_alike(self) -> AbstractContextManager[None]:
        """Declared values in the units of results."""
        return all_in(self._units)

    @property
    def _show(self) -> Display:
        return Display(self._units)

    @abstractmethod
    def _forms(self) -> Forms:
        """What a form needs is loaded when it is asked for."""


class ListView(View, Sequence[T]):
    """An answer of many rows."""

    _rows: tuple[T, ...]

    @overload
    def __getitem__(self, at: int) -> T: ...

    @overload
    def __getitem__(self, at: slice) -> Sequence[T]: ...

    def __getitem__(self, at: int | slice) -> T | Sequence[T]:
        return self._rows[at]

    def __len__(self) -> int:
        return len(self._rows)
