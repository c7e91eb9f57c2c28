"""What the README and the door's own text show is what comes out, on the demo."""

from __future__ import annotations

import doctest
import subprocess
import sys
from pathlib import Path

import pytest

import buildlog
from tests.test_readme import block

ROOT = Path(__file__).parents[2]
FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE


@pytest.fixture
def beside_the_demo(demo_copy: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The present folder is that in which the README's first command has run."""
    monkeypatch.chdir(demo_copy.parent)
    demo_copy.rename("demo-ledger")


def _outcome(text: str, name: str) -> doctest.TestResults:
    found = doctest.DocTestParser().get_doctest(text, {}, name, name, 0)
    assert len(found.examples) > 1
    return doctest.DocTestRunner(optionflags=FLAGS).run(found)


@pytest.mark.usefixtures("beside_the_demo")
def test_the_readmes_library_part(capsys: pytest.CaptureFixture[str]) -> None:
    lines = block("library")
    assert sum(line.startswith((">>>", "...")) for line in lines) <= 10
    assert _outcome("\n".join(lines), "README").failed == 0, capsys.readouterr().out


@pytest.mark.usefixtures("beside_the_demo")
def test_the_text_of_the_door(capsys: pytest.CaptureFixture[str]) -> None:
    assert _outcome(buildlog.__doc__ or "", "buildlog").failed == 0, capsys.readouterr().out


@pytest.mark.long
def test_uses_of_the_door_are_typed(pytestconfig: pytest.Config) -> None:
    """mypy finds nothing in the sample, and each mistake that it holds on purpose."""
    held = getattr(pytestconfig, "cache", None)  # none with -p no:cacheprovider
    cache = held.mkdir("mypy") if held else ROOT / ".mypy_cache"
    sample = ROOT / "tests" / "door" / "sample_of_uses.py"
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", "--warn-unused-ignores", "--cache-dir",
         str(cache), str(sample)], cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout
