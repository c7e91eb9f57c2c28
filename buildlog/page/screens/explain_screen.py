"""What a word or a figure means, its formula, its source, what it does not say."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from urllib.parse import quote

from buildlog.page.drawing.say import Ruled, capital, counted, sentence
from buildlog.page.drawing.templating import drawn
from buildlog.report.as_text.explain_text import Explanation, explained, names

if TYPE_CHECKING:
    from buildlog.page.asked import Asked

_PARTS = (("formula", "Formula"), ("unit", "Unit"), ("source", "Source"), ("typical", "Typical"),
          ("close", "Close within"), ("says_not", "Does not say"))  # fmt: skip


def page(asked: Asked) -> str:
    """One of them, or the list of all."""
    if asked.name is None:
        word = asked.query.get("word", "").strip()
        found_names = [one for one in names() if word.casefold() in one.casefold()]
        rows = [Ruled(one, asked.at(f"/explain/{quote(one, safe='')}"))
                for one in sorted(found_names, key=str.casefold)]  # fmt: skip
        return drawn("words", asked, said=_found(word, len(rows)), rows=rows, word=word,
                     title="Words · buildlog")  # fmt: skip
    found = explained(asked.name)
    facts = [
        Ruled(name, "", "", sentence(text))
        for key, name in _PARTS
        if (text := getattr(found, key)) is not None
    ]
    return drawn("word", asked, said=f"{capital(found.name)}: {_meaning(found)}",
                 rows=facts, title=f"{found.name} · buildlog")  # fmt: skip


def _found(word: str, count: int) -> str:
    if not word:
        return "Which word or figure?"
    return capital(f"{counted(count, 'word has', 'words have')} “{word}”.")


def _meaning(found: Explanation) -> str:
    """As print has it: what is typed stands in quotes."""
    return sentence(re.sub(r"`(.+?)`", "“\\1”", found.meaning))
