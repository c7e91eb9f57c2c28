"""TOML bytes to values, gated against what no person writes; what is wrong has its place."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from buildlog.errors import InvalidInput

LARGEST = 1 << 20
_DEEPEST = 64
_KEY_PARTS = 24
_AT = re.compile(r" \(at line (\d+), column (\d+)\)$|\(at end of document\)$")


def decode(data: bytes, name: str) -> str:
    """The text of a TOML file, gated against what no person writes."""
    if len(data) > LARGEST:
        raise InvalidInput(
            f"{len(data)} bytes are too many for a TOML file ({LARGEST} at most)",
            where=name,
            hint="keep large data under attachments",
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InvalidInput(
            "the file is not UTF-8 text", where=f"{name}, line {line}", hint="save it as UTF-8"
        ) from None
    _refuse_bombs(text, name)
    return text.replace("\r\n", "\n")


def parse_toml(data: bytes, name: str) -> dict[str, Any]:
    """The values of a TOML file; InvalidInput with line and column if it is broken."""
    text = decode(data, name)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _broken(str(error), text, name) from None
    except (RecursionError, ValueError) as error:
        raise InvalidInput(f"the file cannot be read: {error}", where=name) from None


def _refuse_bombs(text: str, name: str) -> None:
    depth = deepest = 0
    for match in re.finditer(r"[\[{\]}]", text):
        depth += 1 if match.group() in "[{" else -1
        deepest = max(deepest, depth)
    longest_key = max((line.split("=", 1)[0].count(".") for line in text.split("\n")), default=0)
    digits = max((len(run) for run in re.findall(r"\d{41,}", text)), default=0)
    for amount, most, what in (
        (deepest, _DEEPEST, "brackets inside one another"),
        (longest_key, _KEY_PARTS, "parts in one key"),
        (digits, 40, "digits in one number"),
    ):
        # A line of prose may hold many full stops: only keys count, so quotes end the search.
        if amount > most and not (what.startswith("digits") and amount <= 64):
            if what.startswith("parts") and not _has_long_key(text):
                continue
            raise InvalidInput(
                f"{amount} {what} are more than a ledger file may hold ({most})", where=name
            )


def _has_long_key(text: str) -> bool:
    return any(
        re.match(r"\s*\[{0,2}[\w\"' .-]*$", line.split("=", 1)[0].rstrip("]"))
        and line.split("=", 1)[0].count(".") > _KEY_PARTS
        and not line.lstrip().startswith("#")
        for line in text.split("\n")
    )


def _broken(message: str, text: str, name: str) -> InvalidInput:
    match = _AT.search(message)
    what = _AT.sub("", message).strip()
    if match and match.group(1):
        line, column = int(match.group(1)), int(match.group(2))
        shown = text.split("\n")[line - 1][:120]
        return InvalidInput(
            f"this is not TOML: {what[0].lower()}{what[1:]}",
            where=f"{name}, line {line}, column {column}",
            hint=f"look at: {shown.strip()}",
        )
    return InvalidInput(
        f"this is not TOML: {what[0].lower()}{what[1:]}",
        where=f"{name}, line {text.count(chr(10)) + 1}",
        hint="the end of the file is missing something: a quote or a bracket",
    )
