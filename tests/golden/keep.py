"""Keep today's answers: `python -m tests.golden.keep [GROUP...]`; without one, all groups.

At the end it says which commands and options no kept call uses.
"""

from __future__ import annotations

import shlex
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import click

from tests.golden.answers import groups, kept, save
from tests.golden.calls import GROUPS, leaves
from tests.golden.play import answered


def main(wanted: list[str]) -> None:
    for group in wanted or list(GROUPS):
        began = time.perf_counter()
        with tempfile.TemporaryDirectory() as base:
            answers = list(answered(GROUPS[group](), Path(base)))
        size = save(group, answers)
        spent = time.perf_counter() - began
        print(f"{group}: {len(answers)} calls, {size:,} bytes, {spent:.1f} s", flush=True)
    print("not asked:", *not_asked(), sep="\n  ")


def not_asked() -> Iterator[str]:
    """Commands, and options of commands, that occur in no kept call."""
    calls = [f"{lines[0][2:]} " for group in groups() for lines in kept(group)]
    for name, command in leaves():
        own = [shlex.split(call) for call in calls if f"{name} " in call and "--help" not in call]
        if not own:
            yield name
        words = {word.partition("=")[0] for call in own for word in call}
        for option in command.params:
            if own and isinstance(option, click.Option) and not words & {*option.opts, "--help"}:
                yield f"{name} {option.opts[0]}"


if __name__ == "__main__":
    main(sys.argv[1:])
