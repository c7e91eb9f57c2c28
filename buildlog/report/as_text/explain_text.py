"""What a figure means: its formula, source, what is typical, and what it does not say."""

from __future__ import annotations

import difflib
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from buildlog.analysis.margins.all_margins import kinds
from buildlog.errors import NotFound
from buildlog.report.lines import wrap

_PARTS = (
    ("formula", "formula"), ("unit", "unit"), ("source", "source"), ("typical", "typical"),
    ("close", "close within"), ("says_not", "does not say"),
)  # fmt: skip


@dataclass(frozen=True)
class Explanation:
    """One figure explained; `close` is the caution band of a margin with its source."""

    name: str
    meaning: str
    formula: str
    source: str
    typical: str
    says_not: str
    unit: str | None = None
    close: str | None = None


@cache
def explanations() -> dict[str, Explanation]:
    """Every explanation by its name, margins first."""
    found = {}
    words = _read("margins.toml")
    for name, kind in kinds().items():
        close = f"{kind.caution:g} ({kind.caution_source})"
        found[name] = Explanation(
            name, words[name]["meaning"], f"{kind.formula}; {kind.rule.value}", kind.source,
            words[name]["typical"], kind.says_not, kind.unit, close,
        )  # fmt: skip
    for name, said in _read("figures.toml").items():
        found[name] = Explanation(name, **said)
    return found


def explained(name: str) -> Explanation:
    """The explanation of a name, however it is written; NotFound names the nearest."""
    known = {_plain(one): one for one in explanations()}
    asked = _plain(name)
    hits = [one for plain, one in known.items() if plain == asked]
    hits = hits or [one for plain, one in known.items() if asked and asked in plain]
    if len(hits) == 1:
        return explanations()[hits[0]]
    near = hits or [known[n] for n in difflib.get_close_matches(asked, known, n=3, cutoff=0.4)]
    hint = f"did you mean {' or '.join(near[:4])}?" if near else "buildlog explain lists them"
    many = "more than one figure is" if hits else "no figure is"
    raise NotFound(f'{many} called "{name}"', hint=hint)


def explain_lines(one: Explanation) -> list[str]:
    """One explanation on the screen."""
    lines = wrap(f"{one.name}: {one.meaning}", 2, 0)
    for key, word in _PARTS:
        said = getattr(one, key)
        if said is not None:
            lines += wrap(f"{word + ':':<14}{said}", 16, 2)
    last = "next: buildlog margins --full" if one.close else "next: buildlog explain"
    return [*lines, last]


def list_lines() -> list[str]:
    """The names that can be asked for."""
    margins = [one.name for one in explanations().values() if one.close]
    others = [one.name for one in explanations().values() if not one.close]
    lines = wrap(f"margins: {', '.join(margins)}", 2, 0)
    lines += wrap(f"figures: {', '.join(others)}", 2, 0)
    return [*lines, 'next: buildlog explain "clutch torque"']


def explain_json(one: Explanation) -> dict[str, Any]:
    """The same for programs."""
    return {"name": one.name, "meaning": one.meaning,
            **{key: getattr(one, key) for key, _ in _PARTS}}  # fmt: skip


def _read(name: str) -> dict[str, Any]:
    return tomllib.loads((files("buildlog") / "explanations" / name).read_text(encoding="utf-8"))


def _plain(name: str) -> str:
    return name.casefold().replace("-", " ").replace("_", " ").strip()
