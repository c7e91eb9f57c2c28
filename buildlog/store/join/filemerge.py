"""Two versions of a TOML file that came from one, joined field by field into one text.

The result depends on what the three texts say, never on which side is called ours: the
ancestor's text is edited, in the order of the model, to what both sides made of it, and
their comments are carried into it (`comments`).

What cannot be taken apart without a doubt (two items of one name, a table in a table in an
array) is an InvalidInput: then the file is joined, or asked about, as one piece.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast

from buildlog import units
from buildlog.errors import InvalidInput
from buildlog.records.checks import Checklist
from buildlog.records.leaf_text import CAR, Form, Leaves, differing, edited, nested, plain
from buildlog.records.merge import Conflict, Side, merge
from buildlog.records.paths import KEY_FIELDS, Value, same_value
from buildlog.records.reading import read
from buildlog.records.session import Session
from buildlog.records.toml import toml_write
from buildlog.store.git import ledger_files
from buildlog.store.join import comments

_KEYS = KEY_FIELDS | {"pull": "file", "log": "file"}
_BARE = re.compile(r"\w[\w-]*", re.ASCII)


class Unsure:
    """A value on which several common ancestors differ: no side may be preferred by it."""


def ancestor(bases: Sequence[bytes], form: Form = CAR) -> dict[str, Any]:
    """What the common ancestors say together."""
    known = [form.fields(data) for data in bases]
    paths = dict.fromkeys(path for held in known for path in held)
    agreed = {path: [held.get(path) for held in known] for path in paths}
    return {
        path: values[0] if all(same_value(values[0], value) for value in values) else Unsure()
        for path, values in agreed.items()
    }


def joined(
    bases: Sequence[bytes],
    one: bytes,
    other: bytes,
    decided: Mapping[str, Side] | None = None,
    form: Form = CAR,
) -> tuple[bytes | None, tuple[Conflict, ...], Leaves]:
    """The joined text, the undecided fields, the joined fields. No text while undecided.

    "ours" in `decided` is `one`, "theirs" is `other`.
    """
    base, mine, their = ancestor(bases, form), form.fields(one), form.fields(other)
    merged = merge(base, mine, their, decided)
    values = {
        path: _spelling(base.get(path), mine.get(path), their.get(path), value)
        for path, value in merged.values.items()
    }
    if merged.conflicts:
        return None, merged.conflicts, values
    text = written(min(bases, default=min(one, other)), form.apart(values), form)
    return comments.carried(min(bases, default=b""), one, other, text), (), values


def written(data: bytes, values: Leaves, form: Form = CAR) -> bytes:
    """The text edited to hold exactly these leaves, or written anew where that cannot be done."""
    try:
        text = edited(data, values, form)
        if not differing(form.read(text), values):
            return text
    except (InvalidInput, KeyError, IndexError):
        pass
    anew = toml_write.write(nested(values, form))
    if differing(form.read(anew), values):
        raise InvalidInput("what both sides say together is no valid file of its kind")
    return anew


def _spelling(was: Any, one: Value | None, other: Value | None, value: Value) -> Value:
    """Of two spellings of one value, the one that is new; of two new ones always the same."""
    if one is None or other is None or not same_value(one, other):
        return value
    texts = {str(plain(side)): side for side in (one, other)}
    if len(texts) == 2:
        texts.pop(str(plain(was)), None)
    return texts[min(texts)]


# how a file is taken apart


@dataclass(frozen=True)
class Together:
    """Values that are one statement: numbers and the source that gives them."""

    values: tuple[tuple[str, Value], ...]

    def __str__(self) -> str:
        return ", ".join(f"{name} {value}" for name, value in self.values)


def form_of(path: str) -> Form | None:
    """How a file is taken apart; None: it is joined as one piece."""
    return _FORMS.get(ledger_files.kind_of(path) or "")


def _plain(data: bytes) -> Leaves:
    """The leaves of any TOML file, as strict as their names need it."""
    try:
        document = tomllib.loads(data.decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise InvalidInput(f"the file is not valid TOML: {error}") from error
    found = list(_walk(document, "", ""))
    if len(dict(found)) < len(found):
        raise InvalidInput("two items have one name")
    return dict(found)


def _walk(table: dict[str, Any], prefix: str, inside: str) -> Iterator[tuple[str, Value]]:
    for name, value in table.items():
        if not _BARE.fullmatch(name):
            raise InvalidInput(f"the name {name!r} needs quotes")
        if isinstance(value, dict):
            yield from _walk(value, f"{prefix}{name}.", inside)
        elif isinstance(value, list) and any(isinstance(one, dict) for one in value):
            if prefix or name not in _KEYS:
                raise InvalidInput(f"the items of {name} have no names")
            yield from _items(name, value)
        else:
            if inside and "-" in name:
                raise InvalidInput(f"the name {name!r} stands in an item")
            yield f"{prefix}{name}", _value(value)


def _items(name: str, listed: list[Any]) -> Iterator[tuple[str, Value]]:
    seen: set[str] = set()
    for item in listed:
        key = item.get(_KEYS[name]) if isinstance(item, dict) else None
        if not isinstance(key, str) or key in seen or "]" in key:
            raise InvalidInput(f"an item of {name} has no name of its own")
        seen.add(key)
        yield from _walk(item, f"{name}[{key}].", name)


def _value(value: Any) -> Value:
    if isinstance(value, str):
        return units.as_written(value) or value
    return tuple(map(_value, value)) if isinstance(value, list) else cast("Value", value)


def _read_as(model: Any) -> Callable[[bytes], Leaves]:
    def reading(data: bytes) -> Leaves:
        read(model, data, "the file")  # what is not valid is not taken apart
        return _plain(data)

    return reading


def _grouped(values: Leaves) -> Leaves:
    """A table of priors.toml is one statement: nobody stated a mixture of two."""
    groups: dict[str, list[tuple[str, Value]]] = {}
    for path, value in sorted(values.items()):
        group, _, rest = path.partition(".")
        groups.setdefault(group, []).append((rest, value))
    return {
        group: held[0][1] if not held[0][0] else cast("Value", Together(tuple(held)))
        for group, held in groups.items()
    }


def _apart(values: Leaves) -> Leaves:
    found: Leaves = {}
    for group, value in values.items():
        if isinstance(value, Together):
            found |= {f"{group}.{rest}": inner for rest, inner in value.values}
        else:
            found[group] = value
    return found


_FORMS: dict[str, Form] = {
    "configuration": CAR,
    "priors": Form(_plain, {}, ("format",), _grouped, _apart),
    "list": Form(_read_as(Checklist), _KEYS, ("format", "name", "title")),
    "session": Form(_read_as(Session), _KEYS, tuple(Session.model_fields)),
}
