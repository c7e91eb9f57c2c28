"""The program names fields of its records by paths that exist: checked at the import where it reads
by them, checked here where it only speaks of them."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest

from buildlog.desk.opened_car import OpenedCar
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import field, table
from buildlog.records.paths import fields, model_in
from buildlog.records.session import Session
from buildlog.report import weight
from buildlog.report.as_text import changes_text

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "buildlog"
MODELS = (Configuration, Session)
TABLES = {name for model in MODELS for path in fields(model) for name in path.split(".")[:-1]}
TABLES = {name.removesuffix("[]") for name in TABLES}
TOPS = {n for m in MODELS for n, i in m.model_fields.items() if model_in(i.annotation)}

# What makes a checked path of a string, at the top of a module.
CHECKS = {"field", "table", "field_paths", "session_field", "of_session", "stated_limit", "_all",
          "_paths"}  # fmt: skip
# Where paths stand as they are, because a command that starts with them would load the models;
# they are checked below. Of the margins it is the cars of their worked examples.
UNCHECKED = (
    "cli/dyno_add.py",
    "desk/questions/whole_shop.py",
    "report/weight.py",
    "analysis/margins/kinds/",
    "page/acts/at_the_dyno.py",  # the page knows the desk alone
    "records/paths.py",
    "records/key_words.py",
    "report/as_text/changes_text.py",
)
NOT_PATHS = ("analysis/margins/margin_table.py",)  # modules, named after what margins are about
FILES = {"car.toml", "session.toml"}
BY_CHANNEL = "column."  # of a raw file: the channel follows that it holds
PATH = re.compile(r"(?P<table>[a-z_]+)(\[\])?\.[a-z0-9_.\[\]]*")
FILE = re.compile(r".*\.(toml|json|part)")
NAMED = re.compile(rf"(?<![\w./\"<-])((?:{'|'.join(sorted(TOPS))})(?:\.[a-z_0-9]+)+)")


class Named(NamedTuple):
    """A string that looks like a path, and whether the import checks it."""

    file: str
    line: int
    path: str
    checked: bool


def strings(tree: ast.Module) -> Iterator[tuple[ast.Constant, bool]]:
    """The strings of a module without its docstrings, and which the import checks."""
    left: list[tuple[ast.AST, bool, bool]] = [(tree, False, False)]
    while left:
        node, checked, inside = left.pop()
        if isinstance(node, ast.Call) and not inside:
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
            checked = checked or name in CHECKS
        inside = inside or isinstance(node, ast.FunctionDef | ast.Lambda)
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node, checked
        children = (one for one in ast.iter_child_nodes(node) if not _is_docstring(one))
        left += [(child, checked, inside) for child in children]


def _is_docstring(node: ast.AST) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def named(found: Iterable[tuple[ast.Constant, bool]], file: str) -> Iterator[Named]:
    """The strings that are paths, or the beginning of one that is put together."""
    for node, checked in found:
        text = str(node.value)
        path = PATH.fullmatch(text)
        other = FILE.fullmatch(text) or text == BY_CHANNEL
        if path and path["table"] in TABLES and not other:
            yield Named(file, node.lineno, text, checked)


@cache
def modules() -> dict[str, list[tuple[ast.Constant, bool]]]:
    """The strings of every module that may name a path."""
    found = {p.relative_to(PACKAGE).as_posix(): p for p in sorted(PACKAGE.rglob("*.py"))}
    return {
        file: list(strings(ast.parse(path.read_text(encoding="utf-8"))))
        for file, path in found.items()
        if file not in NOT_PATHS
    }


@cache
def all_named() -> tuple[Named, ...]:
    return tuple(one for file, found in modules().items() for one in named(found, file))


def planted(text: str) -> list[bool]:
    return [one.checked for one in named(strings(ast.parse(text)), "planted.py")]


def exists(path: str) -> bool:
    """Whether some record has this field or table; items may leave out their brackets."""
    return path in known()


@cache
def known() -> set[str]:
    found: set[str] = set()
    for path in (path for model in MODELS for path in fields(model)):
        names = path.replace("[]", "").split(".")
        found |= {".".join(names[:n]) for n in range(1, len(names) + 1)}
    return found


def test_every_path_is_checked_at_the_import() -> None:
    found = all_named()
    assert sum(one.checked for one in found) > 150  # so that the search itself is known to see them
    assert [one for one in found if not one.checked and not one.file.startswith(UNCHECKED)] == []


def test_those_that_are_not_exist() -> None:
    left = [one for one in all_named() if not one.checked]
    assert {one.file for one in left if one.file.startswith(UNCHECKED[:3])} == set(UNCHECKED[:3])
    assert [one for one in left if not exists(one.path)] == []


@pytest.mark.parametrize(
    "line",
    [
        'def f(car):\n    return value(car, "fuel.pump.flow")',
        'def f(car, n):\n    return value(car, f"fuel.pump.{n}")',
        'FLOW = "fuel.pump.flow"',
        'def f(car):\n    return value_at(car, field("fuel.pump.flow"))',
        'LOOKED_AT = ("boost.target_gauge",)',
        'def f(session):\n    yield Finding("c", "note", "t", ("pull[].keep",))',
    ],
)
def test_a_planted_string_is_seen(line: str) -> None:
    assert planted(line) == [False]


def test_a_checked_one_is_let_pass() -> None:
    line = 'from x import field\nFLOW = field("fuel.pump.flow")\nFILE = "session.toml"\n'
    assert planted(line) == [True]


def texts() -> Iterator[tuple[str, str]]:
    """Everything the program can say: its strings, its lists and explanations, the README."""
    for file, found in modules().items():
        yield from ((f"{file}:{node.lineno}", str(node.value)) for node, _ in found)
    others = (*PACKAGE.rglob("*.toml"), *PACKAGE.rglob("*.j2"), *ROOT.glob("*.md"))
    yield from ((str(path), path.read_text(encoding="utf-8")) for path in others)


def test_every_field_that_a_text_names_exists() -> None:
    found = [(where, name.rstrip(".")) for where, text in texts() for name in NAMED.findall(text)]
    assert len(found) > 300
    library = {f"car.{name}" for name in dir(OpenedCar)}  # what a script calls an opened car
    known = FILES | library
    wrong = [(w, name) for w, name in found if name not in known and not exists(name)]
    assert wrong == []


def test_the_ranking_of_a_short_screen_is_of_fields() -> None:
    """One list says what stands first; that its fields exist and say most is seen here."""
    for path in weight._FIRST:
        assert field(path) == path
    assert len(set(weight._FIRST)) == len(weight._FIRST)
    names = {name for path in fields(Configuration) for name in path.split(".")}
    assert names >= weight._DETAILS
    assert {*changes_text._TELLING} <= {path.rpartition(".")[2] for path in fields(Configuration)}


def test_tables_are_told_from_fields() -> None:
    assert exists("engine") and exists("engine.bore") and exists("pull.keep")  # noqa: PT018
    assert not exists("engine.bor") and not exists("engin")  # noqa: PT018
    assert table("engine") == "engine"
