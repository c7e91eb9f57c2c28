"""Text that may enter a ledger: visible characters only, composed the standard way.

Control characters can drive a terminal, direction marks can make a line read
differently from what it says, and two spellings of one accent make one name two.
"""

from __future__ import annotations

import unicodedata

from buildlog.errors import InvalidInput

# Cc control, Cf format (bidi, zero width), Cs surrogates, Co private use, Cn unassigned, Zl and Zp
_HIDDEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def hidden(text: str, allow: str = "") -> str | None:
    """The first character that would not show as itself, as "U+202E"; None if there is none."""
    for character in text:
        if character not in allow and unicodedata.category(character) in _HIDDEN:
            return f"U+{ord(character):04X}"
    return None


def clean(text: str, where: str, *, allow: str = "", longest: int = 1000) -> str:
    """`text` composed (NFC) and without blanks around it; InvalidInput if it hides something."""
    composed = unicodedata.normalize("NFC", text).strip()
    found = hidden(composed, allow)
    if found:
        raise InvalidInput(
            f"the text contains the invisible character {found}",
            where=where,
            hint="write it on one line with ordinary characters"
            if not allow
            else "write it with ordinary characters",
        )
    if len(composed) > longest:
        raise InvalidInput(
            f"the text has {len(composed)} characters; {longest} is the longest that is accepted",
            where=where,
            hint="shorten it, or keep the long form as a file under attachments",
        )
    return composed
