"""Rules of the house that a machine can check."""

from __future__ import annotations

import ast
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TOP = {
    ".ci", ".gitignore", "DEVELOPERS.md", "README.md", "buildlog", "demo_vehicle",
    "pyproject.toml", "shared", "tests",
}  # fmt: skip
# Written in pieces, so that this file does not break its own rule.
WORDS = ("seed" + " document", "tran" + "script")
MACHINE = ("/" + "work/", "/" + "tmp/", "/" + "root/", "/" + "home/", "/opt/" + "venv")


def tracked() -> list[Path]:
    """Files that git keeps, and no others: a demo's ledger or a build may lie beside them."""
    done = subprocess.run(
        ["git", "-C", str(ROOT), "-c", f"safe.directory={ROOT}", "ls-files", "-z", "--cached"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode:
        pytest.skip("not a git checkout: there is no list of the project's own files")
    paths = {ROOT / name for name in done.stdout.split("\0") if name}
    return sorted(path for path in paths if path.is_file())


def texts() -> Iterator[tuple[str, str]]:
    for path in tracked():
        data = path.read_bytes()
        if b"\0" not in data:
            yield str(path.relative_to(ROOT)), data.decode("utf-8", "replace")


def test_the_top_level_is_the_agreed_one() -> None:
    assert {path.relative_to(ROOT).parts[0] for path in tracked()} == TOP


def test_no_word_that_must_not_stand_anywhere() -> None:
    found = [
        (name, word)
        for name, text in texts()
        for word in WORDS
        if word in text.lower() or word.replace(" ", "_") in text.lower() or word in name.lower()
    ]
    assert found == []


def test_no_paths_of_one_machine() -> None:
    found = [(name, p) for name, text in texts() for p in MACHINE if p in text]
    assert found == []


@pytest.mark.parametrize("verdict", [r"\b(is|are|was) (un)?safe\b", r"\b(un)?safe to\b"])
def test_the_program_never_calls_anything_safe(verdict: str) -> None:
    pattern = re.compile(verdict, re.IGNORECASE)
    found = [
        (name, match.group())
        for name, text in texts()
        if name.startswith("buildlog/")
        for match in pattern.finditer(text)
    ]
    assert found == []


def test_no_python_file_is_too_long_to_read() -> None:
    long = [
        name
        for name, text in texts()
        if name.startswith("buildlog/") and name.endswith(".py") and text.count("\n") > 600
    ]
    assert long == []


def test_every_module_says_what_it_is_for() -> None:
    bare = [
        name
        for name, text in texts()
        if name.startswith("buildlog/") and name.endswith(".py") and not text.startswith('"""')
    ]
    assert bare == []


def test_no_two_test_files_share_a_name() -> None:
    """pytest imports them by their bare names."""
    names = [path.name for path in tracked() if path.name.startswith("test_")]
    assert sorted(set(names)) == sorted(names)


SENTENCES = {"text", "what", "why", "why_unknown", "hint", "note", "problem", "reason"}
TAKES_APART = {"startswith", "endswith", "partition", "rpartition", "removeprefix", "removesuffix",
               "split", "rsplit", "find", "index", "count"}  # fmt: skip
PATTERNS = {"match", "search", "fullmatch", "findall", "finditer", "sub"}


def is_sentence(node: ast.expr) -> bool:
    return isinstance(node, ast.Attribute) and node.attr in SENTENCES


def decided_by_a_sentence(tree: ast.AST) -> Iterator[int]:
    """Lines where a sentence of ours is taken apart, searched, or looked into for words."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            own = node.func.attr in TAKES_APART and is_sentence(node.func.value)
            if own or (node.func.attr in PATTERNS and any(map(is_sentence, node.args))):
                yield node.lineno
        if isinstance(node, ast.Compare):
            for operator, right in zip(node.ops, node.comparators, strict=True):
                inside = isinstance(operator, ast.In | ast.NotIn) and is_sentence(right)
                if inside and not is_sentence(node.left):
                    yield node.lineno


def test_nothing_is_decided_by_how_a_sentence_reads() -> None:
    """A finding is chosen by its code or a field of its own, never by its words."""
    found = [
        f"{name}:{line}"
        for name, text in texts()
        if name.startswith("buildlog/") and name.endswith(".py")
        for line in decided_by_a_sentence(ast.parse(text))
    ]
    assert found == []


@pytest.mark.parametrize(
    "planted",
    ['f.text.endswith("decide")', '"declared" in error.what', 'gate.why.removeprefix("of")',
     're.match(PATTERN, one.hint)', 'PATTERN.search(f.text)', 'x = one.note.partition(";")[0]'],
)  # fmt: skip
def test_a_decision_by_a_sentence_would_be_seen(planted: str) -> None:
    assert list(decided_by_a_sentence(ast.parse(planted))) == [1]
