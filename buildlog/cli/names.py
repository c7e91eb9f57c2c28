"""Names that the shell completes: click asks for them while somebody types."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

Complete = Callable[[click.Context, click.Parameter, str], "list[CompletionItem]"]
LEDGER = "buildlog.ledger"  # of click's own notes: the folder named before the command


def note_ledger(ctx: click.Context, _: click.Parameter, value: str | None) -> None:
    """Keep what was named before the command for what completes behind it."""
    if value:
        ctx.meta[LEDGER] = value


def _known(kind: str, behind: str, ctx: click.Context, _: Any, typed: str) -> list[CompletionItem]:
    """The ledger's names that begin so; none where there is no ledger, whatever the reason."""
    from pathlib import Path

    from click.shell_completion import CompletionItem

    from buildlog.desk.questions.known_names import known_names
    from buildlog.desk.snapshot import opening

    folder = ctx.params.get("ledger_folder") or ctx.meta.get(LEDGER)
    try:
        reader = opening.reader(Path(folder) if folder else None)
        found = known_names(reader, kind)
    except Exception:  # a half-typed line is never answered with an error
        return []
    return [CompletionItem(name + behind, help=words) for name, words in found
            if name.startswith(typed)]  # fmt: skip


def _figures(ctx: click.Context, _: Any, typed: str) -> list[CompletionItem]:
    from click.shell_completion import CompletionItem

    from buildlog.report.as_text.explain_text import names

    return [CompletionItem(name) for name in names() if name.startswith(typed)]


version: Complete = partial(_known, "version", "")
session: Complete = partial(_known, "session", "")
plan: Complete = partial(_known, "plan", "")
checklist: Complete = partial(_known, "list", "")
item: Complete = partial(_known, "item", "")
fault: Complete = partial(_known, "fault", "")
key: Complete = partial(_known, "key", "")
field: Complete = partial(_known, "field", "")
assignment: Complete = partial(_known, "field", "=")
part: Complete = partial(_known, "part", "")
joint: Complete = partial(_known, "joint", "")
unrecorded: Complete = partial(_known, "unrecorded", "")
staff: Complete = partial(_known, "staff", "")
sheet: Complete = partial(_known, "sheet", "")
figure: Complete = _figures
