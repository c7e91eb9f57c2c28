"""Programs of the system that are started by name."""

from __future__ import annotations

import os
import shutil


def program(*names: str) -> str | None:
    """Where the first of these that is installed lies; None where none is.

    Windows looks in the present folder before anywhere else, and a PATH may name it: what lies
    there may have come with somebody's ledger, and is never started.
    """
    folders = [one for one in os.environ.get("PATH", "").split(os.pathsep) if os.path.isabs(one)]
    found = (shutil.which(name, path=os.pathsep.join(folders)) for name in names)
    return next((place for place in found if place and os.path.isabs(place)), None)
