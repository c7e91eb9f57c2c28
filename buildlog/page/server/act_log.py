"""The log: one line an act, nothing of what was in it, and no address of a link or a code."""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Callable

Tell = Callable[[str], None]


def to_terminal(line: str) -> None:
    """One line where `serve` was started."""
    print(line, file=sys.stderr, flush=True)


def line(person: str | None, slug: str | None, kind: str, word: str) -> str:
    """ "13:42:05 D-07 marrow-tern item done"."""
    at = dt.datetime.now().strftime("%H:%M:%S")
    return " ".join([at, person or "-", slug or "-", kind, word])
