"""The README says what the program prints, and its two commands are there."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import Any

import pytest

README = Path(__file__).parents[1] / "README.md"


def block(marker: str) -> list[str]:
    """The lines of the fenced block behind a marker."""
    text = README.read_text("utf-8")
    match = re.search(rf"<!-- {marker} -->\n```\w*\n(.*?)```", text, re.S)
    assert match, f"README.md has no block marked {marker}"
    return match.group(1).splitlines()


def steps() -> list[tuple[str, list[str]]]:
    """Each command of the session with the output shown for it."""
    found: list[tuple[str, list[str]]] = []
    for line in block("session"):
        if line.startswith("$ buildlog "):
            found.append((line.removeprefix("$ buildlog "), []))
        elif found:
            found[-1][1].append(line)
    for _, shown in found:
        while shown and not shown[-1].strip():
            shown.pop()
    return found


@pytest.mark.parametrize(("command", "shown"), steps(), ids=[command for command, _ in steps()])
def test_the_session_is_what_the_program_prints(
    command: str, shown: list[str], demo: Path, buildlog: Any
) -> None:
    printed = iter(buildlog(*shlex.split(command), "--ledger", demo).out.splitlines())
    gap = False
    for line in shown:
        if line.strip() == "...":
            gap = True
            continue
        if gap:
            assert any(other.rstrip() == line.rstrip() for other in printed), line
        else:
            assert next(printed, "(nothing more)").rstrip() == line.rstrip()
        gap = False


def test_the_readme_opens_with_the_job_and_two_commands() -> None:
    text = README.read_text("utf-8")
    assert text.index("repository of its own") < text.index("<!-- demo -->")
    assert text.index("<!-- demo -->") < text.index("<!-- tests -->") < text.index("<!-- session")
    assert "buildlog demo" in "\n".join(block("demo"))
    assert "pytest" in "\n".join(block("tests"))


def test_its_picture_is_what_the_program_draws(demo: Path, tmp_path: Path) -> None:
    """By the words and figures in it: `python -m tests.generate_readme_picture` draws it anew."""
    from tests.generate_readme_picture import TARGET, draw

    assert f"]({TARGET.relative_to(README.parent).as_posix()})" in README.read_text("utf-8")
    draw(demo, tmp_path / "now.svg")
    kept, now = (re.findall(r">([^<>]*)</text>", one.read_text("utf-8"))
                 for one in (TARGET, tmp_path / "now.svg"))  # fmt: skip
    assert kept == now
    assert len(now) > 10


def test_the_picture_of_the_page_is_of_the_demo_of_today(demo: Path) -> None:
    """By the sentences on its screens: `python -m tests.generate_page_picture` draws it anew."""
    from PIL import Image

    from tests.generate_page_picture import TARGET, sentences

    assert f"]({TARGET.relative_to(README.parent).as_posix()})" in README.read_text("utf-8")
    with Image.open(TARGET) as kept:
        assert kept.info["Description"] == sentences(demo)
        assert kept.size == (1194, 844)


def test_the_library_stands_above_the_sixty_seconds() -> None:
    text = README.read_text("utf-8")
    assert text.index("demo-history.svg") < text.index("<!-- library -->") < text.index("<!-- ses")
