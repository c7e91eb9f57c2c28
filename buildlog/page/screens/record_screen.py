"""Everything that is not recorded yet, thing by thing; half-done ones may stay out; one press."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from buildlog.desk.questions.check_all import look
from buildlog.desk.questions.not_recorded import NotRecorded, car_changes, not_recorded
from buildlog.page.drawing.kept_answers import kept
from buildlog.page.drawing.say import capital, counted, display, number
from buildlog.page.drawing.templating import drawn
from buildlog.records.key_words import key_words
from buildlog.report.as_text.changes_text import value_text
from buildlog.report.weight import rank

if TYPE_CHECKING:
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.page.asked import Asked

_WORDS = {
    "car": "Car", "list": "List", "fault": "Fault", "closing": "Fault closed",
    "joint": "Joints", "session": "Dyno session", "odometer": "Odometer", "wait": "Waiting for",
    "service": "Done that was due",
    "file": "File",
}  # fmt: skip
_SAID_ELSEWHERE = ("car", "file", "odometer", "wait")  # no work that a message tells
_MOST = 12  # changed fields that are shown


class Thing(NamedTuple):
    """One row to tick: its files, what it is, and who and how far."""

    paths: str
    name: str
    why: str
    ticked: bool


def page(asked: Asked) -> str:
    """What becomes the next entry."""
    book = asked.car
    found = not_recorded(book)
    changes = sorted(car_changes(book), key=lambda one: rank(one.path))
    things = [_as_before(asked, _thing(one, len(changes))) for one in found]
    ticked = sum(one.ticked for one in things)
    look_at = [one for one in kept(book, look).findings if one.severity != "note"] if found else []
    return drawn(
        "record", asked, things=things,
        said=_sentence(things, ticked, len(book.entries) + 1, sum(one.half_done for one in found)),
        ticked=ticked, lead=_LEAD if found else "", changes=[
            (key_words(one.path.replace(".", ", ")), value_text(one.old, one.path),
             value_text(one.new, one.path)) for one in changes[:_MOST]
        ], how_many=len(changes), findings=look_at, message=_message(asked, found),
        people=_people(asked, found), unit=display(book).unit("length").text,
        first=not book.entries, which=bool(book.entries) and _measured_what(things),
        stages=[one.stage for one in book.entries if one.stage], title="Record · buildlog",
        typed=asked.typed, odometer=_odometer(book), entries=_entries(book),
        corrects=asked.typed.get("corrects", asked.query.get("corrects", "")),
    )  # fmt: skip


def _measured_what(things: Sequence[Thing]) -> bool:
    """Whether pulls and changes of the car are there: only who made them knows which came first."""
    files = [path for one in things for path in one.paths.splitlines()]
    return "car.toml" in files and any(path.startswith("dyno/") for path in files)


def _as_before(asked: Asked, one: Thing) -> Thing:
    """With the tick that it had, where the form comes back."""
    if "message" not in asked.typed:
        return one
    sent = asked.typed.get("take", "").replace("\r", "")  # a browser sends its own line ends
    return one._replace(ticked=one.paths in sent.split("\n\n"))


_LEAD = "After this the entry stands for good. What was wrong is put right by a correction."


def _entries(book: Snapshot) -> list[tuple[str, str]]:
    """What may be put right: every entry, the newest first."""
    told = [(str(one.number), f"entry {one.number}, {one.subject}") for one in book.entries]
    return [("", "none"), *reversed(told)]


def _thing(one: NotRecorded, fields: int) -> Thing:
    told = list(one.by)
    if one.of:
        told.append(f"{one.done} of {one.of}" + ("; half done" if one.half_done else ""))
    about = one.about
    if one.kind == "car":
        about = counted(fields, "field", "fields") if fields else "what it is"
    elif about == ".gitattributes":
        about = "how the ledger itself is kept"
    return Thing("\n".join(one.paths), f"{_WORDS[one.kind]}: {about}", ", ".join(told),
                 not one.half_done)  # fmt: skip


def _sentence(things: list[Thing], ticked: int, entry: int, half_done: int) -> str:
    if not things:
        return "Everything is recorded."
    verb = "becomes" if ticked == 1 else "become"
    said = f"{capital(counted(ticked, 'thing', 'things'))} {verb} entry {entry}"
    out = len(things) - ticked
    word = "half-done " if out == half_done else ""
    stay = f"; {number(out)} {word}stay{'s' * (out == 1)} out" if out else ""
    return f"{said}{stay}."


def _message(asked: Asked, found: list[NotRecorded]) -> str:
    """A message to begin with: what the things are about."""
    told = [one.about for one in found if one.kind not in _SAID_ELSEWHERE and not one.half_done]
    return asked.typed.get("message", "; ".join(told[:3]))


def _people(asked: Asked, found: list[NotRecorded]) -> str:
    """Everybody who wrote one of them, and who asks."""
    people = [name for one in found for name in one.by]
    people += [asked.person] if asked.person else []
    return asked.typed.get("done_by", ", ".join(dict.fromkeys(people)))


def _odometer(book: Snapshot) -> str:
    readings = [one.odometer for one in book.entries if one.odometer]
    return readings[-1] if readings else ""
