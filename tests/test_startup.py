"""What starts without what: a command loads only the libraries it works with."""

from __future__ import annotations

import json
import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import click
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
    context = click.Context(cli, **cli.context_settings)
    command = cli.get_command(context, name)  # type: ignore[attr-defined]
    for sub in getattr(command, "commands", {}):
        outcome = buildlog(name, sub, "--help")
        assert outcome.status == 0
        assert outcome.out.startswith(f"Usage: buildlog {name} {sub}")


def every_command() -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """Every command and group below the first, by the words that call it."""
    waiting: list[tuple[tuple[str, ...], click.Command]] = [((), cli)]
    for words, command in waiting:
        if words:
            yield words, command
        if isinstance(command, click.Group):
            context = click.Context(command, **cli.context_settings)
            for name in command.list_commands(context):
                inner = command.get_command(context, name)
                assert inner is not None
                waiting.append(((*words, name), inner))


def examples(command: click.Command) -> list[str]:
    """The example lines of a help, a broken line put together."""
    paragraphs = (command.help or "").replace("\\\n", " ").split("\n\n")
    blocks = [block for block in paragraphs if block.lstrip().startswith("\b")]
    return [
        line.strip()
        for block in blocks
        for line in block.replace("\b", "").splitlines()
        if line.strip().startswith("buildlog ")
    ]


EVERY = [pytest.param(*pair, id=" ".join(pair[0])) for pair in every_command()]


@pytest.mark.parametrize(("words", "command"), EVERY)
def test_every_help_has_an_example_that_parses(
    words: tuple[str, ...], command: click.Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each stands behind the first sentence and goes through the parser as it is typed."""
    monkeypatch.chdir(tmp_path)
    assert (command.help or "").split("\n\n")[1:], "nothing but a sentence"
    assert (command.help or "").split("\n\n")[1].lstrip().startswith("\b")
    found = examples(command)
    assert found
    for line in found:
        typed = shlex.split(line)[1:]
        assert tuple(typed[: len(words)]) == words
        for file in typed[len(words) :] if words == ("attach",) else ():
            (tmp_path / file).parent.mkdir(exist_ok=True)
            (tmp_path / file).touch()
        parse(typed)


def parse(typed: list[str]) -> None:
    """The words through the parsers of the commands that they name; nothing is run."""
    command: click.Command = cli
    context = click.Context(cli, **cli.context_settings)
    while isinstance(command, click.Group):
        inner = command.get_command(context, typed[0])
        assert inner is not None, typed[0]
        command, context, typed = inner, click.Context(inner, parent=context), typed[1:]
    command.make_context(command.name or "", list(typed), parent=context.parent)


def test_a_wrong_example_would_be_noticed() -> None:
    with pytest.raises(click.NoSuchOption):
        parse(["diff", "--nonesuch"])
    with pytest.raises(click.UsageError):
        parse(["diff", "1", "2", "3"])


@pytest.mark.parametrize(("words", "command"), EVERY)
def test_every_help_is_eighty_wide(
    words: tuple[str, ...], command: click.Command, buildlog
) -> None:  # type: ignore[no-untyped-def]
    out = buildlog(*words, "--help").out
    assert [line for line in out.splitlines() if len(line) > 80] == []


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_says_what_it_does(name: str) -> None:
    context = click.Context(cli, **cli.context_settings)
    command = cli.get_command(context, name)  # type: ignore[attr-defined]
    assert command is not None
    commands = [command, *getattr(command, "commands", {}).values()]
    for one in commands:
        assert one.help, one.name
        for parameter in one.params:
            if isinstance(parameter, click.Option):
                assert parameter.help, f"{one.name} {parameter.name}"
