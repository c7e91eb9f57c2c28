"""The shop's cars as far as they were read; what takes long is read in a thread meanwhile.

A ledger is read once for each of its heads, and kept. A shop that nobody asked about before is
minutes of work: it is begun when the server starts, and the first sheet shows what is there.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from buildlog.analysis.answers.shop_tables import ShopStanding
from buildlog.desk.questions.whole_shop import WholeShop
from buildlog.errors import BuildlogError, NotFound
from buildlog.units import System

_FEW = 12  # cars that are read while somebody waits for them


@dataclass(frozen=True)
class ShopRead:
    """The cars that were read, with their folders; those that are still to be read; and how many
    seconds that will take, once it can be told."""

    standing: ShopStanding
    places: dict[str, Path]
    unread: tuple[str, ...]
    seconds: float | None
    units: System


class ShopReading:
    """The ledgers below a folder. Threads may share it."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._lock = folder, threading.Lock()
        self._thread: threading.Thread | None = None
        self._tried: frozenset[str] = frozenset()
        self._begun: float | None = None
        self._left = self._worked = 0
        self._stopped = False

    def begin(self) -> None:
        """Read in a thread, if there is much to be read."""
        with suppress(NotFound), WholeShop([self._folder]) as shop:
            self._begin(shop.standing_as_known()[1])

    def now(self) -> ShopRead:
        """What is known now; NotFound without any ledger."""
        with WholeShop([self._folder]) as shop:
            found, missing = shop.standing_as_known()
            unread = self._begin(missing)
            if not unread:
                found = shop.standing()
            units = shop.units(odometers=found.odometers)
            places = dict(zip(shop.names, shop.places, strict=True))
            return ShopRead(found, places, unread, self._seconds(), units)

    def close(self) -> None:
        """Begin nothing more, and wait for what was begun."""
        self._stopped = True
        if self._thread is not None:
            self._thread.join()

    def _begin(self, missing: list[str]) -> tuple[str, ...]:
        """The cars that are read in a thread now; none where few are missing, or those that a
        thread could not read."""
        with self._lock:
            if self._thread is not None and self._thread.is_alive():
                return tuple(missing)
            fresh = [one for one in missing if one not in self._tried]
            if len(fresh) <= _FEW or self._stopped:
                return ()
            self._tried, self._worked = frozenset(missing), 0
            self._thread = threading.Thread(target=self._read, name="shop", daemon=True)
            self._thread.start()
            return tuple(missing)

    def _read(self) -> None:
        with (
            suppress(BuildlogError, _Stopped),  # what cannot be read is said to who asks next
            WholeShop([self._folder], progress=self._counted) as shop,
        ):
            shop.standing()

    @contextmanager
    def _counted(self, _: str, steps: int, __: int) -> Iterator[Callable[[int], None]]:
        self._left, self._begun = steps, None

        def told(count: int) -> None:
            if self._stopped:
                raise _Stopped
            if self._begun is None:  # what was kept already took no time
                self._begun = time.monotonic()
            else:
                self._worked += count
            self._left -= count

        yield told

    def _seconds(self) -> float | None:
        if self._begun is None or not self._worked:
            return None
        return self._left * (time.monotonic() - self._begun) / self._worked


class _Stopped(Exception):
    """Nobody waits any longer."""
