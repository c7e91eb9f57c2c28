"""What a form sent: fields by name, files in our own spool under names of ours."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from buildlog.errors import InvalidInput

_LONGEST = 80


@dataclass(frozen=True)
class SentFile:
    """A file that was sent: a plain name, and where its bytes lie in the spool."""

    name: str
    path: Path

    def bytes(self) -> bytes:
        return self.path.read_bytes()


@dataclass(frozen=True)
class Sent:
    """The fields and files of one form."""

    fields: Mapping[str, Sequence[str]] = field(default_factory=dict)
    held: Mapping[str, Sequence[SentFile]] = field(default_factory=dict)

    def one(self, name: str) -> str:
        """A field's text without blanks around it; "" where it is not there."""
        found = self.fields.get(name) or ("",)
        return found[0].replace("\r\n", "\n").strip()

    def given(self, name: str) -> str | None:
        """The same; None where nothing was typed."""
        return self.one(name) or None

    def needed(self, name: str, words: str) -> str:
        """The same; InvalidInput where nothing was typed."""
        if found := self.one(name):
            return found
        raise InvalidInput(f"{words} is missing", hint="fill it in and send it again")

    def all(self, name: str) -> list[str]:
        """Every text of a field that may be there several times."""
        return [one.strip() for one in self.fields.get(name, ()) if one.strip()]

    def below(self, prefix: str) -> dict[str, str]:
        """Fields whose names begin alike: "field:fuel.kind" below "field:"."""
        names = (name for name in self.fields if name.startswith(prefix))
        return {name.removeprefix(prefix): self.one(name) for name in names}

    def files(self, name: str) -> list[SentFile]:
        return list(self.held.get(name, ()))

    @property
    def typed(self) -> dict[str, str]:
        """What was typed, to be shown again in the form; what is there several times, set apart
        by empty lines."""
        return {
            name: "\n\n".join(one.strip() for one in self.fields[name])
            for name in self.fields
            if name != "token"
        }


def plain_file_name(name: str) -> str:
    """A client's file name as one plain word: no folder, no sign that any system obeys.

    >>> plain_file_name("../../etc/Pull 1 (best).csv")
    'Pull-1-best.csv'
    """
    last = re.split(r"[/\\]", name)[-1]
    stem, dot, ending = last.rpartition(".")
    stem, ending = (stem, ending) if dot else (last, "")
    plain = re.sub(r"[^A-Za-z0-9]+", "-", stem).strip("-")[:_LONGEST] or "file"
    kept = re.sub(r"[^A-Za-z0-9]+", "", ending)[:10]
    return f"{plain}.{kept}" if kept else plain
