"""What can go wrong for a user, and the exit status each kind ends with.

An error says what is wrong, where, why it matters and what to do. The command
line prints these four and nothing else; no other exception is meant for a user.
"""

from __future__ import annotations

import collections
from collections import abc
from contextlib import contextmanager


class BuildlogError(Exception):
    """Base of every error that is shown to a user.

    `what` is one sentence; `where` a place such as "car.toml, line 18, column 15";
    `why` says what hangs on it; `hint` is the thing to write or do instead.
    """

    exit_status = 4

    def __init__(
        self,
        what: str,
        *,
        where: str | None = None,
        why: str | None = None,
        hint: str | None = None,
    ) -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.why = why
        self.hint = hint

    def __str__(self) -> str:
        first = f"{self.where}: {self.what}" if self.where else self.what
        lines = [first]
        if self.why:
            lines.append(f"  because: {self.why}")
        if self.hint:
            lines.append(f"  do: {self.hint}")
        return "\n".join(lines)


class UsageError(BuildlogError):
    """The command was called wrongly."""

    exit_status = 2


class NotFound(BuildlogError):
    """A ledger, version, session or file that was named does not exist."""

    exit_status = 3


class NothingToDraw(NotFound):
    """A picture has nothing to show yet. The call was right and nothing is written."""

    exit_status = 1


class PartOnly(NotFound):
    """What is asked for is not in this copy, which was made without it."""


class InvalidInput(BuildlogError):
    """A file or value cannot be accepted as it stands."""

    exit_status = 4


@contextmanager
def refused_at(where: str) -> abc.Iterator[None]:
    """What is refused inside is refused at this place, unless a nearer one is named."""
    try:
        yield
    except InvalidInput as error:
        error.where = error.where or where
        raise
    except ValueError as error:
        raise InvalidInput(str(error), where=where) from None


class DamagedLedger(BuildlogError):
    """Something recorded cannot be read back as it was written."""

    exit_status = 5


class ChangedUnderYou(BuildlogError):
    """The ledger moved on while the command was at work."""

    exit_status = 6


class DiskError(BuildlogError):
    """The disk is full, a folder is read-only, or a permission is missing."""

    exit_status = 7


class TrustError(BuildlogError):
    """A signature or a key is not what it should be."""

    exit_status = 8


class MissingExtra(BuildlogError):
    """An optional part that this needs is not installed."""

    exit_status = 9


def in_words(error: Exception) -> str:
    """What an error of the system or of a parser says, without numbers and paths of its own.

    >>> in_words(FileNotFoundError(2, "No such file or directory", "none.txt"))
    'no such file or directory'
    """
    if isinstance(error, UnicodeDecodeError):
        return "it is not UTF-8 text"
    said = error.strerror if isinstance(error, OSError) else None
    return said[:1].lower() + said[1:] if said else str(error)


def kind_and_place(error: BaseException) -> str:
    """What failed and where in this program; never the error's own words, which hold values."""
    import os
    import traceback

    package = os.path.dirname(__file__)
    frames = traceback.extract_tb(error.__traceback__)
    own = [frame for frame in frames if frame.filename.startswith(package)] or [*frames]
    if not own:
        return type(error).__name__
    place = os.path.relpath(own[-1].filename, package)
    return f"{type(error).__name__} in {place}, line {own[-1].lineno}"


_acts: collections.deque[tuple[str, str, abc.Callable[[], bool]]] = collections.deque(maxlen=20)


def begun(done: str, undone: str, stands: abc.Callable[[], bool]) -> None:
    """Say what an act makes, before it makes it: whoever is stopped is told whether it stands."""
    _acts.append((done, undone, stands))


def nothing_begun() -> None:
    """Forget the acts of an earlier command of this process."""
    _acts.clear()


def standing() -> str:
    """What stands of the acts that were begun, as one sentence for who was stopped."""
    told: dict[str, str] = {}  # of what was written several times, whether any of it stands
    for done, undone, stands in _acts:
        if stands() or done not in told:
            told[done] = done if stands() else undone
    return "; ".join(dict.fromkeys(told.values())) or "nothing was recorded"
