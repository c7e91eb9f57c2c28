"""Who records now: the shop of the settings, the clock, and the key that signs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from buildlog.store.ledger.append import Recorder

NAMELESS = "shop without a name"


def recorder(sign: Callable[[bytes], bytes] | None = None, *, nameless: str = NAMELESS) -> Recorder:
    """The recorder of an act that happens now; `nameless` stands for a shop that has no name."""
    from buildlog.desk.snapshot import settings
    from buildlog.store.ledger.append import Recorder

    return Recorder(settings.load().shop or nameless, dt.datetime.now(dt.UTC), sign)
