"""A fault: what was seen, heard, smelt or felt, and of which part; open ones above it."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote

from buildlog.analysis.workshop.list_fit import traits_of
from buildlog.desk.questions.day_books import faults, parts_now
from buildlog.page.drawing.form_fields import FormField, form
from buildlog.page.drawing.say import Ruled, brief_day, capital, counted
from buildlog.page.drawing.templating import drawn
from buildlog.records.key_words import key_words

if TYPE_CHECKING:
    from buildlog.page.asked import Asked
    from buildlog.records.faults import Fault


def page(asked: Asked) -> str:
    """First the part, two taps: its system, then the part; then what is wrong with it."""
    book = asked.car
    found = parts_now(book)
    if "part" in asked.query or asked.typed or asked.wrong or not found:
        return _written_down(asked)
    system = asked.query.get("system")
    heads = list(dict.fromkeys(one.path.split(".")[0].split("[")[0] for one in found))
    if system:
        below = [one for one in found if one.path.split(".")[0].split("[")[0] == system]
        rows = [Ruled(capital(one.name), _to(asked, "part", one.path), "", one.identity.words)
                for one in below]  # fmt: skip
        said = f"Which part of the {system.replace('_', ' ')}?"
    else:
        rows = [Ruled(capital(key_words(one)), _to(asked, "system", one)) for one in heads]
        said = "Which part of the car?"
    still = [
        Ruled(one.fault.symptom or one.name, asked.at(f"fault/{quote(one.name)}"),
              f"since {brief_day(one.fault.date)}", of(one.fault), look=True)
        for one in faults(book, only_open=True)
    ]  # fmt: skip
    lead = f"{capital(counted(len(still), 'fault is', 'faults are'))} open."
    return drawn(
        "which", asked, said=said, lead=lead, rows=rows, before=still, heading="Open faults",
        other=_to(asked, "part", ""), title="Fault · buildlog",
    )  # fmt: skip


def of(fault: Fault) -> str:
    """Of which part it is, in words."""
    return key_words(fault.part.replace(".", " ")) if fault.part else "no part named"


def _to(asked: Asked, key: str, value: str) -> str:
    return f"{asked.at('fault')}?{key}={quote(value)}"


def _written_down(asked: Asked) -> str:
    part = asked.query.get("part", asked.typed.get("part", ""))
    stores_codes = traits_of(asked.car.working.configuration)["control-unit"]
    fields = [
        FormField("text", "symptom", "What was seen, heard, smelt or felt"),
        FormField("strip", "holds", "Full load waits for it", "yes", options=_YES_NO),
        *([FormField("text", "codes", "Trouble codes, if any")] if stores_codes else []),
        FormField("text", "note", "Note"),
        FormField("photo", "photo", "Photo"),
    ]
    said = (
        f"What is wrong with the {key_words(part.replace('.', ' '))}?" if part else "What is wrong?"
    )
    return form(asked, "fault", fields, said=said, main="Save fault", what=part, title="Fault")


_YES_NO = (("yes", "yes"), ("no", "no"))
