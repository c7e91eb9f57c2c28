"""mutmut in a copy of the project, without the mutants that only change wording.

Wording is a text with a blank in it, or one with figures in it: tests that pin it down would be
tests of prose. Words that the program itself reads ("good", "add", a code) are mutated.
"""

from __future__ import annotations

import json
import random
import signal
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import libcst as cst
from mutmut import __main__ as mutmut
from mutmut.mutation import mutators
from mutmut.mutation.diff_apply import get_diff_for_mutant
from mutmut.runners.harness import PytestRunner
from mutmut.state import state
from mutmut.stats import status_by_exit_code


def is_wording(node: object) -> bool:
    """Whether an expression is a text for people: "a b" and f"{a}", not "add"."""
    if isinstance(node, cst.SimpleString):
        return isinstance(node.evaluated_value, str) and " " in node.evaluated_value
    if isinstance(node, cst.BinaryOperation):
        return is_wording(node.left) or is_wording(node.right)
    if isinstance(node, cst.IfExp):
        return is_wording(node.body) or is_wording(node.orelse)
    return isinstance(node, cst.FormattedString | cst.ConcatenatedString)


def _strings(node: Any) -> Iterable[Any]:
    return () if is_wording(node) else mutators.operator_string(node)


def _assignments(node: Any) -> Iterable[Any]:
    return () if is_wording(node.value) else mutators.operator_assignment(node)


def _arguments(node: cst.Call) -> Iterable[cst.Call]:
    """Each argument dropped, or made None, but for a text and what is only shown: hint and why."""
    for mutant in mutators.operator_arg_removal(node):
        kept = {id(argument) for argument in mutant.args}
        gone = next((one for one in node.args if id(one) not in kept), None)
        shown = gone is not None and gone.keyword and gone.keyword.value in ("hint", "why")
        if gone is None or not (shown or is_wording(gone.value)):
            yield mutant


INSTEAD: dict[Callable[..., Any], Callable[..., Any]] = {
    mutators.operator_string: _strings,
    mutators.operator_assignment: _assignments,
    mutators.operator_arg_removal: _arguments,
}


_PLAIN_ARGUMENTS = PytestRunner._pytest_args_regular_run


def _quickest_first(self: PytestRunner, tests: Iterable[str]) -> list[str]:
    """Whole test functions: not every id of a parametrised one can be said on a command line."""
    seconds: dict[str, float] = {}
    for one in tests:
        name = one.partition("[")[0]
        seconds[name] = seconds.get(name, 0.0) + state().duration_by_test.get(one, 0.0)
    return _PLAIN_ARGUMENTS(self, sorted(seconds, key=lambda name: (seconds[name], name)))


class TimeOver(KeyboardInterrupt):
    """Raised in mutmut's own process when the seconds are over; it then stops as by Ctrl-C."""

    reached = False


def _interrupt(*_: object) -> None:
    TimeOver.reached = True
    raise TimeOver


def _made() -> list[str]:
    """The names of all mutants, made but not run."""
    mutmut.set_mutant_under_test("mutant_generation")
    Path("mutants").mkdir()
    with mutmut.CatchOutput():
        mutmut.copy_src_dir()
        mutmut.copy_also_copy_files()
        mutmut.setup_source_paths()
        mutmut.create_mutants(1)
    return sorted(
        name for _, name, _ in mutmut.collect_source_file_mutation_data(mutant_names=())[0]
    )


def main(sample: int, seed: int, seconds: int, answer: Path, words: list[str]) -> None:
    """Run all mutants, or so many of them drawn by `seed`, for at most so many seconds.

    `words`: only mutants whose names end in one of them ("x_added__mutmut_21").
    """
    mutators.mutation_operators[:] = [
        (kind, INSTEAD.get(operator, operator)) for kind, operator in mutators.mutation_operators
    ]
    PytestRunner._pytest_args_regular_run = _quickest_first  # type: ignore[method-assign]
    names = every = _made()
    if words:
        names = [name for name in every if name.endswith(tuple(words))]
    elif sample and sample < len(every):
        names = sorted(random.Random(seed).sample(every, sample))
    signal.signal(signal.SIGALRM, _interrupt)
    signal.alarm(seconds)
    try:
        mutmut._run(tuple(names), 1)
    except (KeyboardInterrupt, SystemExit):
        if not TimeOver.reached:  # the tests fail without any mutant
            raise
    signal.alarm(0)
    known = mutmut.collect_source_file_mutation_data(mutant_names=tuple(names))[0]
    results = {name: status_by_exit_code[code] for _, name, code in known}
    alive = [name for name, word in results.items() if word in ("survived", "no tests")]
    diffs = {name: get_diff_for_mutant(name) for name in alive}
    answer.write_text(json.dumps({"made": len(every), "results": results, "diffs": diffs}))


if __name__ == "__main__":
    count, chance, most = map(int, sys.argv[1:4])
    main(count, chance, most, Path(sys.argv[4]), sys.argv[5:])
