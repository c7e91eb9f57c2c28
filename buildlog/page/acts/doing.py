"""How every act is done: once, by its id, with what it says and what the screen showed."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from buildlog.desk.acts.acting_once import ActMeant, Came, once
from buildlog.errors import InvalidInput
from buildlog.page.asked import Asked
from buildlog.page.came_of import ActAnswer
from buildlog.page.sent import Sent, SentFile

if TYPE_CHECKING:
    from buildlog.desk.snapshot.opening import Ledger

T = TypeVar("T")
_ID = re.compile(r"[0-9a-f]{32}")
_OF_THE_FORM = frozenset({"token", "act", "back", "here", "old", "rests"})  # who, and from where
_DIGITS = str.maketrans("oOlI", "0011")  # letters that a thumb takes for digits
# before three digits it may stand for thousands
_COMMA = re.compile(r"([-+]?\d+),(?!\d{3}$)(\d+)")
_LETTER_WITHIN = re.compile(r"[-+]?[\d.,]*\d[A-DF-Za-df-z]+[\d.,]+")  # "1e3" is a figure
_beginning = threading.Lock()


def meant(sent: Sent, *, changes: bool = False) -> ActMeant:
    """The act of a form; `changes`: it changes a place, which held `old` on the screen."""
    name = sent.one("act")
    if not _ID.fullmatch(name):
        raise InvalidInput("this form has no act's id", hint="load the page again")
    old, rests = (sent.one("old"), sent.one("rests")) if changes else (None, "")
    return ActMeant(name, _content(sent), old, rests if _ID.fullmatch(rests) else "")


def did(
    asked: Asked,
    sent: Sent,
    do: Callable[[Ledger], T],
    said: Callable[[T], str],
    *,
    changes: bool = False,
    old: str | None = None,
) -> ActAnswer:
    """Do it once; what came of it, in a sentence where it was done just now."""
    act = meant(sent, changes=changes)
    came = once(asked.place, replace(act, old=old) if old else act, do)
    return told(came, said, sent.one("what"))


def told(came: Came[T], said: Callable[[T], str], what: str) -> ActAnswer:
    """What came of an act, for who did it."""
    out = came.outcome
    if out.word in ("question", "refused"):
        return ActAnswer(out.word, out.said, came.hint, what, out.old, out.now)
    words = {"done": "saved", "already": "it says so already"}[out.word]
    if came.written is None:
        return ActAnswer(out.word, words, what=what, again=True)
    return ActAnswer(out.word, said(came.written), what=what)


@contextmanager
def beside(ledger: Ledger) -> Iterator[None]:
    """What is written inside is not the act itself, and one at a time in this server."""
    act, ledger.act = ledger.act, None
    try:
        with _beginning:
            yield
    finally:
        ledger.act = act


def photos(ledger: Ledger, files: list[SentFile], folder: str) -> list[str]:
    """Photos laid beside the history, named by what they hold: their paths."""
    from buildlog.desk.acts.attachments import lay_photo

    return [lay_photo(ledger, one.name, one.bytes(), folder) for one in files]


def listed(text: str) -> list[str]:
    """Words apart at commas and blanks: "P0299, P0420"."""
    return re.split(r"[,;\s]+", text) if text else []


def measured(sent: Sent, value: str, unit: str) -> str | None:
    """A value with the unit that stands beside its field, unless it was typed with one."""
    return _measured(sent.one(value), sent.one(unit))


def odometer(sent: Sent, name: str = "odometer") -> str | None:
    """A reading with its unit. InvalidInput of "143.200", which may be thousands or a fraction."""
    typed = sent.one(name).strip()
    if re.fullmatch(r"\d{1,3}\.\d{3}", typed):
        plain = typed.replace(".", "")
        raise InvalidInput(f'"{typed}" may be thousands or a fraction', hint=f"write {plain}")
    return measured(sent, name, "unit")


def measured_each(sent: Sent, value: str, unit: str, *, all_of_them: bool) -> tuple[str, ...]:
    """The same of several fields of one name, as one a cylinder; InvalidInput where one that is
    left out is followed by another, or, where all are wanted, stands at the end."""
    typed = [one.strip() for one in sent.fields.get(value, ())]
    given = [one for one in typed if one]
    first_left_out = typed.index("") if "" in typed else len(typed)
    if given and first_left_out < (len(typed) if all_of_them else len(given)):
        what = f"number {first_left_out + 1} has no value"
        raise InvalidInput(what, hint="write each of them, in order, or none")
    return tuple(filter(None, (_measured(one, sent.one(unit)) for one in given)))


def _measured(typed: str, beside_it: str) -> str | None:
    meant = number(typed)
    if beside_it and _LETTER_WITHIN.fullmatch(typed):
        raise InvalidInput(f'"{typed}" has a letter in it', hint="write the figure alone")
    plain = re.fullmatch(r"[-+]?[\d.,\s]+", meant)
    return f"{meant} {beside_it}" if plain and beside_it else typed or None


def number(typed: str) -> str:
    """As it was typed, with a point for the comma that is all the pad of some phones has.
    InvalidInput of "3o5", which has a letter in it."""
    meant = typed.translate(_DIGITS)
    if meant != typed and re.search(r"\d", typed) and re.fullmatch(r"[\d.,]+", meant):
        raise InvalidInput(f'"{typed}" has a letter in it', hint=f"write {meant}")
    comma = _COMMA.fullmatch(typed)
    return f"{comma[1]}.{comma[2]}" if comma else typed


def day(sent: Sent, name: str) -> dt.date | None:
    """A day as a browser's own field sends it."""
    text = sent.one(name)
    try:
        return dt.date.fromisoformat(text) if text else None
    except ValueError:
        raise InvalidInput(f'"{text}" is not a day', hint="write it as 2026-03-14") from None


def _content(sent: Sent) -> str:
    told = hashlib.sha256()
    for name in sorted(sent.fields.keys() - _OF_THE_FORM):
        told.update(repr((name, list(sent.fields[name]))).encode())
    for name in sorted(sent.held):
        for one in sent.held[name]:
            told.update(repr((name, hashlib.sha256(_bytes(one.path)).hexdigest())).encode())
    return told.hexdigest()


def _bytes(path: Path) -> bytes:
    return path.read_bytes()
