"""How a sentence says a key of a file. Keys were chosen once and stay; sentences are US English."""

from __future__ import annotations

import re

_SAID = {"tyre": "tire", "tyres": "tires", "carburettors": "carburetors", "colour": "color",
         "centre": "center"}  # fmt: skip
_KEYS = re.compile(rf"\b({'|'.join(_SAID)})\b")


def key_words(key: str) -> str:
    """A key, or the names of a path set apart by blanks, in the words of a sentence.

    >>> key_words("final_drive"), key_words("tyres"), key_words("centre_of_gravity_height")
    ('final drive', 'tires', 'center of gravity height')
    """
    return _KEYS.sub(lambda found: _SAID[found.group()], key.replace("_", " "))
