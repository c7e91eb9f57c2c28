"""Two versions of a TOML file that came from one, joined field by field into one text.

The result depends on what the three texts say, never on which side is called ours: the
ancestor's text is edited, in the order of the model, to what both sides made of it, and
their comments are carried into it (`comments`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from buildlog.errors import InvalidInput
from buildlog.records.leaf_text import CAR, Form, Leaves, differing, edited, nested, plain
from buildlog.records.merge import Conflict, Side, merge
from buildlog.records.paths import Value, same_value
from buildlog.records.toml import toml_write
from buildlog.store.join import comments


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
