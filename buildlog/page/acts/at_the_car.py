"""What is seen and done at the car: faults, their remedies, work, photos."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.analysis.car.written import Written
from buildlog.desk.acts import car_fields, fault_acts
from buildlog.page.acts import doing
from buildlog.page.asked import Asked
from buildlog.page.came_of import ActAnswer
from buildlog.page.sent import Sent

if TYPE_CHECKING:
    from buildlog.desk.snapshot.opening import Ledger


def fault(asked: Asked, sent: Sent) -> ActAnswer:
    """What was seen, heard, smelt or felt."""

    def do(ledger: Ledger) -> Written:
        taken = doing.photos(ledger, sent.files("photo"), "faults")
        return fault_acts.open_fault(
            ledger, sent.needed("symptom", "what was seen, heard, smelt or felt"),
            part=sent.given("part"), codes=doing.listed(sent.one("codes")),
            odometer=doing.odometer(sent), cause=sent.given("cause"),
            holds_up=sent.one("holds") != "no", note=_with(sent.one("note"), taken),
            by=asked.person,
        )  # fmt: skip

    return doing.did(asked, sent, do, lambda written: f"written down: {written.record.message}")


def fix(asked: Asked, sent: Sent) -> ActAnswer:
    """What was done about a fault."""

    def do(ledger: Ledger) -> Written:
        taken = doing.photos(ledger, sent.files("photo"), "faults")
        return fault_acts.close_fault(
            ledger, sent.needed("what", "the fault"), remedy=sent.needed("remedy", "what was done"),
            cause=sent.given("cause"), odometer=doing.odometer(sent),
            note=_with(sent.one("note"), taken), by=asked.person,
        )  # fmt: skip

    return doing.did(asked, sent, do, lambda written: written.record.message)


def work(asked: Asked, sent: Sent) -> ActAnswer:
    """Work without physics: paint, seats, detailing."""
    item = sent.needed("item", "the work")

    def do(ledger: Ledger) -> Written:
        return car_fields.add_work(ledger, item, sent.given("done"))

    return doing.did(asked, sent, do, lambda _: f"written down: {item}")


def photo(asked: Asked, sent: Sent) -> ActAnswer:
    """Photos beside the history, without what they give away."""
    from buildlog.desk.acts.attachments import attach_photos

    files = sent.files("photo")

    def do(ledger: Ledger) -> Written:
        given = [(one.name, one.bytes()) for one in files]
        return attach_photos(ledger, given, sent.one("of"), sent.one("caption"))

    return doing.did(asked, sent, do, lambda written: f"kept: {', '.join(written.paths)}")


def _with(note: str, taken: list[str]) -> str | None:
    """A note that names its photos."""
    return "\n".join(filter(None, [note, *(f"photo: {path}" for path in taken)])) or None
