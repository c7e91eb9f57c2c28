"""Where in a TOML text each key stands, so that an error can name line and column.

tomllib gives values without places. This scanner follows headers, keys and the ends of
values only; it is used on texts that tomllib has already accepted.
"""

from __future__ import annotations

import re

Path = tuple[str | int, ...]
Place = tuple[int, int]  # line and column of the value, both from 1

_HEADER = re.compile(r"[ \t]*(\[\[?)([^\]\n]*)\]")
_KEY_PART = re.compile(r"""[ \t]*("(?:[^"\\\n]|\\.)*"|'[^'\n]*'|[A-Za-z0-9_-]+)[ \t]*""")


def places(text: str) -> dict[Path, Place]:
    """The place of each table, array item and value of a valid TOML text."""
    found: dict[Path, Place] = {}
    counts: dict[Path, int] = {}
    table: Path = ()
    position, line_start, line = 0, 0, 1
    while position < len(text):
        end = text.find("\n", position)
        end = len(text) if end < 0 else end
        header = _HEADER.match(text, position)
        if header:
            table = _resolve(_key(header.group(2)), counts)
            if header.group(1) == "[[":
                counts[table] = counts.get(table, -1) + 1
                table = (*table, counts[table])
            found.setdefault(table, (line, header.start(1) - line_start + 1))
        elif text[position:end].strip() and text[position:end].lstrip()[0] != "#":
            key, value_at = _key_and_value(text, position)
            found[(*table, *key)] = (line, value_at - line_start + 1)
            after = _value_end(text, value_at)
            line += text.count("\n", position, after)
            line_start = text.rfind("\n", 0, after) + 1
            end = text.find("\n", after)
            end = len(text) if end < 0 else end
        position = end + 1
        line += 1
        line_start = position
    return found


def nearest_place(found: dict[Path, Place], path: Path) -> Place | None:
    """The place of the path, else of the nearest table around it."""
    for length in range(len(path), 0, -1):
        if path[:length] in found:
            return found[path[:length]]
    return None


def _resolve(key: Path, counts: dict[Path, int]) -> Path:
    """Put the index of the newest item behind each array of tables on the way."""
    path: Path = ()
    for index, part in enumerate(key):
        path = (*path, part)
        if path in counts and index < len(key) - 1:
            path = (*path, counts[path])
    return path


def _key(text: str) -> Path:
    parts: list[str | int] = []
    position = 0
    while match := _KEY_PART.match(text, position):
        part = match.group(1)
        parts.append(part[1:-1] if part[0] in "\"'" else part)
        position = match.end()
        if position >= len(text) or text[position] != ".":
            break
        position += 1
    return tuple(parts)


def _key_and_value(text: str, position: int) -> tuple[Path, int]:
    """The (dotted) key that starts here and where its value starts."""
    parts: list[str | int] = []
    while match := _KEY_PART.match(text, position):
        part = match.group(1)
        parts.append(part[1:-1] if part[0] in "\"'" else part)
        position = match.end()
        if position < len(text) and text[position] == ".":
            position += 1
            continue
        break
    position = text.find("=", position) + 1
    while position < len(text) and text[position] in " \t":
        position += 1
    return tuple(parts), position


def _value_end(text: str, position: int) -> int:
    """Where the value that starts here ends: brackets closed, strings over."""
    depth = 0
    while position < len(text):
        character = text[position]
        if text.startswith(('"""', "'''"), position):
            position = _string_end(text, position, text[position : position + 3])
            continue
        if character in "\"'":
            position = _string_end(text, position, character)
            continue
        if character == "#":
            newline = text.find("\n", position)
            position = len(text) if newline < 0 else newline
            continue
        if character in "[{":
            depth += 1
        elif character in "]}":
            depth -= 1
        elif character == "\n" and depth <= 0:
            return position
        position += 1
    return position


def _string_end(text: str, position: int, quote: str) -> int:
    position += len(quote)
    while position < len(text):
        if quote[0] == '"' and text[position] == "\\":
            position += 2
            continue
        if text.startswith(quote, position):
            return position + len(quote)
        position += 1
    return position
