"""Where a user's own files lie on this system: settings and cache, never in a ledger.

What was put elsewhere before the system's own place was asked for stays in use where it is.
"""

from __future__ import annotations

import os
from pathlib import Path

_NAME = "buildlog"


def config_file(name: str) -> Path:
    """A file of the user's configuration folder."""
    from platformdirs import user_config_path

    own = user_config_path(_NAME, appauthor=False, roaming=True)
    return _in_use(own / name, _former("XDG_CONFIG_HOME", ".config") / name)


def cache_folder() -> Path:
    """The folder for what can be worked out again."""
    from platformdirs import user_cache_path

    own = user_cache_path(_NAME, appauthor=False, opinion=False)
    return _in_use(own, _former("XDG_CACHE_HOME", ".cache"))


def state_folder() -> Path:
    """The folder for what this computer has to know again, and no ledger holds."""
    from platformdirs import user_state_path

    return user_state_path(_NAME, appauthor=False)


def outside_folder() -> Path:
    """The place for files that no ledger holds: $BUILDLOG_OUTSIDE, else of the user's own data."""
    from platformdirs import user_data_path

    named = os.environ.get("BUILDLOG_OUTSIDE")
    return Path(named) if named else user_data_path(_NAME, appauthor=False) / "outside"


def _in_use(own: Path, former: Path) -> Path:
    return former if former.exists() and not own.exists() else own


def _former(variable: str, otherwise: str) -> Path:
    """Where version 0.1.0 looked, on every system but Windows."""
    return Path(os.environ.get(variable) or Path.home() / otherwise) / _NAME
