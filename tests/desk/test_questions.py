"""Every question without the command line: one call gives what the command answers."""

from __future__ import annotations

import contextlib
import json
import shlex
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from buildlog.desk.give.packing import stage_content
from buildlog.desk.give.plotting import plot, sheet_figure
from buildlog.desk.questions import day_books, verifying
from buildlog.desk.questions.check_all import look, what_next
from buildlog.desk.questions.compare import diff
from buildlog.desk.questions.dynos import related
from buildlog.desk.questions.limits import headroom_of, margins_of
from buildlog.desk.questions.plans import Planner
from buildlog.desk.questions.predict import past_predictions, prediction
from buildlog.desk.questions.visits import compare, session_sheet, standard_named
from buildlog.desk.questions.whole_shop import WholeShop
from buildlog.desk.snapshot import opening
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import NotFound, UsageError
from buildlog.report.as_json.diff_json import diff_json
from buildlog.report.as_json.dyno_json import comparison_json
from buildlog.report.as_json.history_json import history_json
from buildlog.report.as_json.margins_json import headroom_json, margins_json
from buildlog.report.as_json.plan_json import compare_json, list_json
from buildlog.report.as_json.prediction_json import back_test_json, prediction_json
from buildlog.report.as_json.sheet_json import sheet_json
from buildlog.report.as_json.shop_json import shop_json
from buildlog.report.as_json.show_json import life_json, parts_json, show_json
from buildlog.report.as_json.steps_json import check_json, next_json
from buildlog.report.as_json.verify_json import verify_json
from buildlog.report.booklet.jsonout import content_json
from tests.conftest import Call

Asked = Callable[[Snapshot], dict[str, Any]]
CLUTCH = "clutch.rated_torque"


def shown(book: Snapshot, name: str) -> dict[str, Any]:
    version = book.version(name)
    return show_json(version, day_books.since_when(book, version))


QUESTIONS: dict[str, Asked] = {
    "history": lambda book: history_json(book.entries),
    "show stage-1": lambda book: shown(book, "stage-1"),
    "show --parts": lambda book: parts_json(book.newest, day_books.parts_at(book, book.newest)),
    f"show --at {CLUTCH}": lambda book: life_json(CLUTCH, day_books.field_life(book, CLUTCH)),
    "diff stage-1 stage-2": lambda book: diff_json(diff(book, "stage-1", "stage-2")),
    "diff": lambda book: diff_json(diff(book)),
    "dyno sheet": lambda book: sheet_json(session_sheet(book)),
    "dyno compare baseline stage-1": lambda book: comparison_json(
        compare(book, "baseline", "stage-1")
    ),
    "predict stage-1 stage-2": lambda book: prediction_json(prediction(book, "stage-1", "stage-2")),
    'predict stage-1 --altitude "1600 m"': lambda book: prediction_json(
        prediction(book, "stage-1", altitude="1600 m")
    ),
    "predict --back-test": lambda book: back_test_json(past_predictions(book)),
    "margins": lambda book: margins_json(margins_of(book)),
    "headroom stage-2": lambda book: headroom_json(headroom_of(book, "stage-2")),
    "next": lambda book: next_json(what_next(book)),
    "check": lambda book: check_json(look(book)),
    "plan list": lambda book: list_json(Planner(book).unpredicted()),
    "plan compare": lambda book: compare_json(Planner(book).offers()),
    "report stage-2": lambda book: content_json(stage_content(book.ledger, ["stage-2"])),
    "verify": lambda book: verify_json(verifying.verified(book.ledger.folder)),
}


@pytest.mark.parametrize("typed", QUESTIONS)
@pytest.mark.one_in(5)
def test_a_call_gives_what_the_command_answers(
    typed: str, demo: Path, buildlog: Call, capsys: pytest.CaptureFixture[str]
) -> None:
    told = buildlog(*shlex.split(typed), "--json", at=demo)
    with opening.snapshot(demo) as book:
        body = QUESTIONS[typed](book)
    assert capsys.readouterr() == ("", "")
    answer = json.loads(told.out)
    assert answer.pop("format").startswith("buildlog/")
    assert json.loads(json.dumps(body, default=str)) == answer


def test_a_version_goes_wherever_a_name_goes(demo: Path) -> None:
    with opening.snapshot(demo) as book:
        one, other = book.version("stage-1"), book.version("stage-2")
        named, given = diff(book, "stage-1", "stage-2"), diff(book, one, other)
        assert diff_json(given) == diff_json(named)
        assert margins_of(book, other).rows == margins_of(book, "stage-2").rows
        assert book.newest is book.history[-1]


@pytest.mark.parametrize("what", ["power", "air-fuel", "predicted", "margins"])
@pytest.mark.one_in(4)
def test_a_figure_is_made_before_it_is_written(what: Any, demo: Path, tmp_path: Path) -> None:
    with opening.snapshot(demo) as book:
        drawn = plot(book, what=what, units="metric")
    assert drawn.figure.axes
    drawn.write(tmp_path / "a.svg")
    assert (tmp_path / "a.svg").read_bytes().startswith(b"<?xml")
    with pytest.raises(UsageError):
        drawn.write(tmp_path / "a.doc")


def test_a_session_is_drawn_from_its_sheet(demo: Path) -> None:
    with opening.snapshot(demo) as book:
        report = session_sheet(book, "stage-1")
        assert sheet_figure(book, report).figure.axes
        assert report.beside is not None
        assert report.sheet.name in report.beside


def test_a_shop_tells_how_far_it_is(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    passed: list[tuple[str, int]] = []

    @contextlib.contextmanager
    def progress(what: str, steps: int, weight: int) -> Iterator[Callable[[int], None]]:
        passed.append((what, steps))
        yield lambda count: passed.append(("passed", count))

    with WholeShop([demo.parent], progress=progress) as shop:
        name, body = shop_json(shop.standing())
        assert shop.units("us") == "us"
    assert capsys.readouterr() == ("", "")
    assert name == "shop-list"
    assert [car["ledger"] for car in body["cars"]] == [demo.name]
    assert passed[0] == ("reading the ledgers", 1)
    assert sum(count for what, count in passed if what == "passed") == 1


def test_refusals_say_what_there_is(demo: Path, tmp_path: Path) -> None:
    with opening.snapshot(demo) as book, pytest.raises(NotFound, match="on a dyno called"):
        related(book, "R1", "no-such-dyno")
    with pytest.raises(NotFound, match="is not in a ledger"):
        opening.reader(tmp_path)
    with pytest.raises(NotFound, match="does not exist"):
        verifying.verified(tmp_path / "nothing")
    with pytest.raises(UsageError, match="unknown standard"):
        standard_named("unknown")
    assert standard_named("STD") == "60F-29.92-dry"
