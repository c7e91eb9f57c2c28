"""One word for one thing: retired words stand in no screen, no document, no help."""

from __future__ import annotations

import ast
import json
import re
import tomllib
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path

import click
import pytest

from tests.conftest import ROOT
from tests.golden import answers
from tests.test_startup import every_command

PACKAGE = ROOT / "buildlog"
WORDS = tomllib.loads((Path(__file__).parent / "retired_words.toml").read_text("utf-8"))["word"]
# Texts beside the code that a user reads.
BESIDE = [path for ending in ("toml", "j2", "txt", "md", "css")
          for path in sorted(PACKAGE.rglob(f"*.{ending}"))
          if path.name != "words.toml"]  # fmt: skip


def said_by(path: Path) -> Iterator[tuple[int, str]]:
    """Sentences of a module by line: every string with a blank in it, f-strings put together;
    no docstrings, but those of commands, which are their help."""
    tree = ast.parse(path.read_text("utf-8"))
    silent: set[ast.AST] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr):
            silent.add(node.value)
        if isinstance(node, ast.JoinedStr):
            silent |= set(ast.walk(node)) - {node}
            parts = (v.value if isinstance(v, ast.Constant) else "{}" for v in node.values)
            yield node.lineno, "".join(map(str, parts))
    for node in ast.walk(tree):
        text = node.value if isinstance(node, ast.Constant) and node not in silent else None
        if isinstance(text, str) and " " in text.strip():
            yield node.lineno, text


def helps() -> Iterator[tuple[str, str]]:
    """Every help text, with those of its options."""
    for words, command in every_command():
        yield " ".join(words), command.help or ""
        for option in command.params:
            if isinstance(option, click.Option):
                yield f"{' '.join(words)} {option.opts[0]}", option.help or ""


def schema_words() -> Iterator[tuple[str, str]]:
    """What the schemas say of each field: an editor shows it while one types."""
    for path in (*ROOT.glob("shared/schemas/*.json"), *PACKAGE.rglob("*.schema.json")):
        for said in re.findall(r'"description": (".*")', path.read_text("utf-8")):
            yield f"{path.relative_to(ROOT)}", json.loads(said)


@cache
def everything() -> tuple[tuple[str, str], ...]:
    """Every text that reaches a user, with where it stands."""
    return tuple(_everything())


def _everything() -> Iterator[tuple[str, str]]:
    for path in sorted(PACKAGE.rglob("*.py")):
        for line, text in said_by(path):
            yield f"{path.relative_to(ROOT)}:{line}", text
    for path in BESIDE:
        for line, text in enumerate(path.read_text("utf-8").splitlines(), start=1):
            yield f"{path.relative_to(ROOT)}:{line}", values_of(path, text)
    yield from helps()
    yield from schema_words()
    for line, text in enumerate((ROOT / "README.md").read_text("utf-8").splitlines(), start=1):
        yield f"README.md:{line}", text


def values_of(path: Path, line: str) -> str:
    """Of a line of TOML what stands behind its key; a key is code, and so is a bare number."""
    if path.suffix != ".toml":
        return line
    key, equals, value = line.partition("=")
    return value if equals and '"' in value else ("" if equals or key.startswith("[") else line)


@cache
def kept_screens() -> tuple[tuple[str, str], ...]:
    """Every answer in words that is kept, line by line: what is put together from pieces."""
    return tuple(_kept_screens())


def _kept_screens() -> Iterator[tuple[str, str]]:
    for path in sorted(answers.FOLDER.glob("*.txt.xz")):
        for call, *lines in answers.kept(path.name.removesuffix(".txt.xz")):
            if "--json" not in call and "schema" not in call:
                yield from ((f"{path.stem}: {call}", line) for line in lines if line[0] in "|!")


def wrong(word: dict[str, object], texts: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    pattern = re.compile(str(word["pattern"]), re.IGNORECASE)
    but = [re.compile(one) for one in word.get("but", ())]  # type: ignore[attr-defined]
    return [
        (place, text)
        for place, text in texts
        if pattern.search(text) and not any(one.search(text) for one in but)
    ]


@pytest.mark.parametrize("word", WORDS, ids=lambda word: word["say"])
def test_a_retired_word_is_said_nowhere(word: dict[str, object]) -> None:
    assert wrong(word, everything()) == []


@pytest.mark.parametrize("word", WORDS, ids=lambda word: word["say"])
def test_a_retired_word_stands_on_no_screen(word: dict[str, object]) -> None:
    assert wrong(word, kept_screens()) == []


def test_a_retired_word_would_be_seen() -> None:
    capacity = WORDS[0]
    assert wrong(capacity, iter([("here", "the Capacity of the pump")]))
    assert not wrong(capacity, iter([("here", "its limit")]))


def test_much_is_looked_at() -> None:
    assert len(everything()) > 5000
    assert len(kept_screens()) > 10000


def test_units_are_printed_and_not_typed(buildlog, demo: Path) -> None:  # type: ignore[no-untyped-def]
    for command in ("diff stage-1 stage-2", "margins", "dyno sheet", "headroom", "show --full"):
        told = buildlog(*command.split(), at=demo).out
        outside = re.sub(r'"[^"\n]*"', "", told)
        assert not re.search(r"\b(?:lb|N|kg)\*\w|\bdeg[CF]\b", outside), command
