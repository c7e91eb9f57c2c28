"""Links for a screen in the shop: what they show and until when; their words are kept nowhere."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import secrets
import threading
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from buildlog.desk.snapshot import state_files
from buildlog.errors import InvalidInput

LONGEST_DAYS = 92


@dataclass(frozen=True)
class CustomerLink:
    """One stage of one car, with the photos that were chosen, until the end of a day."""

    slug: str
    stage: str
    until: str
    photos: tuple[str, ...] = ()


class CustomerLinks:
    """The links of one served folder, in a file of this computer alone."""

    def __init__(self, place: Path) -> None:
        self._place, self._lock = place, threading.Lock()

    def make(self, slug: str, stage: str, until: dt.date, photos: Sequence[str] = ()) -> str:
        """The words of a new link. InvalidInput where its end is past or far away."""
        today = dt.date.today()
        if not today <= until <= today + dt.timedelta(days=LONGEST_DAYS):
            raise InvalidInput(
                f"a link cannot end on {until}", hint=f"a day within {LONGEST_DAYS} days"
            )
        word = secrets.token_urlsafe(24)
        with self._lock:
            known = self._read()
            known[_digest(word)] = CustomerLink(slug, stage, str(until), tuple(photos))
            told = {key: asdict(one) for key, one in known.items() if one.until >= str(today)}
            state_files.write(self._place, json.dumps(told, indent=1).encode())
        return word

    def of(self, word: str) -> CustomerLink | None:
        """What a link shows; None where it has ended or was never made."""
        found = self._read().get(_digest(word))
        return found if found and found.until >= str(dt.date.today()) else None

    def _read(self) -> dict[str, CustomerLink]:
        data = state_files.read(self._place)
        try:
            told = json.loads(data) if data else {}
            return {key: CustomerLink(**{**one, "photos": tuple(one["photos"])})
                    for key, one in told.items()}  # fmt: skip
        except (ValueError, TypeError, KeyError, AttributeError):
            return {}  # torn: the links are made anew


def _digest(word: str) -> str:
    return hashlib.sha256(word.encode("utf-8", "replace")).hexdigest()
