"""A recorded list that is gone on with: on the page as at the command line, from the same state."""

from __future__ import annotations

import re
import shutil
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import Call
from tests.page.served import served

LIST = "before-dyno"
KEYS = ("straps", "fan", "extraction", "extinguisher", "tyres", "tyre-pressure", "wheel-nuts",
        "fluids", "air")  # fmt: skip


@pytest.fixture
def two(demo: Path, tmp_path: Path) -> tuple[Path, Path]:
    """The same car twice: for the terminal, and for the page."""
    return tuple(Path(shutil.copytree(demo, tmp_path / name)) for name in ("typed", "tapped"))  # type: ignore[return-value]


def recorded(buildlog: Call, car: Path, answers: dict[str, str]) -> None:
    """The list begun, answered so far, and recorded."""
    buildlog("checklist", "start", LIST, at=car)
    for key, result in answers.items():
        done = buildlog("checklist", "tick", key, "--result", result, "--by", "D-07", at=car)
        assert done.status == 0, done.err
    assert buildlog("record", "-m", "so far", at=car).status == 0


def files(car: Path) -> dict[str, dict[str, Any]]:
    found = sorted((car / "checks").glob(f"*-{LIST}*.toml"))
    return {path.name: tomllib.loads(path.read_text("utf-8")) for path in found}


def tapped(car: Path, key: str) -> str:
    """One item answered "done" by a tap; what the list's page said before."""
    with served(car) as page:
        owner = page.paired("write", "D-07")
        owner.slug = next(iter(page.serving.cars.places()))
        place = f"lists/{LIST}?open={key}"
        said = owner.get(owner.at(place)).text
        form = owner.hidden(owner.at(place), "act/item", f'/{key}"')
        assert owner.post(owner.at("act/item"), **{**form, "answer": "done"}).status == 303
    return re.sub(r"<[^>]+>", " ", said.partition("<main")[2])


@pytest.mark.parametrize(
    ("failed", "open_", "again"),
    [((), ("air",), ["air"]), (("fan",), (), ["fan"]), (("fan",), ("fluids",), ["fan", "fluids"])],
    ids=["not all answered", "one critical failed", "both"],
)
def test_what_is_open_is_gone_on_with_and_nothing_else_is_asked_again(
    two: tuple[Path, Path], buildlog: Call, failed: Sequence[str], open_: Sequence[str],
    again: list[str],
) -> None:  # fmt: skip
    answers = {key: "fail" if key in failed else "pass" for key in KEYS if key not in open_}
    for car in two:
        recorded(buildlog, car, answers)
    typed, on_page = two
    done = buildlog("checklist", "tick", again[0], "--result", "pass", "--by", "D-07", at=typed)
    assert done.status == 0, done.err
    said = tapped(on_page, again[0])
    assert f"{len(answers)} of {len(KEYS)} answered" in said
    assert files(on_page) == files(typed)
    later = [one for one in files(on_page).values() if "continues" in one]
    assert [[item["key"] for item in one["item"]] for one in later] == [again]


def test_of_a_car_that_was_changed_since_a_failed_list_is_begun_anew(
    two: tuple[Path, Path], buildlog: Call
) -> None:
    typed, on_page = two
    for car in two:
        recorded(buildlog, car, dict.fromkeys(KEYS, "pass") | {"fan": "fail"})
        assert buildlog("set", "cooling.note=another fan", at=car).status == 0
    refused = buildlog("checklist", "tick", "fan", "--result", "pass", at=typed)
    assert "checklist start" in refused.err
    assert f"0 of {len(KEYS)} answered" in tapped(on_page, "fan")
    newest = [one for one in files(on_page).values() if len(one["item"]) == len(KEYS)]
    assert len(newest) == 2
    assert not any("continues" in one for one in files(on_page).values())
