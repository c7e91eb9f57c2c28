"""Random valid documents, generated from the published JSON Schemas by hypothesis.

The generator reads the schema only, not the model: where the two disagree about what is
valid, a test sees it.
"""

from __future__ import annotations

import copy
import datetime as dt
import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from functools import cache
from typing import Any

from hypothesis import strategies as st

from buildlog.records.schema import schema
from buildlog.units import parse

Leaf = dict[str, Any]


@cache
def leaves_of(name: str) -> dict[str, Leaf]:
    """Every value of plain tables by dotted path, with its part of the schema."""
    whole = schema(name)
    return dict(_walk(whole, whole["$defs"], ""))


def _walk(table: Leaf, definitions: Mapping[str, Leaf], prefix: str) -> Iterator[tuple[str, Leaf]]:
    for key, value in table["properties"].items():
        inner = resolved(value, definitions)
        if "properties" in inner:
            yield from _walk(inner, definitions, f"{prefix}{key}.")
        elif not _is_tables(inner, definitions) and "additionalProperties" not in inner:
            yield f"{prefix}{key}", inner


def resolved(value: Leaf, definitions: Mapping[str, Leaf]) -> Leaf:
    """A schema without its "or null" and with its reference followed."""
    options = [option for option in value.get("anyOf", [value]) if option.get("type") != "null"]
    found = options[0]
    if "$ref" in found:
        return resolved(definitions[found["$ref"].rsplit("/", 1)[-1]], definitions)
    return found


def _is_tables(leaf: Leaf, definitions: Mapping[str, Leaf]) -> bool:
    items = leaf.get("items")
    return isinstance(items, dict) and "properties" in resolved(items, definitions)


def values(leaf: Leaf) -> st.SearchStrategy[Any]:
    """Valid values of a leaf as TOML holds them."""
    if "const" in leaf:
        return st.just(leaf["const"])
    if "enum" in leaf:
        return st.sampled_from(leaf["enum"])
    if "x-dimension" in leaf:
        return _quantities(leaf)
    return {
        "boolean": lambda: st.booleans(),
        "integer": lambda: st.integers(*_bounds(leaf, 0, 1000)),
        "number": lambda: _numbers(leaf),
        "string": lambda: _strings(leaf),
        "array": lambda: _arrays(leaf),
    }[leaf["type"]]()


def _bounds(leaf: Leaf, low: float, high: float) -> tuple[int, int]:
    least = leaf.get("minimum", leaf.get("exclusiveMinimum", low - 1) + 1)
    most = leaf.get("maximum", leaf.get("exclusiveMaximum", high + 1) - 1)
    return int(least), int(most)


def _numbers(leaf: Leaf) -> st.SearchStrategy[float]:
    low = leaf.get("minimum", leaf.get("exclusiveMinimum", 0))
    high = leaf.get("maximum", leaf.get("exclusiveMaximum", 1000))
    # Steps of a thousandth of the range, its open ends left out.
    return st.integers(1, 999).map(lambda k: round(low + (high - low) * k / 1000, 9))


def _quantities(leaf: Leaf) -> st.SearchStrategy[str]:
    wanted = tuple(leaf["x-dimension"].split(" | "))
    low, high = (parse(leaf[key], wanted) for key in ("x-low", "x-high"))
    if low.dimension != high.dimension:  # the bounds of a field that allows several
        return st.integers(150, 600).map(lambda k: f"{k} {high.unit.text}")
    unit, ends = low.unit.text, [Decimal(f"{low.unit.from_si(q.si):.9g}") for q in (low, high)]
    return st.integers(0, 1000).map(
        lambda k: f"{(ends[0] + (ends[1] - ends[0]) * k / 1000).normalize():f} {unit}"
    )


def _strings(leaf: Leaf) -> st.SearchStrategy[Any]:
    if leaf.get("format") == "date":
        return st.dates(dt.date(1980, 1, 1), dt.date(2030, 1, 1))
    if leaf.get("format") == "time":
        return st.times().map(lambda t: t.replace(microsecond=0))
    if "pattern" in leaf:
        return st.from_regex(re.compile(leaf["pattern"], re.ASCII), fullmatch=True).filter(
            str.isprintable
        )
    return st.text(
        "abcdefghij ÄÖß-0123456789", min_size=max(1, leaf.get("minLength", 0)), max_size=20
    )


def _arrays(leaf: Leaf) -> st.SearchStrategy[list[Any]]:
    if "prefixItems" in leaf:
        return st.tuples(*(values(item) for item in leaf["prefixItems"])).map(list)
    low, high = leaf.get("minItems", 1), leaf.get("maxItems", 6)
    return st.lists(values(leaf["items"]), min_size=low, max_size=high)


def put(document: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    """The document with one dotted path set."""
    out = copy.deepcopy(document)
    *tables, last = path.split(".")
    here = out
    for table in tables:
        here = here.setdefault(table, {})
    here[last] = value
    return out


def get(document: Mapping[str, Any], path: str) -> Any:
    """The value at a dotted path; None where there is none."""
    here: Any = document
    for part in path.split("."):
        here = here.get(part) if isinstance(here, dict) else None
    return here


@st.composite
def documents(draw: st.DrawFn, name: str = "car", most: int = 30) -> dict[str, Any]:
    """A valid document: what must be given, and some of what may be given."""
    leaves = leaves_of(name)
    document: dict[str, Any] = {"format": 1}
    needed = {"car": {"car.name": "Marrow Tern"}, "session": {"date": dt.date(2026, 3, 14)}}
    for path, value in needed[name].items():
        document = put(document, path, value)
    free = sorted(set(leaves) - {"format", *needed[name]})
    for path in draw(st.lists(st.sampled_from(free), max_size=most, unique=True)):
        document = put(document, path, draw(values(leaves[path])))
    return document


def json_form(value: Any) -> Any:
    """A document as JSON holds it: days and times as text."""
    if isinstance(value, dict):
        return {key: json_form(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [json_form(inner) for inner in value]
    return value.isoformat() if isinstance(value, dt.date | dt.time) else value
