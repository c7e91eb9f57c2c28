"""Calls of the command line with everything they answered, and how they are kept in a file.

A kept text is plain: `$` a call, `?` its exit status, `|` a line of standard output, `!` one of
standard error, `>` one of what it wrote, and a backslash after a text that ends without a new
line. The files are compressed, since the answers repeat themselves.
"""

from __future__ import annotations

import lzma
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

FOLDER = Path(__file__).parent / "answers"
_LONG = re.compile(r"(?<![\w.])-?(?=[\d.]{12,}|0\.0*\d{9,})\d+\.\d+(?:e[+-]?\d+)?(?![\w.])")
_TINY = 1e-12
_OPEN = "\\ no new line at the end"


@dataclass(frozen=True)
class Answer:
    """One call, and what it left behind."""

    call: str
    status: int
    out: str
    err: str
    wrote: str = ""

    def lines(self) -> list[str]:
        """The answer as it is kept, one line each without its end."""
        kept = [f"$ {self.call}", f"? {self.status}"]
        for mark, text in (("|", self.out), ("!", self.err), (">", self.wrote)):
            kept += [f"{mark} {line}" for line in text.split("\n")[:-1]]
            if not text.endswith("\n") and text:
                kept += [f"{mark} {text.rpartition(chr(10))[2]}", _OPEN]
        return kept


def steady(text: str) -> str:
    """The text with numbers of 12 digits and more cut to 7.

    Behind them stands what depends on the processor: with other vector units the least squares
    of a coast-down differ in the ninth digit.
    """
    return _LONG.sub(lambda found: _seven(found.group()), text)


def _seven(number: str) -> str:
    value = float(number)
    return "0.0" if abs(value) < _TINY else f"{value:.7g}"


def save(group: str, answers: Sequence[Answer]) -> int:
    """Keep the answers of a group; the size of its file in bytes."""
    text = "".join(f"{line}\n" for answer in answers for line in answer.lines())
    data = lzma.compress(text.encode("utf-8", "surrogateescape"), preset=9)
    FOLDER.mkdir(exist_ok=True)
    (FOLDER / f"{group}.txt.xz").write_bytes(data)
    return len(data)


def groups() -> list[str]:
    """The names of the groups that are kept."""
    return sorted(file.name.removesuffix(".txt.xz") for file in FOLDER.glob("*.txt.xz"))


def kept(group: str) -> list[list[str]]:
    """The kept answers of a group, each as its lines; the first is the call."""
    data = lzma.decompress((FOLDER / f"{group}.txt.xz").read_bytes())
    return list(_apart(data.decode("utf-8", "surrogateescape").split("\n")[:-1]))


def _apart(lines: list[str]) -> Iterator[list[str]]:
    starts = [at for at, line in enumerate(lines) if line.startswith("$ ")]
    for start, end in zip(starts, [*starts[1:], len(lines)], strict=True):
        yield lines[start:end]
