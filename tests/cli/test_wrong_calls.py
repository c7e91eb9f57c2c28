"""Every command and subcommand, called wrongly in every way that can be listed (test plan F9).

The calls are worked out from the command line itself, so that a new command or option comes in
by itself. A wrong call ends in 2 with a sentence, writes nothing, and never shows a traceback.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from buildlog.cli.main import cli
from tests.conftest import Call, Outcome
from tests.counting import lines_run

Words = list[str]
FILLER = "x"  # an argument that click takes and no ledger knows


def commands(
    group: click.Group, before: tuple[str, ...] = ()
) -> Iterator[tuple[Words, click.Command]]:
    """Every command and every group by its words."""
    for name in group.list_commands(click.Context(group)):
        found = group.get_command(click.Context(group), name)
        assert found is not None
        yield [*before, name], found
        if isinstance(found, click.Group):
            yield from commands(found, (*before, name))


ALL = list(commands(cli))
LEAVES = [(words, one) for words, one in ALL if not isinstance(one, click.Group)]
GROUPS = [(words, one) for words, one in ALL if isinstance(one, click.Group)]


def arguments_of(command: click.Command) -> list[click.Argument]:
    return [one for one in command.params if isinstance(one, click.Argument)]


def options_of(command: click.Command) -> list[click.Option]:
    return [one for one in command.params if isinstance(one, click.Option)]


def filled(command: click.Command, every: bool = False) -> Words:
    """As many words as the command's arguments take at least (or at most), of a kind they take."""
    words: Words = []
    for one in arguments_of(command):
        word = one.type.choices[0] if isinstance(one.type, click.Choice) else FILLER
        words += [str(word)] * (max(one.nargs, 1) if one.required or every else 0)
    return words


def needed(command: click.Command) -> Words:
    """The options without which the command is refused before its arguments are counted."""
    return [word for one in options_of(command) if one.required for word in (one.opts[0], FILLER)]


def long_name(option: click.Option) -> str:
    return max(option.opts, key=len)


def shown(one: Words | str) -> str:
    return one if isinstance(one, str) else " ".join(one)


def misspelt(name: str) -> str:
    """An option's name with a letter too many."""
    return f"{name[:4]}q{name[4:]}"


MISSING = [words for words, one in LEAVES if any(a.required for a in arguments_of(one))]
EXTRA = [
    [*words, *filled(one, every=True), *needed(one), "one-more"]
    for words, one in LEAVES
    if all(a.nargs > 0 for a in arguments_of(one))
]
MISSPELT = [
    (
        [*words, misspelt(long_name(option)), *([] if option.is_flag else [FILLER])],
        long_name(option),
    )
    for words, one in LEAVES
    for option in options_of(one)
    if long_name(option).startswith("--")
]
NO_VALUE = [
    ([*words, *filled(one), spelling], spelling)
    for words, one in LEAVES
    for option in options_of(one)
    if not option.is_flag and not option.count
    for spelling in option.opts
]
FLAG_WITH_VALUE = [
    [*words, *filled(one), f"{long_name(option)}=x"]
    for words, one in LEAVES
    for option in options_of(one)
    if option.is_flag
]
STRICT = (click.Choice, click.IntRange, click.FloatRange, click.DateTime)
WRONG_TYPE = [
    [*words, *filled(one), long_name(option), "not-this"]
    for words, one in LEAVES
    for option in options_of(one)
    if not option.is_flag
    and (isinstance(option.type, STRICT) or option.type in (click.INT, click.FLOAT))
]
HELP = [
    [*words, *more, spelling]
    for words, one in ALL
    for more in ([], filled(one))
    for spelling in ("-h", "--help")
]
HELP = [list(one) for one in dict.fromkeys(map(tuple, HELP))]


def state(folder: Path) -> dict[str, tuple[int, int]]:
    """Every file below, its size and when it was last written."""
    return {
        str(path): (path.lstat().st_size, path.lstat().st_mtime_ns)
        for path in folder.rglob("*")
        if not path.is_dir()
    }


@pytest.fixture(scope="module")
def car(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger that all wrong calls share: that none of them writes is what is looked at."""
    return Path(shutil.copytree(demo, tmp_path_factory.mktemp("wrong") / "ledger"))


def called(buildlog: Call, words: Words, car: Path, status: int = 2) -> Outcome:
    """Call it; hold it to its status, to nothing written, to little work, to no traceback."""
    before = state(car.parent)
    with lines_run() as run:
        outcome = buildlog(*words, at=car)
    assert run.number < 200_000  # loading a command is a tenth of it, a comparison twenty times
    assert outcome.status == status, (words, outcome.out[-300:], outcome.err[-600:])
    assert state(car.parent) == before
    assert "Traceback" not in outcome.out + outcome.err
    assert "itself failed" not in outcome.err
    assert (outcome.out if status == 0 else outcome.err).strip()
    return outcome


def test_the_walk_finds_every_command_and_makes_wrong_calls_of_it() -> None:
    names = {" ".join(words) for words, _ in ALL}
    assert {"diff", "dyno add", "plan adopt", "key compromised", "shop list"} <= names
    assert len(LEAVES) >= 40
    assert all(len(kind) > 5 for kind in (MISSING, EXTRA, MISSPELT, NO_VALUE, WRONG_TYPE, HELP))


@pytest.mark.parametrize("words", MISSING, ids=" ".join)
def test_a_missing_argument(words: Words, car: Path, buildlog: Call) -> None:
    called(buildlog, words, car)


@pytest.mark.parametrize("words", EXTRA, ids=" ".join)
def test_one_argument_too_many(words: Words, car: Path, buildlog: Call) -> None:
    assert "one-more" in called(buildlog, words, car).err


@pytest.mark.parametrize(("words", "meant"), MISSPELT, ids=shown)
def test_a_misspelt_option_is_answered_with_the_right_one(
    words: Words, meant: str, car: Path, buildlog: Call
) -> None:
    said = called(buildlog, words, car).err
    assert "Did you mean" in said or "Possible options" in said
    assert meant in said


@pytest.mark.parametrize(("words", "spelling"), NO_VALUE, ids=shown)
def test_an_option_without_its_value(
    words: Words, spelling: str, car: Path, buildlog: Call
) -> None:
    assert spelling in called(buildlog, words, car).err


@pytest.mark.parametrize("words", FLAG_WITH_VALUE, ids=" ".join)
def test_a_value_where_there_is_none(words: Words, car: Path, buildlog: Call) -> None:
    called(buildlog, words, car)


@pytest.mark.parametrize("words", WRONG_TYPE, ids=" ".join)
def test_a_value_of_the_wrong_type(words: Words, car: Path, buildlog: Call) -> None:
    assert "not-this" in called(buildlog, words, car).err


@pytest.mark.parametrize("words", HELP, ids=" ".join)
def test_help_at_the_end(words: Words, car: Path, buildlog: Call) -> None:
    assert "Usage:" in called(buildlog, words, car, 0).out


@pytest.mark.parametrize(
    "words", [[*words, "no-such-command"] for words, _ in GROUPS], ids=" ".join
)
def test_a_subcommand_that_is_not_there(words: Words, car: Path, buildlog: Call) -> None:
    assert "no-such-command" in called(buildlog, words, car).err


@pytest.mark.parametrize("words", [words for words, _ in ALL], ids=" ".join)
def test_a_misspelt_command_is_answered_with_the_right_one(
    words: Words, car: Path, buildlog: Call
) -> None:
    *before, name = words
    said = called(buildlog, [*before, f"{name[:2]}q{name[2:]}"], car).err
    assert re.search(f"Did you mean (one of: )?.*['\"]{name}['\"]", said)
