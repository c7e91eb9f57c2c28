"""What starts without what: a command loads only the libraries it works with."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from buildlog.cli.main import COMMANDS, cli

HEAVY = {"numpy", "pint", "dulwich", "matplotlib", "scipy", "pydantic", "tomlkit", "cryptography"}
PROBE = """
import json, sys
from buildlog.cli.main import run
try:
    run(json.loads(sys.argv[1]))
except SystemExit as end:
    status = end.code or 0
print()
print(json.dumps([status, sorted({name.split(".")[0] for name in sys.modules})]))
"""


def loaded(*arguments: str) -> set[str]:
    """The libraries in memory after a command, in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", PROBE, json.dumps(arguments)],
        capture_output=True, text=True, check=True, cwd=Path(__file__).parents[1],
    )  # fmt: skip
    status, names = json.loads(done.stdout.splitlines()[-1])
    assert status == 0, done.stderr
    return set(names)


@pytest.mark.parametrize("option", ["--help", "--version"])
def test_help_and_version_load_nothing_heavy(option: str) -> None:
    assert loaded(option) & HEAVY == set()


def test_history_loads_no_numpy_and_no_pydantic(demo: Path) -> None:
    found = loaded("history", "--ledger", str(demo))
    assert found & {"numpy", "pydantic", "matplotlib", "scipy", "pint"} == set()
    assert "dulwich" in found  # the probe itself sees what is loaded


def test_show_loads_no_numpy(demo: Path) -> None:
    assert loaded("show", "--ledger", str(demo)) & {"numpy", "matplotlib", "scipy", "pint"} == set()


def test_diff_loads_no_pint_and_no_matplotlib(demo: Path) -> None:
    found = loaded("diff", "stage-1", "stage-2", "--ledger", str(demo))
    assert found & {"pint", "matplotlib"} == set()
    assert "numpy" in found


def test_the_whole_help_names_every_command(buildlog) -> None:  # type: ignore[no-untyped-def]
    out = buildlog("--help").out
    for name, (_, line) in COMMANDS.items():
        assert f"  {name} " in out
        assert line.split(",")[0][:30] in out


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help(name: str, buildlog) -> None:  # type: ignore[no-untyped-def]
    outcome = buildlog(name, "--help")
    assert outcome.status == 0
    assert outcome.out.startswith(f"Usage: buildlog {name}")
    assert outcome.err == ""


@pytest.mark.parametrize("name", COMMANDS)
def test_every_subcommand_has_help(name: str, buildlog) -> None:  # type: ignore[no-untyped-def]
    import click

    context = click.Context(cli)
    command = cli.get_command(context, name)  # type: ignore[attr-defined]
    for sub in getattr(command, "commands", {}):
        outcome = buildlog(name, sub, "--help")
        assert outcome.status == 0
        assert outcome.out.startswith(f"Usage: buildlog {name} {sub}")


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_says_what_it_does(name: str) -> None:
    import click

    context = click.Context(cli)
    command = cli.get_command(context, name)  # type: ignore[attr-defined]
    assert command is not None
    commands = [command, *getattr(command, "commands", {}).values()]
    for one in commands:
        assert one.help, one.name
        for parameter in one.params:
            if isinstance(parameter, click.Option):
                assert parameter.help, f"{one.name} {parameter.name}"
