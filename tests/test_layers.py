"""The table of layers in DEVELOPERS.md is true: a folder imports only what it names."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "buildlog"

# Libraries that belong to one place: library -> floors or modules that may import it.
ONLY_IN = {
    "dulwich": {"store"},
    "tomlkit": {"records"},
    "filelock": {"store"},
    "click": {"cli"},
    "matplotlib": {"report"},
    "platformdirs": {"store"},
    "pint": {"in_pint"},
    "pydantic": {"records"},
}
# Slow to import as a whole; scipy.special alone is quick enough.
FORBIDDEN_SCIPY = {"stats", "optimize", "interpolate", "signal", "integrate"}


def table() -> dict[str, set[str]]:
    """Room -> what it may import, as DEVELOPERS.md has it."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = text.split("\n## Layers\n", 1)[1].split("\n## ", 1)[0]
    rows = re.findall(r"^\| `([\w.]+)` \|(.*)\|$", section, re.MULTILINE)
    return {room: set(re.findall(r"`([\w.]+)`", allowed)) for room, allowed in rows}


def modules() -> list[Path]:
    return sorted(path for path in PACKAGE.rglob("*.py") if path.name != "__init__.py")


def room(path: Path) -> str:
    """The folder of a module with dots, or the module itself where it lies at the top."""
    inside = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(inside[:-1]) if len(inside) > 1 else inside[0]


def imports(path: Path) -> Iterator[str]:
    """Dotted names of everything a file imports, wherever in the file."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: imports are written in full"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def dotted(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts)


NAMES = {dotted(path): path for path in modules()}


def own_modules(path: Path) -> set[str]:
    """The modules of this package that a file imports, lazily and for types alone included."""
    found = set()
    for name in imports(path):
        while name.startswith("buildlog") and name not in NAMES:
            name = name.rpartition(".")[0]
        found |= {name} & set(NAMES)
    return found


def circles(arrows: dict[str, set[str]]) -> list[list[str]]:
    """Every name that leads back to itself, with those it goes through."""
    found = []
    for start in arrows:
        reached: set[str] = set()
        front = set(arrows[start])
        while front - reached:
            reached |= front
            front = {after for name in front for after in arrows.get(name, ())}
        if start in reached:
            found.append(sorted({start} | {n for n in reached if start in arrows.get(n, ())}))
    return found


def test_every_room_and_module_has_its_row() -> None:
    there = {room(path) for path in modules()} - {"__main__"}
    assert set(table()) == there


def test_a_room_says_what_lives_there_and_what_it_may_import() -> None:
    for name, allowed in table().items():
        place = PACKAGE.joinpath(*name.split("."), "__init__.py")
        if not place.exists():
            continue
        about, _, may = (ast.get_docstring(ast.parse(place.read_text())) or "").partition("\n\n")
        assert about, name
        said = may.replace("\n", " ").removeprefix("May import").strip(" :.")
        words = set(said.split(", ")) - {"nothing"}
        assert words == allowed, name


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_file_imports_only_what_its_room_may(path: Path) -> None:
    own = room(path)
    allowed = {"cli"} if own == "__main__" else table()[own] | {own}
    assert {room(NAMES[name]) for name in own_modules(path)} <= allowed


@pytest.mark.parametrize("path", [p for p in modules() if room(p) == "cli"], ids=lambda p: p.stem)
def test_a_file_of_cli_is_a_command_or_what_commands_share(path: Path) -> None:
    """It works with click; what it asks of the program comes from the desk and a report."""
    floors = {name.partition(".")[0] for name in table()["cli"]}
    assert floors == {"desk", "report", "errors", "units", "page"}
    assert "click" in imports(path)


def test_no_room_is_imported_by_one_that_it_imports() -> None:
    assert circles(table()) == []


def test_no_file_is_imported_by_one_that_it_imports() -> None:
    arrows = {name: own_modules(path) - {name} for name, path in NAMES.items()}
    assert circles(arrows) == []


def test_a_circle_would_be_seen() -> None:
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}}) != []
    assert circles({"a": {"b", "c"}, "b": {"c"}, "c": set()}) == []


def test_file_names_are_unique() -> None:
    """Commands apart, whose files are named as they are called."""
    names = [path.stem for path in modules() if room(path) != "cli"]
    assert sorted(names) == sorted(set(names))


def test_class_names_are_unique() -> None:
    names = [
        node.name
        for path in modules()
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.ClassDef)
    ]
    assert sorted(names) == sorted(set(names))


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_libraries_stay_in_their_place(path: Path) -> None:
    for name in imports(path):
        library, _, rest = name.partition(".")
        if library in ONLY_IN:
            floor = room(path).partition(".")[0]
            assert floor in ONLY_IN[library], f"{library} in {room(path)}"
        if library == "scipy":
            assert rest.split(".")[0] not in FORBIDDEN_SCIPY, name


def test_a_forbidden_import_would_be_seen(tmp_path: Path) -> None:
    """The walk itself: an import inside a function counts, a comment does not."""
    file = tmp_path / "x.py"
    file.write_text(
        "# import buildlog.report.lines\ndef f():\n    from buildlog.store.ledger import names\n"
    )
    assert own_modules(file) == {"buildlog.store.ledger.names"}
