"""Lines of code, files and the longest function of each folder of the program. Run by hand:

    python tests/benchmarks/count_lines.py [FOLDER]

A line of code holds a token of its own: blank lines, comments and docstrings do not count.
"""

from __future__ import annotations

import ast
import io
import sys
import tokenize
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from statistics import median, quantiles

PACKAGE = Path(__file__).parents[2] / "buildlog"
_SPACE = {
    tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT,
    tokenize.ENCODING, tokenize.ENDMARKER,
}  # fmt: skip


@dataclass(frozen=True)
class Function:
    """A function of a file, with the lines of code it holds, inner functions included."""

    place: str
    lines: int


def code_lines(text: str) -> set[int]:
    """The numbers of the lines that hold code.

    >>> sorted(code_lines('"A docstring."\\n\\nx = 1  # one\\n# no code\\ny = (\\n    2\\n)\\n'))
    [3, 5, 6, 7]
    """
    held: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type not in _SPACE:
            held.update(range(token.start[0], token.end[0] + 1))
    return held - set(_docstring_lines(ast.parse(text)))


def _docstring_lines(tree: ast.Module) -> Iterator[int]:
    """The lines of every string that stands alone: a docstring, or a constant's words."""
    for node in ast.walk(tree):
        alone = node.value if isinstance(node, ast.Expr) else None
        if isinstance(alone, ast.Constant) and isinstance(alone.value, str):
            yield from range(alone.lineno, (alone.end_lineno or alone.lineno) + 1)


def functions(path: Path) -> Iterator[Function]:
    """Every function and method of a file."""
    text = path.read_text(encoding="utf-8")
    code = code_lines(text)
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            own = code & set(range(node.lineno, (node.end_lineno or node.lineno) + 1))
            yield Function(f"{path.stem}.{node.name}", len(own))


def row(name: str, paths: list[Path]) -> str:
    """One line of the table."""
    lines = [len(code_lines(path.read_text(encoding="utf-8"))) for path in paths]
    found = [function for path in paths for function in functions(path)]
    longest = max(found, key=lambda one: one.lines, default=Function("", 0))
    return f"{name:32}{sum(lines):>8}{len(paths):>7}{longest.lines:>6}  {longest.place}"


def main(package: Path) -> None:
    """Print the table."""
    folders: dict[str, list[Path]] = {}
    for path in sorted(package.rglob("*.py")):
        folders.setdefault(str(path.parent.relative_to(package.parent)), []).append(path)
    print(f"{'folder':32}{'code':>8}{'files':>7}{'longest function':>18}")
    for name, paths in sorted(folders.items()):
        print(row(name, paths))
    everything = [path for paths in folders.values() for path in paths]
    print(row("all", everything))
    sizes = [function.lines for path in everything for function in functions(path)]
    tenth = quantiles(sizes, n=10)[-1]
    print(f"{len(sizes)} functions, median {median(sizes):g}, nine in ten at most {tenth:g} lines")


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve() if len(sys.argv) > 1 else PACKAGE)
