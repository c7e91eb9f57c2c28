"""The passphrase of a signing key, asked for at the terminal."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli.common import at_terminal

if TYPE_CHECKING:
    from buildlog.desk.snapshot.signing import Ask


def asking() -> Ask | None:
    """Who is asked for a passphrase: the person at the terminal, if there is one."""
    return _passphrase if at_terminal() else None


def _passphrase(place: Path) -> str:
    return str(click.prompt(f"Passphrase of {place}", hide_input=True, err=True))
