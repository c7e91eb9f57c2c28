"""What went wrong, in the words in which the desk says it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.page.came_of import hint_here
from buildlog.page.drawing.say import sentence
from buildlog.page.drawing.templating import drawn

if TYPE_CHECKING:
    from buildlog.errors import BuildlogError
    from buildlog.page.asked import Asked


def page(asked: Asked, status: int, error: BuildlogError) -> str:
    """One sentence saying what is wrong, where, why it matters, what to do."""
    hint = hint_here(error.hint)
    lead = "There is no such sheet." if status == 404 else "Nothing was changed."
    return drawn(
        "said", asked, said=sentence(error.what), lead=lead, where=error.where or "",
        why=sentence(error.why) if error.why else "", hint=hint and sentence(hint),
        title="Not done · buildlog",
    )  # fmt: skip
