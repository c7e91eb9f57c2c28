"""The cars that are served, by their name in the address, each kept open while nothing changes."""

from __future__ import annotations

import re
import threading
from pathlib import Path

from buildlog.desk.snapshot.kept_open import KeptOpen, is_ledger
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import NotFound
from buildlog.page.shop_reading import ShopReading


class Cars:
    """A ledger, or the ledgers of a shop's folder; looked for anew when one is not known."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder.absolute()
        self.alone = is_ledger(self.folder)
        """Whether one ledger is served and no shop."""
        self.shop = ShopReading(self.folder)
        self._open = KeptOpen()
        self._lock = threading.Lock()
        self._places: dict[str, Path] = {}

    def places(self) -> dict[str, Path]:
        """Each car's folder by its name in the address, by path."""
        with self._lock:
            self._places = self._looked_for()
            return dict(self._places)

    def place(self, slug: str) -> Path:
        """A car's folder; NotFound where there is none of this name."""
        found = self._places.get(slug)
        if found is None or not is_ledger(found):
            found = self.places().get(slug)
        if found is None:
            raise NotFound(f'there is no car "{slug}" here', hint="choose one on the first page")
        return found

    def slug(self, place: Path) -> str:
        """The name in the address of a car's folder."""
        known = {path: slug for slug, path in self._places.items()}
        if place not in known:
            known = {path: slug for slug, path in self.places().items()}
        return known[place]

    def open(self, place: Path) -> Snapshot:
        """The car as it stands now."""
        return self._open.snapshot(place)

    def close(self) -> None:
        """Let go of every car."""
        self.shop.close()
        self._open.close()

    def attachment(self, place: Path, path: str) -> bytes | None:
        """The bytes of a file below attachments; None where no such file is among them."""
        from buildlog.desk.snapshot.kept_open import working_bytes

        return working_bytes(self.open(place), path)

    def state(self, place: Path) -> tuple[str, str]:
        """Head and digest of the working files: two texts that are equal while nothing changes."""
        return self._open.state(place)

    def _looked_for(self) -> dict[str, Path]:
        if self.alone:
            return {_slug(Path(self.folder.name)): self.folder}
        from buildlog.desk.questions.whole_shop import ledgers_below

        found: dict[str, Path] = {}
        for place in ledgers_below(self.folder):
            base = slug = _slug(place.relative_to(self.folder))
            number = 1
            while slug in found:
                number += 1
                slug = f"{base}-{number}"
            found[slug] = place
        return found


def address_word(folder: Path) -> str:
    """A folder's name as one label of a host name."""
    word = re.sub(r"[^a-z0-9]+", "-", folder.name.casefold()).strip("-")[:40].strip("-")
    return word or "ledger"


def _slug(path: Path) -> str:
    """A path as one word of an address: letters, digits, dots and hyphens."""
    return re.sub(r"[^a-z0-9.]+", "-", "-".join(path.parts).casefold()).strip("-.") or "car"
