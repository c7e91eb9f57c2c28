"""What a piece of work costs, counted: the same on every machine, however busy it is."""

from __future__ import annotations

import sys
import tracemalloc
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from types import FrameType
from typing import Any


@dataclass
class Count:
    """How much it came to, once the `with` is over."""

    number: int = 0


@contextmanager
def lines_run() -> Iterator[Count]:
    """Count the lines of Python that run in this thread, each time they run.

    Every loop over rows, characters or objects shows, imports too; what a library does within
    one call does not.
    """
    count = Count()

    def line(frame: FrameType, event: str, argument: Any) -> Any:
        count.number += event == "line"
        return line

    before = sys.gettrace()
    sys.settrace(line)
    try:
        yield count
    finally:
        sys.settrace(before)


@contextmanager
def bytes_held() -> Iterator[Count]:
    """Count the bytes that Python and numpy hold at most, beyond what they held before."""
    count = Count()
    tracemalloc.start()
    try:
        yield count
    finally:
        count.number = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
