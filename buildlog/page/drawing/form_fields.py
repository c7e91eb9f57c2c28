"""The fields of a form, told apart by kind; what was typed before stands in them again."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

from buildlog.page.drawing.templating import drawn

if TYPE_CHECKING:
    from buildlog.page.asked import Asked

FieldKind = Literal["text", "figure", "area", "choice", "strip", "date", "photo", "files", "tick",
                    "digits"]  # fmt: skip


_TYPED = ("text", "figure", "digits")


class FormField(NamedTuple):
    """One field: `options` are keys with what is said of each; `hint` stands beside a figure."""

    kind: FieldKind
    name: str
    label: str
    value: str = ""
    unit: str = ""
    hint: str = ""
    options: Sequence[tuple[str, str]] = ()
    wrong: str = ""


def form_values(asked: Asked, fields: Sequence[FormField]) -> list[FormField]:
    """The fields with what was typed before, where the form comes back; what is wrong stands with
    the one that it speaks of."""
    found = [one._replace(value=asked.typed.get(one.name, one.value)) for one in fields]
    of = spoken_of(asked.wrong, {one.name: one.value for one in found if one.kind in _TYPED})
    return [one._replace(wrong=asked.wrong or "") if one.name == of else one for one in found]


def spoken_of(wrong: str | None, typed: Mapping[str, str]) -> str | None:
    """The field that what is wrong speaks of, by what it quotes; None where none can be told.

    >>> spoken_of('"89x66" has a letter in it. Write 8966.', {"value": "89x66", "note": "x"})
    'value'
    >>> spoken_of("The message is missing.", {"message": ""}), spoken_of(None, {"value": "3"})
    (None, None)
    """
    quoted = re.findall(r'"([^"]+)"', wrong or "")
    fits = [name for name, text in typed.items() for one in quoted if text and one == text]
    fits = fits or [name for name, text in typed.items() for one in quoted if one in text]
    return fits[0] if fits else None


def form(
    asked: Asked, act: str, fields: Sequence[FormField], *, said: str, main: str, lead: str = "",
    what: str = "", old: str = "", note: str = "", back: str = "", title: str = "",
) -> str:  # fmt: skip
    """A sheet that is one form; `main` is the deed on its button, `note` what to look at."""
    shown = form_values(asked, fields)
    return drawn(
        "form", asked, said=said, lead=lead, act=act, main=main, what=what, old=old, note=note,
        fields=shown, at_field=any(one.wrong for one in shown),
        back=back or asked.at(), title=f"{title or main} · buildlog",
        files=any(one.kind in ("photo", "files") for one in fields),
    )  # fmt: skip
