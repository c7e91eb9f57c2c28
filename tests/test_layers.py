"""The table of layers in DEVELOPERS.md is true: a folder imports only what it names."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "buildlog"

# Libraries that belong to one place: library -> folders or modules that may import it.
ONLY_IN = {
    "dulwich": {"store"},
    "tomlkit": {"store"},
    "filelock": {"store"},
    "click": {"cli"},
    "matplotlib": {"report"},
    "pint": set(),
    "pydantic": {"records"},
}
# Slow to import as a whole; scipy.special alone is quick enough.
FORBIDDEN_SCIPY = {"stats", "optimize", "interpolate", "signal", "integrate"}


def table() -> dict[str, set[str]]:
    """Folder -> what it may import, as DEVELOPERS.md has it."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = text.split("\n## Layers\n", 1)[1].split("\n## ", 1)[0]
    rows = re.findall(r"^\| `(\w+)/?` \|(.*)\|$", section, re.MULTILINE)
    return {
        folder: {"*"} if "everything" in allowed else set(re.findall(r"`(\w+)/?`", allowed))
        for folder, allowed in rows
    }


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def layer(path: Path) -> str:
    """The folder of a module, or the module itself where it lies at the top."""
    inside = path.relative_to(PACKAGE).parts
    return inside[0] if len(inside) > 1 else path.stem


def imports(path: Path) -> Iterator[str]:
    """Dotted names of everything a file imports, wherever in the file."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: imports are written in full"
            yield node.module or ""
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def own_layers(path: Path) -> set[str]:
    """The layers of this package that a file imports from."""
    names = {name.split(".")[1] for name in imports(path) if name.startswith("buildlog.")}
    known = {p.stem for p in PACKAGE.iterdir() if p.is_dir() or p.suffix == ".py"}
    return names & known


def test_every_folder_and_module_has_its_row() -> None:
    there = {layer(path) for path in modules()} - {"__init__", "__main__"}
    assert set(table()) == there


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_file_imports_only_what_its_layer_may(path: Path) -> None:
    own = layer(path)
    allowed = {"cli"} if own in {"__init__", "__main__"} else table()[own] | {own}
    if "*" not in allowed:
        assert own_layers(path) <= allowed


def test_no_layer_is_imported_by_one_that_it_imports() -> None:
    direct = {folder: allowed - {"*"} for folder, allowed in table().items()}
    direct["cli"] = set(direct) - {"cli"}

    def reached(start: str, seen: frozenset[str] = frozenset()) -> set[str]:
        return {start}.union(*(reached(n, seen | {start}) for n in direct[start] if n not in seen))

    for folder, allowed in direct.items():
        assert all(folder not in reached(below) for below in allowed), folder


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_libraries_stay_in_their_place(path: Path) -> None:
    for name in imports(path):
        library, _, rest = name.partition(".")
        if library in ONLY_IN:
            assert layer(path) in ONLY_IN[library], f"{library} in {layer(path)}"
        if library == "scipy":
            assert rest.split(".")[0] not in FORBIDDEN_SCIPY, name


def test_a_forbidden_import_would_be_seen(tmp_path: Path) -> None:
    """The walk itself: an import inside a function counts, a comment does not."""
    file = tmp_path / "x.py"
    file.write_text("# import buildlog.store\ndef f():\n    from buildlog.store import ledger\n")
    assert own_layers(file) == {"store"}
