"""What came of an act, as the one who did it is told."""

from __future__ import annotations

from dataclasses import dataclass


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

    @property
    def stands(self) -> bool:
        """Whether what was asked for is so now."""
        return self.word in ("done", "already")
