"""An act that may be sent again and again and happens once: whoever sends it gets one answer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from buildlog.desk.snapshot import opening
from buildlog.errors import ChangedUnderYou, InvalidInput, NotFound, UsageError
from buildlog.records.toml.toml_place import Place as Place
from buildlog.records.toml.toml_place import together as together
from buildlog.records.toml.toml_place import values_at
from buildlog.store.disk.lock import LedgerBusy
from buildlog.store.ledger.act_journal import ActKnown, ActOutcome, AnotherValue
from buildlog.store.ledger.act_journal import ActMeant as ActMeant
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.reader import Reader

W = TypeVar("W")


@dataclass(frozen=True)
class Came(Generic[W]):
    """What came of an act; `written` is its result where it was done just now."""

    outcome: ActOutcome
    written: W | None = None
    hint: str | None = None


def once(folder: Path, act: ActMeant, do: Callable[[Ledger], W]) -> Came[W]:
    """Do an act to the ledger in a folder, unless it was done: an id has one outcome for ever.

    `do` writes one working file by the act, beside others that this one names. What the desk
    refuses is an outcome, too. LedgerBusy and a disk's error are none: send it again.
    """
    with opening.ledger(folder) as ledger:
        if known := ledger.known_act(act):
            return Came(known)
        ledger.act = act
        try:
            written = do(ledger)
        except ActKnown as sent_before:
            return Came(sent_before.outcome)
        except AnotherValue as error:
            return Came(ActOutcome("question", error.what, error.path, error.old, error.now))
        except LedgerBusy:
            raise
        except (ChangedUnderYou, InvalidInput, NotFound, UsageError) as error:
            said = f"{error.where}: {error.what}" if error.where else error.what
            return Came(ledger.refuse_act(act, said), hint=error.hint)
        if ledger.act is not None:
            ledger.note_done(act)
        return Came(ActOutcome("done"), written)


def held_at(reader: Reader, path: str, *places: Place) -> str:
    """What places of a working file hold, as an act that changes them has to know it."""
    from buildlog.store.ledger.names import WORKING

    known = path in reader.working().files
    return values_at(reader.read(WORKING, path), places) if known else ""
