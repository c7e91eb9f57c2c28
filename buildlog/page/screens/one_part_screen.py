"""One part: fitted, removed, swapped or put back, with what its label says."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.desk.questions.day_books import part_lives, parts_now
from buildlog.page.drawing.form_fields import FormField, form
from buildlog.page.drawing.held_values import held
from buildlog.page.drawing.say import brief_day, capital, display, sentence
from buildlog.page.screens.parts_screen import run
from buildlog.records.key_words import key_words
from buildlog.records.paths import leaves, words
from buildlog.units import Quantity

if TYPE_CHECKING:
    from buildlog.analysis.workshop.partlife import PartLife
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.page.asked import Asked

_RATINGS = 4  # figures of a piece that its form asks for
_DEEDS = (("swap", "swapped"), ("fit", "fitted"), ("remove", "removed"), ("refit", "put back"))


def page(asked: Asked) -> str:
    """What was done with it, and which piece is there now."""
    book, path = asked.car, asked.name or ""
    there = next((one for one in parts_now(book) if one.path == path), None)
    words = there.name if there else key_words(path.replace(".", " "))
    deed = asked.typed.get("deed") or asked.query.get("deed") or ("swap" if there else "fit")
    gone = [one for one in part_lives(book) if one.path == path and one.ended]
    fields = [FormField("strip", "deed", "What was done", deed, options=_DEEDS)]
    serials = [(one.identity.serial, _piece(one)) for one in gone if one.identity.serial]
    if serials:
        fields.append(FormField("choice", "refit", "Which was put back",
                                options=[("", "none of these"), *serials]))  # fmt: skip
    fields += [
        FormField("text", "maker", "Maker of the new one"),
        FormField("text", "number", "Number"),
        FormField("text", "serial", "Serial"),
        FormField("photo", "photo", "Photo of the label"),
        FormField("choice", "condition", "Condition", "new", options=_CONDITIONS),
        *_ratings(book, path),
        FormField("text", "note", "Note"),
    ]
    out = f"Out goes: {_piece(there)}, {run(there, display(book))} on it." if there else ""
    return form(
        asked, "part", fields, said=f"Swap the {words}?" if there else f"Fit the {words}?",
        lead=sentence(out) if out else "No part is recorded there.", main="Save part",
        what=path, old=held(book, "car.toml", [*path.split("."), "part"]),
        title="Part", back=asked.at("parts"),
    )  # fmt: skip


def _ratings(book: Snapshot, path: str) -> list[FormField]:
    """What is stated of the piece that is there, to be stated anew of another one."""
    held = leaves(book.working.configuration)
    return [
        FormField("figure", f"field:{one}", capital(words(one)), "", value.unit.text,
                  f"was {value}; left empty it stays so")
        for one, value in held.items()
        if one.rpartition(".")[0] == path and isinstance(value, Quantity)
    ][:_RATINGS]  # fmt: skip


def _piece(one: PartLife) -> str:
    """ "Tolvane TC-240, serial 88213, fitted 24 April"."""
    fitted = f", fitted {brief_day(one.fitted_on)}" if one.fitted_on else ""
    return f"{one.identity.words or 'maker and number unknown'}{fitted}"


_CONDITIONS = (("new", "new"), ("used", "used"), ("rebuilt", "rebuilt"), ("original", "original"))
