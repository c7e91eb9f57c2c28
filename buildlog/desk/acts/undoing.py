"""The last tap taken back, while nobody changed the same and nothing was recorded of it."""

from __future__ import annotations

from buildlog.analysis.car.written import RecordWith, Written
from buildlog.desk.acts import working_files
from buildlog.errors import ChangedUnderYou, InvalidInput, NotFound
from buildlog.records.toml.toml_place import put_back
from buildlog.store.git.ledger_files import CAPTION
from buildlog.store.ledger.act_journal import ActTrace, digest_of
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import WORKING


def undo(ledger: Ledger, act: str) -> Written:
    """Put back what an act changed, or take away the file that it made."""
    trace = ledger.journal.undoable(act)
    if trace is None:
        raise NotFound("this act was not done here, so there is nothing to undo")
    if trace.made and not trace.places:
        _take_away(ledger, trace)
    elif trace.places:
        working_files.change(
            ledger, trace.path, lambda data: put_back(data, trace.places, trace.was),
            places=trace.places,
        )  # fmt: skip
    else:
        raise InvalidInput(
            "this cannot be undone by itself", hint="buildlog discard, or correct it"
        )
    return Written((trace.path,), RecordWith("..."))


def _take_away(ledger: Ledger, trace: ActTrace) -> None:
    known = ledger.entries()
    if known and trace.path in ledger.files(known[-1]):
        raise InvalidInput("it is recorded already", hint="a correction says what was wrong")
    if trace.path.startswith("dyno/"):
        raise InvalidInput("a session goes with all its files", hint="buildlog discard")
    if trace.path not in ledger.working().files:
        raise NotFound("the file is gone already")
    if digest_of(ledger.read(WORKING, trace.path)) != trace.after:
        raise ChangedUnderYou("somebody has changed it since", where=trace.path)
    _take_photo_away(ledger, trace.path)
    ledger.remove_working(trace.path, trace.after)


def _take_photo_away(ledger: Ledger, path: str) -> None:
    """The photo that a caption was written of goes with it."""
    photo = path.removesuffix(CAPTION)
    if photo != path and photo in ledger.working().files:
        with working_files.beside_the_act(ledger):
            ledger.remove_working(photo, digest_of(ledger.read(WORKING, photo)))
