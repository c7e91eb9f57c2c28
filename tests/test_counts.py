"""No sentence says "1 pulls": whatever holds a count takes its noun from one helper.

All files whose sentences reach a person are read: where a text is put together from a number and a
noun in the plural behind it, the number is given to `how_many`, or it cannot be one, which stands
here with the reason.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from buildlog.findings import how_many
from buildlog.report.numbers import count, freedom

HOME = Path(__file__).parents[1] / "buildlog"
ROOMS = ("analysis", "cli", "desk", "page", "rawfiles", "records", "report", "store")
# Behind a number these are verbs or belong to another word.
NO_NOUNS = {"has", "was", "this", "its", "does", "says", "less", "plus", "across", "lies", "leaves"}
# A number that is never one, or has no noun: why.
NEVER_ONE = {
    ("analysis/margins/kinds/charge/surge.py", "{len(flows)} points"): "a line has two at least",
    ("page/screens/shop_screen.py", "{number(len(cars))} cars needs somebody now."): "one is above",
    ("page/screens/shop_screen.py", "{len(cars)} cars "): "one is above",
    ("page/screens/shop_screen.py", "{len(cars)} cars"): "fewer are shown",
    ("rawfiles/joint_table.py", "{len(rows)} joints are too many for one s"): "too many",
    ("rawfiles/joint_table.py", "{len(cells)} cells stand under "): "more than there are headings",
    ("rawfiles/sanity.py", "{rows} of numbers; a curve needs som"): "the rows have their own",
    ("records/recorded_peak.py", "{self.pulls} pulls"): "the form of a trailer, read back as it is",
    ("records/toml/plain_text.py", "{len(composed)} characters; "): "too many",
    ("records/toml/toml_read.py", "{len(data)} bytes are too many for a TOML"): "too many",
    ("store/ledger/key_events.py", "{len(found) or 'no'} keys"): "the one is given back above",
    ("store/verify/check_history.py", "{len(roots)} times"): "more than once",
}  # fmt: skip


def sentences(tree: ast.AST) -> Iterator[tuple[ast.JoinedStr, bool]]:
    """Every text that is put together, and whether a condition that speaks of 1 or of a length
    stands over it."""

    def walk(node: ast.AST, guarded: bool) -> Iterator[tuple[ast.JoinedStr, bool]]:
        if isinstance(node, ast.JoinedStr):
            yield node, guarded
        if isinstance(node, ast.IfExp):
            sure = bool(re.search(r"[<>=]=? \d|< |> ", ast.unparse(node.test)))
            for child in (node.body, node.orelse):
                yield from walk(child, guarded or sure)
            return
        for child in ast.iter_child_nodes(node):
            yield from walk(child, guarded)

    yield from walk(tree, False)


def counted() -> Iterator[tuple[str, str]]:
    """Each place of a number with a plural behind it: "report/x.py", "{len(found)} joints ..."."""
    for room in ROOMS:
        for path in sorted((HOME / room).rglob("*.py")):
            for node, guarded in sentences(ast.parse(path.read_text("utf-8"))):
                if guarded:
                    continue
                for value, rest in zip(node.values, node.values[1:], strict=False):
                    if isinstance(value, ast.FormattedValue) and isinstance(rest, ast.Constant):
                        what = ast.unparse(value.value)
                        noun = re.match(r" (?:[a-z-]+ )??([a-z]{3,}s|data)\b", str(rest.value))
                        number = re.search(
                            r"^(len|sum|number)\(|count|_total$|\.(pulls|of|size|entries|cars"
                            r"|readings|dof|files|photos|rows|retorque_cycles|cycles)$|^cycles$|^(n|count|total|rows|cars)$",
                            what,
                        )
                        if noun and number and noun[1] not in NO_NOUNS:
                            if re.match(r"(capital\()?(how_many|count|counted|freedom)\(", what):
                                continue
                            yield (
                                path.relative_to(HOME).as_posix(),
                                f"{{{what}}}{str(rest.value)[:30]}",
                            )


def test_every_counted_noun_comes_from_the_helper() -> None:
    found = [one for one in counted() if one not in NEVER_ONE]
    assert found == []


def test_what_is_said_to_be_never_one_still_stands() -> None:
    assert set(NEVER_ONE) <= set(counted())


@pytest.mark.parametrize("helper", [how_many, count])
def test_one_is_one(helper) -> None:
    assert helper(1, "pull") == "1 pull"
    assert helper(0, "pull") == "0 pulls"
    assert helper(1, "entry", "entries") == "1 entry"
    assert freedom(1.0) == "1 degree of freedom"
    assert freedom(0.66) == "0.66 degrees of freedom"
