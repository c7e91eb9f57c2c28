"""What came of an act, as the one who did it is told."""

from __future__ import annotations

import re
from dataclasses import dataclass


def hint_here(hint: str | None) -> str:
    """A hint of the desk without what is to be typed at the computer: here there are buttons.

    >>> hint_here("the session has pull-1.csv; --pull pull-1.csv, one command for each")
    'the session has pull-1.csv'
    """
    parts = re.split(r"(?<=[.;]) ", hint or "")
    typed = re.compile(r"(^| )--[a-z]|\bbuildlog [a-z]|\bin [\w-]+\.toml")
    kept = [one for one in parts if not typed.search(one)]
    return " ".join(kept).rstrip("; ")


@dataclass(frozen=True)
class ActAnswer:
    """The word (done, already, question, refused), a sentence, and what goes with it.

    `old` and `now` are those of a question; `file` is an answer that is a file to be kept.
    """

    word: str
    said: str
    hint: str | None = None
    what: str = ""
    old: str = ""
    now: str = ""
    file: tuple[str, bytes] | None = None
    path: str | None = None
    """Where to go on, if elsewhere than the form says."""
    again: bool = False
    """Whether it had been done before: another tab of the browser sent the same act, too."""

    @property
    def stands(self) -> bool:
        """Whether what was asked for is so now."""
        return self.word in ("done", "already")
