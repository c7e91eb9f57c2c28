"""Taps on a list's items, as a phone sends them."""

from __future__ import annotations

import html
import re

from tests.page.served import Client


def open_items(one: Client, name: str) -> list[tuple[str, str]]:
    """Each open item of a list: what an act on it names, and what the screen shows of it."""
    page = one.get(one.at(f"lists/{name}")).text
    found = []
    for form in re.findall(r'<form class="item".*?</form>', page, re.DOTALL):
        what = re.search(r'name="what" value="(.*?)"', form)
        old = re.search(r'name="old" value="(.*?)"', form)
        assert what
        assert old
        found.append((html.unescape(what[1]), html.unescape(old[1])))
    return found


def tapped(one: Client, what: str, old: str, act: str, answer: str = "done") -> str:
    """The word that a tap is answered with."""
    return str(one.act("item", act, what=what, old=old, answer=answer).json["word"])
