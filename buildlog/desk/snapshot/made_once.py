"""What is worked out once and kept, for threads that share it."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable, Mapping
from typing import Any, Generic, Self, TypeVar, overload

S = TypeVar("S", bound="MadeOnce")
T = TypeVar("T")


class MadeOnce:
    """Things by key: made the first time they are asked for, by one thread at a time, and kept.

    `alone` is the lock of everything that is worked out here; the thread that holds it may ask on.
    `older`: what that one read and still used is taken over where the content is the same.
    """

    def __init__(self, older: MadeOnce | None = None) -> None:
        self.alone = threading.RLock()
        self._kept: dict[Hashable, Any] = {}
        self._of_content: dict[Hashable, Any] = {}
        self._taken_over: Mapping[Hashable, Any] = older._of_content if older else {}

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """What is kept under a key, else made and kept. Nothing is kept of what fails."""
        if key not in self._kept:
            with self.alone:
                if key not in self._kept:
                    self._kept[key] = make()
        found: T = self._kept[key]
        return found

    def of_content(self, content: Hashable, make: Callable[[], T]) -> T:
        """The same for what hangs on its key alone, so that a newer one may take it over."""
        if content not in self._of_content:
            with self.alone:
                if content not in self._of_content:
                    known = self._taken_over
                    self._of_content[content] = known[content] if content in known else make()
        found: T = self._of_content[content]
        return found

    def made(self, key: Hashable) -> Any:
        """What is kept under a key; None where it was not made."""
        return self._kept.get(key)


class once(Generic[S, T]):
    """A property of a `MadeOnce` that is worked out once."""

    def __init__(self, make: Callable[[S], T]) -> None:
        self._make = make
        self.__doc__ = make.__doc__

    @overload
    def __get__(self, of: None, owner: type[S]) -> Self: ...

    @overload
    def __get__(self, of: S, owner: type[S]) -> T: ...

    def __get__(self, of: S | None, owner: type[S]) -> Self | T:
        return self if of is None else of.once(self, lambda: self._make(of))
