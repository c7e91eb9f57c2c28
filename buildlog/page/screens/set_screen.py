"""Any field of the car, found by its words; several at once; what `check` says beside it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

from buildlog.analysis.workshop.list_fit import traits_of
from buildlog.desk.questions.check_all import look
from buildlog.page.drawing.form_fields import spoken_of
from buildlog.page.drawing.held_values import field_held
from buildlog.page.drawing.kept_answers import kept
from buildlog.page.drawing.say import counted, sentence
from buildlog.page.drawing.templating import drawn
from buildlog.records.car.configuration import Configuration
from buildlog.records.fields.base import Measure
from buildlog.records.key_words import key_words
from buildlog.records.paths import Field, assembly, fields, leaves, words
from buildlog.report.as_text.changes_text import value_text
from buildlog.units import Quantity

if TYPE_CHECKING:
    from buildlog.page.asked import Asked
    from buildlog.records.checks import CarTrait
    from buildlog.records.paths import Value

_MOST = 12  # fields on one sheet
_BURNS = ("engine", "intake", "ignition", "induction", "exhaust", "fuel", "nitrous",
          "charge_injection")  # fmt: skip
_CURRENT = ("motor", "battery")


class FoundField(NamedTuple):
    """One field: where it is, what it means, in what unit it is given, what it holds, for a
    person and (`held`) as the act that changes it has to know it."""

    path: str
    assembly: str
    name: str
    means: str
    unit: str
    holds: str
    figure: bool
    typed: str
    held: str
    wrong: str = ""


def page(asked: Asked) -> str:
    """Fields that have every word, in their path or in what they mean."""
    book = asked.car
    word = asked.query.get("word", asked.typed.get("word", "")).strip()
    values = leaves(book.working.configuration)
    traits = traits_of(book.working.configuration)
    found = [
        one for path, one in _all().items()
        if word and _fits(path, one, word) and (path in values or _had(path, traits))
    ]  # fmt: skip
    shown = [_field(asked, one, values.get(one.path)) for one in found[:_MOST]]
    of = spoken_of(asked.wrong, {one.path: one.typed for one in shown})
    shown = [one._replace(wrong=asked.wrong or "") if one.path == of else one for one in shown]
    look_at = (
        [one for one in kept(book, look).findings if one.severity != "note"][:4] if word else []
    )
    return drawn(
        "set_fields", asked, said=_sentence(word, len(found)), word=word, fields=shown,
        at_field=of is not None,
        left=max(0, len(found) - _MOST), findings=look_at, title="Set a field · buildlog",
        lead="What is left empty stays as it is." if shown else "",
    )  # fmt: skip


@cache
def _all() -> dict[str, Field]:
    """Every field that can be set by its path."""
    return {path: one for path, one in fields(Configuration).items() if "[]" not in path}


def _fits(path: str, one: Field, text: str) -> bool:
    told = f"{path.replace('_', ' ').replace('.', ' ')} {one.description}".casefold()
    return all(word in told for word in text.casefold().split())


def _had(path: str, traits: Mapping[CarTrait, bool]) -> bool:
    """Whether a car of its power source can have what a field is about."""
    table = assembly(path)
    if table in _BURNS:
        return traits["combustion"]
    return table not in _CURRENT or traits["high-voltage"]


def _sentence(word: str, count: int) -> str:
    if not word:
        return "Which field? A word or two of it will do."
    quoted = " and ".join(f"“{one}”" for one in word.split())
    return sentence(f"{counted(count, 'field has', 'fields have')} {quoted}").replace(
        "no ", "No ", 1
    )


def _field(asked: Asked, one: Field, holds: Value | None) -> FoundField:
    return FoundField(
        one.path, key_words(assembly(one.path)), words(one.path), one.description,
        _unit(one.measure, holds), _holds(one.path, holds),
        one.measure is not None, asked.typed.get(f"field:{one.path}", ""),
        field_held(asked.car, one.path),
    )  # fmt: skip


def _holds(path: str, holds: Value | None) -> str:
    """What stands there, in the unit that stands beside the place for another."""
    if isinstance(holds, Quantity):
        return holds.text
    return value_text(holds, path) if holds is not None else ""


def _unit(measure: Measure | None, holds: Value | None) -> str:
    """The unit of what stands there, else that of the least value that is accepted."""
    if isinstance(holds, Quantity):
        return holds.unit.text
    return measure.low.rpartition(" ")[2] if measure else ""
