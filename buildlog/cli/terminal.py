"""How a terminal is spoken to: its width, its letters, colour, one screen at a time, Ctrl-C.

Nothing here changes what is said: in a pipe, in a file and in a test the text is as it was made.
"""

from __future__ import annotations

import codecs
import contextlib
import functools
import os
import re
import shutil
import sys
import unicodedata
from collections.abc import Callable, Iterator
from typing import Any, TextIO

import click

from buildlog.report.lines import PAGE, folded

NARROW, WIDE = 60, 120  # columns: narrower breaks every table, wider is hard to read
_SPELT = {
    "±": "+/-", "·": "*", "×": "x", "°": "deg", "²": "^2", "³": "^3", "µ": "u", "λ": "lambda",
    "≤": "<=", "≥": ">=", "→": "->", "–": "-", "—": "-", "−": "-", "…": "...", "“": '"', "”": '"',
    "‘": "'", "’": "'", "é": "e", "ü": "ue", "ö": "oe", "ä": "ae", "ß": "ss", "\u00a0": " ",
}  # fmt: skip
# A word of these stands alone in its cell, or begins a finding; its colour says no more than it.
_STATES = {"over": "magenta", "close": "blue", "unknown": "cyan", "altered": "magenta",
           "cannot-tell": "cyan"}  # fmt: skip
_FINDINGS = {"error": "magenta", "caution": "blue", "note": "cyan"}
_STATE = re.compile(rf"(?<=  )({'|'.join(_STATES)})(?=  |$)", re.MULTILINE)
_FINDING = re.compile(rf"^( *)({'|'.join(_FINDINGS)})(?= +\S)", re.MULTILINE)


class _Wishes:
    """What the person at the terminal asked for."""

    pager = True


WISHES = _Wishes()


def begin(no_pager: bool = False) -> None:
    """Take the terminal's width and letters, once a command."""
    WISHES.pager = not no_pager
    PAGE.width = 80
    if _is_terminal(sys.stdout):
        PAGE.width = min(max(shutil.get_terminal_size((80, 24)).columns, NARROW), WIDE)
    codecs.register_error("spelt", _spell)
    for stream in (sys.stdout, sys.stderr):
        change: Any = getattr(stream, "reconfigure", None)
        if change is not None and stream.errors in ("strict", None):
            change(errors="spelt")


@contextlib.contextmanager
def progress(what: str) -> Iterator[Callable[[float], None]]:
    """Called with the share that is done, draws a bar with an estimate of the time that is left,
    on the terminal's error stream. It begins with the first call: before it, a person may be
    asked something. In a pipe and in a file nothing is said."""
    if not _is_terminal(sys.stderr):
        yield lambda share: None
        return
    bar = click.progressbar(length=1000, label=what, file=sys.stderr, show_eta=True)
    with contextlib.ExitStack() as begun:
        begin = functools.cache(lambda: begun.enter_context(bar))

        def tell(share: float) -> None:
            begin().update(max(round(1000 * share) - bar.pos, 0))

        yield tell
        tell(1.0)


def show(text: str, *, err: bool = False) -> None:
    """Print it: in colour where that is seen, in the pager where it is longer than the screen."""
    stream = sys.stderr if err else sys.stdout
    if PAGE.width < 80:
        text = "\n".join(part for line in text.split("\n") for part in folded(line))
    shown = coloured(text) if _has_colour(stream) else text
    encoding = getattr(stream, "encoding", None) or "utf-8"
    shown = shown.encode(encoding, "spelt").decode(encoding)
    rows = shutil.get_terminal_size((80, 24)).lines
    if err or not WISHES.pager or text.count("\n") + 2 <= rows or not _at_both_ends():
        click.echo(shown, err=err)
    else:
        click.echo_via_pager(f"{shown}\n")


def coloured(text: str) -> str:
    """The answer and the headings bold, states and findings in a colour beside their word."""
    lines = text.split("\n")
    for at, line in enumerate(lines):
        behind = lines[at + 1] if at + 1 < len(lines) else ""
        heading = at and not lines[at - 1] and line[:1].strip() and behind.startswith(" ")
        if line and (at == 0 or heading):
            lines[at] = click.style(line, bold=True)
    shown = _STATE.sub(lambda m: click.style(m[1], fg=_STATES[m[1]], bold=True), "\n".join(lines))
    return _FINDING.sub(lambda m: m[1] + click.style(m[2], fg=_FINDINGS[m[2]], bold=True), shown)


def _is_terminal(stream: TextIO) -> bool:
    return stream.isatty() and os.environ.get("TERM") != "dumb"


def _at_both_ends() -> bool:
    return _is_terminal(sys.stdout) and sys.stdin.isatty()


def _has_colour(stream: TextIO) -> bool:
    return _is_terminal(stream) and not os.environ.get("NO_COLOR")


def _spell(error: UnicodeError) -> tuple[str, int]:
    """What a console has no letter for, in letters that every console has."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(map(_letters, error.object[error.start : error.end])), error.end


def _letters(character: str) -> str:
    if character in _SPELT:
        return _SPELT[character]
    plain = unicodedata.normalize("NFKD", character).encode("ascii", "ignore").decode()
    return plain or f"\\u{ord(character):04x}"
