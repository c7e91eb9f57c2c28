"""Answers that hang on a snapshot and the day alone are worked out once for both."""

from __future__ import annotations

from collections.abc import Callable
from typing import Concatenate, ParamSpec, TypeVar

from buildlog.desk.snapshot.snapshot import Snapshot, today

P = ParamSpec("P")
T = TypeVar("T")


def kept(
    book: Snapshot, question: Callable[Concatenate[Snapshot, P], T], *args: P.args, **more: P.kwargs
) -> T:
    """What a question of the desk answers, asked once as long as nothing changes."""
    key = (question, args, tuple(sorted(more.items())), today())
    return book.once(key, lambda: question(book, *args, **more))
