"""Nothing that the program answers changes while its files move from folder to folder.

Every kept call is put to it anew and compared byte for byte: exit status, standard output and
error, and all that it wrote. This binds the moving of the house alone and goes when that is
done; what stays for good is in test_ledger_of_0_1_0.py. `python -m tests.golden.keep GROUP`
keeps a group anew, for a change that is meant.

Left out, since it cannot be the same bytes everywhere: what matplotlib draws (its labels are
kept; a digest counts where the same version draws), PNG, PDF, zip and the bundle of a handover
(by name), digests and sizes of files that hold drawings, the digits of a number behind the
seventh (they follow the processor's vector units), `pack` (git's own packing, where git is
there), servers, and what only a person at a terminal is asked.
"""

from __future__ import annotations

import difflib
from pathlib import Path

import matplotlib
import pytest

from tests.golden.answers import groups, kept
from tests.golden.calls import GROUPS
from tests.golden.play import DRAWN, answered


@pytest.mark.long  # minutes for all of them
@pytest.mark.parametrize("group", groups())
def test_every_answer_is_the_kept_one(group: str, tmp_path: Path) -> None:
    meant = kept(group)
    calls = [lines[0].removeprefix("$ ") for lines in meant]
    different: list[str] = []
    for before, now in zip(meant, answered(calls, tmp_path), strict=True):
        different += difference(before, now.lines())
    assert not different, f"{group}\n" + "\n".join(different)


def difference(before: list[str], now: list[str]) -> list[str]:
    """Nothing, or the call and the lines that differ."""
    own = f"{DRAWN} {matplotlib.__version__}:"
    if any(DRAWN in line and own not in line for line in before):
        before, now = ([line for line in lines if DRAWN not in line] for lines in (before, now))
    if before == now:
        return []
    found = difflib.unified_diff(before, now, "kept", "now", n=2, lineterm="")
    return ["", before[0], *found]


def test_every_group_is_kept_and_a_difference_is_seen() -> None:
    assert groups() == sorted(GROUPS)
    assert difference(["$ x", "? 0", "| a"], ["$ x", "? 0", "| a"]) == []
    seen = difference(["$ x", "? 0", "| a"], ["$ x", "? 1", "| b"])
    assert {"-? 0", "+? 1", "-| a", "+| b"} <= set(seen)
    elsewhere = ["$ x", f"> +{DRAWN} 0.1: abc"]
    assert difference(elsewhere, ["$ x", f"> +{DRAWN} {matplotlib.__version__}: def"]) == []
