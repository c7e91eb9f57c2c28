"""The questions that people bring, each answered at the first try by who reads `--help` alone."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.conftest import Call

# What somebody looks for in the help; the command that stands on that line, as it is typed on the
# demo ("" where it is typed as it stands); what the first lines of the answer say.
QUESTIONS = [
    ("where each car stands", "shop list {shop}", r"\d+ cars?: \d+ held up"),
    ("what was promised", "", r"(Promised and delivered|Predicted and measured)"),
    ("should this computer die", "sync {stick} --dry-run", r"would|16 entries|copy"),
    ("what to do now", "", r"^next: ready for the dyno"),
    ("put right what was entered", "record --kind correction --corrects 5 -m x --dry-run",
     r"corrects|nothing|entry 5"),
    ("why a file is refused", "", r"^\d+ files read"),
    ("what was done, and", "", r"Your car now makes|the difference is too small"),
    ("what is close to its limit", "", r"^tightest: "),
    ("what leaves with the car", "handover {stick} --dry-run", r"^leaves: .*\n(?:.*\n)*stays: "),
    ("history complete and unaltered", "", r"^consistent: "),
    ("against how it came", "", r"measured gain \+66 ± 17 hp"),
    ("what else must change", "plan compare", r"no plans|plan new"),
]  # fmt: skip


def lines_of(buildlog: Call, at: Path) -> list[str]:
    return [line.strip() for line in buildlog("--help", at=at).out.splitlines()]


@pytest.mark.parametrize(("sought", "typed", "answer"), QUESTIONS, ids=[q[0] for q in QUESTIONS])
def test_a_question_is_answered_from_the_help_alone(
    sought: str, typed: str, answer: str, demo: Path, tmp_path: Path, buildlog: Call
) -> None:
    (line,) = [one for one in lines_of(buildlog, tmp_path) if sought in one]
    command = re.split(r"\s{2,}", line)[0].removeprefix("buildlog ")
    (tmp_path / "stick").mkdir()
    whole = (typed or command).format(shop=demo.parent, stick=tmp_path / "stick")
    assert whole.split()[0] == command.split()[0]
    done = buildlog(*whole.split(), at=demo)
    assert re.search(answer, f"{done.out}\n{done.err}", re.MULTILINE), done.out[:800] + done.err


def test_the_twelve_are_all_asked() -> None:
    assert len({sought for sought, _, _ in QUESTIONS}) == 12
