"""The comments of two versions of a TOML file, carried into the text that joins them.

A comment belongs to the statement below it or beside it (those at the end, to the end), and
is joined like a value: the side that changed it is followed. Where both sides changed the
comments of one statement, both stand, in an order that depends on nothing but their words.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from buildlog.records.paths import KEY_FIELDS
from buildlog.records.toml.toml_text import Path, lines_of, statements

Key = tuple[str | int, ...]
_END: Key = ("", 0)  # of the comments behind the last statement; no TOML path is like it
_Said = TypeVar("_Said")


@dataclass(frozen=True)
class _Noted:
    """A statement with its comments. `region`: the lines above it, blank ones too, as they are."""

    region: tuple[str, ...]
    body: str
    beside: str

    @property
    def above(self) -> tuple[str, ...]:
        return tuple(line for line in self.region if line)

    @property
    def is_long(self) -> bool:
        return "\n" in self.body.rstrip("\n")


Sides = tuple[_Noted | None, _Noted | None, _Noted | None]  # before, one side, the other


def carried(base: bytes, one: bytes, other: bytes, joined: bytes) -> bytes:
    """The joined text with the comments of both sides; unchanged where that cannot be done."""
    text = joined.decode("utf-8")
    was, mine, their, here = (dict(_notes(data)) for data in (base, one, other, joined))
    ending = "\r\n" if "\r\n" in text else "\n"
    out: list[str] = []
    for key, noted in here.items():
        sides = (was.get(key), mine.get(key), their.get(key))
        out += [f"{line}\n" for line in _region(noted, sides)] + [_statement(noted, sides)]
    new = "".join(out).replace("\n", ending)
    if joined.startswith(b"\xef\xbb\xbf"):
        new = "\ufeff" + new
    try:
        same = tomllib.loads(new.removeprefix("\ufeff")) == _document(joined)
    except tomllib.TOMLDecodeError:
        same = False
    return new.encode() if same else joined


def left_out(base: bytes, one: bytes, other: bytes, joined: bytes) -> list[str]:
    """The comments that a side added and the joined text does not hold."""
    old, text = set(_words(base)), joined.decode("utf-8")
    new = dict.fromkeys(word for side in (one, other) for word in _words(side))
    return [f"# {word}" for word in new if word not in old and word not in text]


def _region(here: _Noted, sides: Sides) -> tuple[str, ...]:
    """The lines above a statement: as they are where the comments in them are as meant."""
    was, one, other = (side.above if side else None for side in sides)
    meant = _three(was, one, other, _mixed)
    if meant is None or meant == here.above:
        return here.region
    alike = [side.region for side in sides[1:] if side is not None and side.above == meant]
    if alike:
        return min(alike)
    blank = next((n for n, line in enumerate(here.region) if line), len(here.region))
    return (*here.region[:blank], *meant)


def _statement(here: _Noted, sides: Sides) -> str:
    if any(side is not None and side.is_long for side in (here, *sides[1:])):
        was, one, other = (side.body if side else None for side in sides)
        body = _three(was, one, other, lambda *_: here.body)
        return body if body and _same(body, here.body) else here.body
    was, one, other = (side.beside if side else None for side in sides)
    beside = _three(was, one, other, _mixed_beside)
    if beside is None or beside == here.beside or not here.body:
        return here.body
    plain = here.body.rstrip("\n").removesuffix(here.beside).rstrip()
    return f"{plain}{_gap(here, *sides[1:])}{beside}".rstrip() + "\n"


def _three(
    was: _Said | None, one: _Said | None, other: _Said | None,
    mix: Callable[[_Said | None, _Said, _Said], _Said],
) -> _Said | None:  # fmt: skip
    """What both sides make of it; a side without the statement says nothing of its comments."""
    if one is None or other is None:
        return other if one is None else one
    if one == other or other == was:
        return one
    return other if one == was else mix(was, one, other)


def _mixed(
    was: tuple[str, ...] | None, one: tuple[str, ...], other: tuple[str, ...]
) -> tuple[str, ...]:
    """What neither side took out, then what either added, each line once."""
    old = was or ()
    kept = [line for line in old if line in one and line in other]
    return (*dict.fromkeys(kept), *sorted({*one, *other} - set(old)))


def _mixed_beside(was: str | None, one: str, other: str) -> str:
    parts = _mixed(*(tuple(_parts(side or "")) for side in (was, one, other)))
    return f"# {'; '.join(parts)}" if parts else ""


def _parts(comment: str) -> list[str]:
    return [part.strip() for part in comment.lstrip("# ").split(";") if part.strip()]


def _gap(*known: _Noted | None) -> str:
    """The blanks before a comment, as in the text or as the side that has one wrote them."""
    gaps = []
    for noted in known:
        if noted is not None and noted.beside:
            plain = noted.body.rstrip("\n").removesuffix(noted.beside)
            gaps.append(plain[len(plain.rstrip()) :])
    return min(gaps, default="  ") or "  "


def _same(one: str, other: str) -> bool:
    try:
        return tomllib.loads(one) == tomllib.loads(other)
    except tomllib.TOMLDecodeError:
        return False


# reading


def _notes(data: bytes) -> Iterator[tuple[Key, _Noted]]:
    text = data.decode("utf-8-sig")
    lines, document, before = lines_of(text), _document(data), 0
    for one in statements(text):
        body = "".join(lines[one.first : one.last]).replace("\r\n", "\n").rstrip("\n") + "\n"
        region = tuple(line.strip() for line in lines[before : one.first])
        yield (*_named(one.path, document), one.is_header), _Noted(region, body, _beside(body))
        before = one.last
    yield _END, _Noted(tuple(line.strip() for line in lines[before:]), "", "")


def _document(data: bytes) -> dict[str, Any]:
    return tomllib.loads(data.decode("utf-8-sig"))


def _named(path: Path, document: Any) -> Iterator[str | int]:
    """The path with an item's name in place of its position, where it has one."""
    level, table = document, ""
    for key in path:
        level = level[key] if isinstance(key, int) or key in level else {}
        named = (
            isinstance(key, int) and isinstance(level, dict) and level.get(KEY_FIELDS.get(table))
        )
        yield f"[{named}]" if named else key
        table = str(key)


def _beside(body: str) -> str:
    """The comment behind a statement, on its last line."""
    text = body.rstrip("\n")
    start = text.rfind("\n") + 1
    for place in (n for n in range(start, len(text)) if text[n] == "#"):
        if _same(text[:place], text):
            return text[place:]
    return ""


def _words(data: bytes) -> Iterator[str]:
    """Every comment, without its sign; those beside a value in their parts."""
    for noted in dict(_notes(data)).values():
        for line in noted.above:
            yield line.lstrip("# ").rstrip()
        yield from _parts(noted.beside)
        if noted.is_long:
            yield from _inside(noted.body)


def _inside(body: str) -> Iterator[str]:
    """The comments between the lines of a long value."""
    lines: Sequence[str] = body.split("\n")[:-1]
    for number, line in enumerate(lines[:-1]):
        for place in (n for n, letter in enumerate(line) if letter == "#"):
            rest = [*lines[:number], line[:place], *lines[number + 1 :]]
            if _same("\n".join(rest), body):
                yield line[place:].lstrip("# ").rstrip()
                break
