"""What is recorded of what was written, approved by who may; a new car's ledger."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from buildlog.analysis.car.written import Recorded
from buildlog.desk.acts.record import EntrySaid, approval, record
from buildlog.errors import InvalidInput
from buildlog.page.acts import doing
from buildlog.page.asked import Asked
from buildlog.page.came_of import ActAnswer
from buildlog.page.sent import Sent, plain_file_name

if TYPE_CHECKING:
    from buildlog.desk.snapshot.opening import Ledger


def record_them(asked: Asked, sent: Sent) -> ActAnswer:
    """The chosen files as one entry; approved, where who may says so."""
    if sent.one("approve") == "yes":
        return approve(asked, sent)
    return _recorded(asked, sent, _said_of(asked, sent))


def approve(asked: Asked, sent: Sent) -> ActAnswer:
    """The same, approved by who does it; or an entry that is recorded already, by its number."""
    if not asked.may("approve"):
        raise InvalidInput("this device may not approve", hint="record it, and let it be approved")
    if asked.person is None:
        raise InvalidInput("nobody is named here who could approve", hint="pair with a person")
    if name := sent.given("what"):
        return _approved(asked, sent, name)
    return _recorded(asked, sent, replace(_said_of(asked, sent), approved_by=asked.person))


def _approved(asked: Asked, sent: Sent, name: str) -> ActAnswer:
    def do(ledger: Ledger) -> Recorded:
        return record(ledger, approval(ledger, name, asked.person, sent.one("message")))

    return doing.did(asked, sent, do, _entry)


def _said_of(asked: Asked, sent: Sent) -> EntrySaid:
    return EntrySaid(
        sent.needed("message", "what was done"),
        notes=sent.one("notes"),
        kind=None if sent.given("corrects") else sent.given("kind"),
        stage=sent.given("stage"),
        odometer=doing.odometer(sent),
        odometer_note=sent.given("odometer_note"),
        done_by=sent.given("done_by") or asked.person,
        corrects=sent.given("corrects"),
        session_is_new=sent.one("session_is_new") == "yes",
        only=tuple(_taken(sent)),
    )


def _taken(sent: Sent) -> list[str]:
    """The ticked paths, one a line; InvalidInput where nothing is."""
    found = [path for one in sent.all("take") for path in one.splitlines() if path.strip()]
    if not found:
        raise InvalidInput("nothing is ticked", hint="tick what becomes the entry")
    return found


def _recorded(asked: Asked, sent: Sent, said: EntrySaid) -> ActAnswer:
    def do(ledger: Ledger) -> Recorded:
        return record(ledger, said)

    return doing.did(asked, sent, do, _entry)


def _entry(done: Recorded) -> str:
    entry = done.entry
    return f"recorded as entry {entry.number}, {entry.id[:8]}" if entry else "nothing was recorded"


def accept(asked: Asked, sent: Sent) -> ActAnswer:
    """A plan's quote accepted by the customer."""
    from buildlog.desk.acts.promises_kept import accept_plan

    plan, how = sent.needed("what", "the plan"), sent.needed("how", "how it was accepted")
    on = doing.day(sent, "on")

    def do(ledger: Ledger) -> str:
        return accept_plan(ledger, plan, how, by=sent.given("by") or asked.person, date=on)[0]

    return doing.did(asked, sent, do, lambda name: f"accepted: {name}")


def new_car(asked: Asked, sent: Sent) -> ActAnswer:
    """A ledger in a folder of its own, below the shop's."""
    from buildlog.desk.acts.new_car import NewCar, start

    if asked.cars.alone:
        raise InvalidInput(
            "one car is served here, and no shop", hint="serve the folder that holds the cars"
        )
    name = sent.needed("name", "what the car is called")
    folder = plain_file_name(sent.one("folder") or name).casefold()
    year = sent.one("year")
    if year and not year.isdecimal():
        raise InvalidInput(f'"{year}" is not a year', hint="write it as 1994")
    car = NewCar(name, int(year) if year else None, sent.given("vin"), sent.given("power_source"))
    place = asked.folder / folder
    start(place, car, units=sent.given("units"))
    return ActAnswer("done", f"begun: {name}", path=f"/car/{asked.cars.slug(place)}/")
