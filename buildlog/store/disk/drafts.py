"""Folders in the making, beside the place they are moved to; those of dead processes are swept."""

from __future__ import annotations

import hashlib
import os
import platform
import re
import secrets
import shutil
from pathlib import Path

_NAME = re.compile(r"\..{1,40}\.([0-9a-f]{8})\.([0-9]+)\.[0-9a-f]{8}\.part")


def name(of: str) -> str:
    """The name of a draft: it says which computer's process makes it."""
    return f".{of[:40]}.{_computer()}.{os.getpid()}.{secrets.token_hex(4)}.part"


def sweep(folder: Path) -> None:
    """Remove the drafts in a folder that dead processes of this computer left."""
    for path in folder.glob(".*.part"):
        made_by = _NAME.fullmatch(path.name)
        if made_by and made_by[1] == _computer() and not _lives(int(made_by[2])):
            if path.is_dir():
                shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink(missing_ok=True)


def _computer() -> str:
    return hashlib.sha256(platform.node().encode()).hexdigest()[:8]


def _lives(process: int) -> bool:
    """Whether a process of this computer still runs; where that cannot be asked, it does."""
    if os.name == "nt":  # there os.kill would end it
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True
