"""What a figure means: its formula, source, what is typical, and what it does not say."""

from __future__ import annotations

import difflib
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from buildlog.analysis.margins import margin_table
from buildlog.errors import NotFound
from buildlog.records.key_words import key_words
from buildlog.report.in_units import in_units
from buildlog.report.lines import wrap
from buildlog.report.numbers import Display

FIGURES, WORDS = "figures", "words_of_the_shop"  # the files of explanations
_PARTS = (
    ("formula", "formula"), ("unit", "unit"), ("source", "source"), ("typical", "typical"),
    ("close", "close within"), ("says_not", "does not say"),
)  # fmt: skip


@dataclass(frozen=True)
class Explanation:
    """One figure explained; `close` is the caution band of a margin with its source."""

    name: str
    meaning: str
    formula: str | None = None
    source: str | None = None
    typical: str | None = None
    says_not: str | None = None
    unit: str | None = None
    close: str | None = None


def names() -> tuple[str, ...]:
    """What can be explained: margins, figures, words."""
    return tuple(dict.fromkeys((*margin_table.FILES, *_kept(FIGURES), *_kept(WORDS))))


def explanation(name: str) -> Explanation:
    """The explanation of one of the names; of a margin it stands beside the margin's module."""
    if name not in margin_table.FILES:
        return Explanation(name, **(_kept(FIGURES) | _kept(WORDS))[name])
    kind = margin_table.margin_file(name).kind
    return Explanation(
        name, kind.meaning, f"{kind.formula}; {kind.rule.value}", kind.source, kind.typical,
        kind.says_not, kind.unit, f"{kind.caution:g} ({kind.caution_source})",
    )  # fmt: skip


def explained(asked: str) -> Explanation:
    """The explanation of a name, however it is written; NotFound names the nearest."""
    known = {_plain(one): one for one in names()}
    plain = _plain(asked)
    hits = [known[plain]] if plain in known else [
        known[one] for one in known if plain and plain in one
    ]  # fmt: skip
    if len(hits) == 1:
        return explanation(hits[0])
    near = hits or [known[n] for n in difflib.get_close_matches(plain, known, n=3, cutoff=0.4)]
    hint = f"did you mean {' or '.join(near[:4])}?" if near else "buildlog explain lists them"
    many = "more than one figure or word is" if hits else "no figure or word is"
    raise NotFound(f'{many} called "{asked}"', hint=hint)


def explain_lines(one: Explanation, show: Display) -> list[str]:
    """One explanation on the screen; a formula is in SI, as its source has it."""
    lines = wrap(f"{one.name}: {in_units(one.meaning)}", 2, 0)
    for key, word in _PARTS:
        said = _close(one, show) if key == "close" else getattr(one, key)
        if said is not None:
            said = said if key in ("formula", "source") else in_units(said)
            lines += wrap(f"{word + ':':<14}{said}", 16, 2)
    last = "next: buildlog margins --full" if one.close else "next: buildlog explain"
    return [*lines, last]


def _close(one: Explanation, show: Display) -> str | None:
    """The caution band with its unit."""
    from buildlog.report.as_text.margins_text import distance

    if one.close is None:
        return None
    kind = margin_table.margin_file(one.name).kind
    return f"{distance(kind.caution, kind, show)} ({kind.caution_source})"


def list_lines() -> list[str]:
    """The names that can be asked for."""
    lines = wrap(f"margins: {', '.join(margin_table.FILES)}", 2, 0)
    lines += wrap(f"figures: {', '.join(_kept('figures'))}", 2, 0)
    lines += wrap(f"words: {', '.join(_kept('words_of_the_shop'))}", 2, 0)
    return [*lines, 'next: buildlog explain "clutch torque"']


def explain_json(one: Explanation) -> dict[str, Any]:
    """The same for programs."""
    return {"name": one.name, "meaning": one.meaning,
            **{key: getattr(one, key) for key, _ in _PARTS}}  # fmt: skip


@cache
def _kept(file: str) -> dict[str, dict[str, str]]:
    """What a file of explanations says, by name."""
    place = files("buildlog") / "explanations" / f"{file}.toml"
    return tomllib.loads(place.read_text(encoding="utf-8"))


def _plain(name: str) -> str:
    return key_words(name.casefold().replace("-", " ")).strip()
