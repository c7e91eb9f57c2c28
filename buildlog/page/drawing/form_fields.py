"""The fields of a form, told apart by kind; what was typed before stands in them again."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

from buildlog.page.drawing.templating import drawn

if TYPE_CHECKING:
    from buildlog.page.asked import Asked

FieldKind = Literal["text", "figure", "area", "choice", "strip", "date", "photo", "files", "tick",
                    "digits"]  # fmt: skip


class FormField(NamedTuple):
    """One field: `options` are keys with what is said of each; `hint` stands beside a figure."""

    kind: FieldKind
    name: str
    label: str
    value: str = ""
    unit: str = ""
    hint: str = ""
    options: Sequence[tuple[str, str]] = ()


def form_values(asked: Asked, fields: Sequence[FormField]) -> list[FormField]:
    """The fields with what was typed before, where the form comes back."""
    return [one._replace(value=asked.typed.get(one.name, one.value)) for one in fields]


def form(
    asked: Asked, act: str, fields: Sequence[FormField], *, said: str, main: str, lead: str = "",
    what: str = "", old: str = "", note: str = "", back: str = "", title: str = "",
) -> str:  # fmt: skip
    """A sheet that is one form; `main` is the deed on its button, `note` what to look at."""
    return drawn(
        "form", asked, said=said, lead=lead, act=act, main=main, what=what, old=old, note=note,
        fields=form_values(asked, fields),
        back=back or asked.at(), title=f"{title or main} · buildlog",
        files=any(one.kind in ("photo", "files") for one in fields),
    )  # fmt: skip
