"""Notes of the day: the odometer, what the car waits for; and the last tap taken back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.desk.acts.day_notes_made import end_wait, note_odometer, wait_for
from buildlog.desk.acts.due_acts import do_due
from buildlog.desk.acts.undoing import undo
from buildlog.errors import InvalidInput
from buildlog.page.acts import doing

if TYPE_CHECKING:
    from buildlog.analysis.car.written import Written
    from buildlog.desk.snapshot.opening import Ledger
    from buildlog.page.asked import Asked
    from buildlog.page.came_of import ActAnswer
    from buildlog.page.sent import Sent


def odometer(asked: Asked, sent: Sent) -> ActAnswer:
    """What the odometer shows now."""
    reading = doing.odometer(sent, "value")
    if reading is None:
        raise InvalidInput("the reading is missing", hint="type what the odometer shows")

    def do(ledger: Ledger) -> Written:
        return note_odometer(
            ledger, reading, source=sent.given("source"), note=sent.given("note"), by=asked.person
        )

    return doing.did(asked, sent, do, lambda _: f"odometer {reading}")


def waiting(asked: Asked, sent: Sent) -> ActAnswer:
    """What the car waits for, or, with `done`, that it came."""

    def do(ledger: Ledger) -> Written:
        if ends := sent.given("done"):
            return end_wait(ledger, ends, note=sent.given("note"), by=asked.person)
        return wait_for(
            ledger, sent.needed("for", "what it waits for"),
            sent.one("waits").replace("outside-work", "outside work") or None,
            since=doing.day(sent, "since"), expected=doing.day(sent, "expected"),
            note=sent.given("note"), by=asked.person,
        )  # fmt: skip

    return doing.did(asked, sent, do, lambda written: written.record.message)


def due_done(asked: Asked, sent: Sent) -> ActAnswer:
    """A thing that comes due was done; its interval begins anew."""
    what = sent.needed("what", "the thing that was due")

    def do(ledger: Ledger) -> Written:
        return do_due(
            ledger, what, odometer=doing.odometer(sent, "value"), who=asked.person,
            note=sent.given("note"),
        )  # fmt: skip

    return doing.did(asked, sent, do, lambda written: written.record.message)


def undo_last(asked: Asked, sent: Sent) -> ActAnswer:
    """What an act of this phone did, put back as it was."""
    of = sent.needed("what", "the act")

    def do(ledger: Ledger) -> Written:
        return undo(ledger, of)

    return doing.did(asked, sent, do, lambda _: "undone", old=f"after:{of}")


def discard_them(asked: Asked, sent: Sent) -> ActAnswer:
    """What is not recorded taken out of the folder, and kept for a week."""
    from buildlog.desk.acts.discarding import Discarded, discard

    names = [path for one in sent.all("take") for path in one.splitlines() if path.strip()]
    if not names:
        raise InvalidInput("nothing is ticked", hint="tick what is to be taken out")

    def do(ledger: Ledger) -> Discarded:
        return discard(ledger, names)

    return doing.did(asked, sent, do, lambda done: f"taken out: {len(done.things)}")
