"""Fields of the car, several at once; parts fitted, swapped and taken out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.analysis.car.written import FieldsSet
from buildlog.desk.acts.acting_once import held_at, together
from buildlog.desk.acts.car_fields import CAR, place_of, set_fields
from buildlog.errors import InvalidInput
from buildlog.page.acts import doing
from buildlog.page.asked import Asked
from buildlog.page.came_of import ActAnswer
from buildlog.page.sent import Sent

if TYPE_CHECKING:
    from buildlog.desk.snapshot.opening import Ledger

_DEEDS = {"swap": "swapped", "fit": "fitted", "refit": "put back", "remove": "taken out"}
_OF_A_PIECE = ("maker", "name", "number", "serial", "condition", "note")


def set_field(asked: Asked, sent: Sent) -> ActAnswer:
    """Fields of car.toml by their paths, each as the screen showed it."""
    assigned = _typed_fields(sent)
    if not assigned:
        raise InvalidInput("no field was filled in", hint="choose a field and type its value")
    held = sent.below("held:")
    paths = [one.partition("=")[0] for one in assigned]
    old = together([held[path] for path in paths]) if held.keys() >= set(paths) else None
    return _did(asked, sent, assigned, old=old)


def part(asked: Asked, sent: Sent) -> ActAnswer:
    """A part fitted, swapped for another or taken out; one that left is fitted again by its
    serial."""
    path, deed = sent.needed("what", "the part"), sent.one("deed")
    if deed == "remove":
        return _did(asked, sent, [f"{path}="], path)
    if deed not in _DEEDS:
        raise InvalidInput(f'"{deed}" is no deed', hint="swap, fit, refit or remove")
    serial = sent.one("refit") if deed == "refit" else sent.one("serial")
    given = {name: sent.one(name) for name in _OF_A_PIECE if name in sent.fields}
    given |= {"serial": serial}
    if not any(given.get(name) for name in ("maker", "number", "serial", "name")):
        raise InvalidInput("nothing says which part this is", hint="a maker, a number or a serial")
    assigned = [f"{path}.part.{name}={value}" for name, value in given.items()]
    return _did(asked, sent, [*assigned, *_typed_fields(sent)], path)


def _did(
    asked: Asked, sent: Sent, assigned: list[str], part: str = "", old: str | None = None
) -> ActAnswer:
    """`part`: which piece it is about; its form shows the whole piece that is there. `old`: what
    the screen showed of the fields, where that is not in the form as one."""

    def do(ledger: Ledger) -> FieldsSet:
        if part:
            doing.photos(ledger, sent.files("photo"), part.replace(".", "-"))
        places = [place_of(f"{part}.part")] if part else []
        told = [one for one in assigned if not _empty(ledger, one)]
        return set_fields(ledger, told, places=places)

    shown = old is not None or "old" in sent.fields
    done = _DEEDS[sent.one("deed")] if part else ""
    words = f"{part.replace('.', ' ').replace('_', ' ')} {done}" if part else ""
    return doing.did(asked, sent, do, lambda told: words or _said(told), changes=shown, old=old)


def _empty(ledger: Ledger, assigned: str) -> bool:
    """Whether it takes out what is not there: a swap leaves no serial of the piece before."""
    path, _, value = assigned.partition("=")
    return not value and not held_at(ledger, CAR, place_of(path))


def _said(written: FieldsSet) -> str:
    changed = ", ".join(path for path, _, _ in written.changed)
    return f"set: {changed}" if changed else "nothing differs physically"


def _typed_fields(sent: Sent) -> list[str]:
    """PATH=VALUE of the fields that hold something else than they did on the screen."""
    told = []
    for path in sent.below("field:"):
        value = doing.measured(sent, f"field:{path}", f"unit:{path}") or ""
        if value != sent.one(f"old:{path}"):
            told.append(f"{path}={value}")
    return told
