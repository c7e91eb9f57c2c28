"""What a car answers is what the command prints: text, JSON, and the files it is about."""

from __future__ import annotations

import csv
import inspect
import json
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

import buildlog
from buildlog.desk.views.view import View
from tests.conftest import Call

# Each view that there is, with the command that answers the same.
SAME: dict[str, tuple[Callable[[buildlog.OpenedCar], View], list[str]]] = {
    "diff": (lambda car: car.diff("stage-1", "stage-2"), ["diff", "stage-1", "stage-2"]),
    "diff alone": (lambda car: car.diff(), ["diff"]),
    "diff of a correction": (lambda car: car.diff(5, 7), ["diff", "5", "7"]),
    "diff by a standard": (
        lambda car: car.diff("stage-1", "stage-2", standard="STD"),
        ["diff", "stage-1", "stage-2", "--standard", "STD"],
    ),
    "sheet": (lambda car: car.sheet("2026-05-09-stage-2"), ["dyno", "sheet", "2026-05-09-stage-2"]),
    "newest sheet": (lambda car: car.sheet(), ["dyno", "sheet"]),
    "margins": (lambda car: car.margins(), ["margins"]),
    "margins of a stage": (lambda car: car.margins("stage-1"), ["margins", "stage-1"]),
    "headroom": (lambda car: car.headroom(), ["headroom"]),
    "predict": (lambda car: car.predict("stage-1", "stage-2"), ["predict", "stage-1", "stage-2"]),
    "predict in other air": (
        lambda car: car.predict("stage-1", altitude="1600 m", temperature="30 degC"),
        ["predict", "stage-1", "--altitude", "1600 m", "--air-temperature", "30 degC"],
    ),
    "history": (lambda car: car.history, ["history"]),
    "parts": (lambda car: car.version("stage-2").parts, ["show", "stage-2", "--parts"]),
    "next": (lambda car: car.next(), ["next"]),
    "check": (lambda car: car.check(), ["check"]),
    "verify": (lambda car: car.verify(), ["verify"]),
}  # fmt: skip


@pytest.fixture(scope="module")
def car(demo: Path) -> Any:
    with buildlog.open(demo) as opened:
        yield opened


@pytest.mark.parametrize("which", SAME)
@pytest.mark.one_in(4)
def test_json_and_text_are_the_commands(which: str, car: Any, demo: Path, buildlog: Call) -> None:
    ask, command = SAME[which]
    view = ask(car)
    told = json.loads(buildlog(*command, "--ledger", demo, "--json").out)
    assert told.pop("format").startswith("buildlog/")
    assert json.loads(json.dumps(view.to_dict(), default=str)) == told
    told_in_words = buildlog(*command, "--ledger", demo).out.rstrip("\n")
    if which != "verify":  # whose last line names how the ledger was named
        assert str(view) == told_in_words
    assert getattr(view, "exit_status", 0) in (0, 1)


@pytest.mark.parametrize("which", SAME)
def test_a_notebook_shows_it_and_the_prompt_says_something(which: str, car: Any) -> None:
    view = SAME[which][0](car)
    checked(view._repr_html_())
    assert len(repr(view)) > 20
    assert "object at" not in repr(view)


def test_every_view_there_is_is_compared_here(car: Any) -> None:
    from buildlog.desk.places import Shop
    from buildlog.desk.views.workshop_views import PreviewView, ShopView

    def below(kind: type) -> set[type]:
        return {kind, *(one for sub in kind.__subclasses__() for one in below(sub))}

    seen = {type(ask(car)) for ask, _ in SAME.values()}
    answers = {one for one in below(View) if not inspect.isabstract(one)}
    assert answers == seen | {PreviewView, Shop, ShopView}


def test_exit_statuses_are_the_commands(car: Any, demo: Path, buildlog: Call) -> None:
    for view, command in ((car.check(), "check"), (car.verify(), "verify")):
        assert view.exit_status == buildlog(command, "--ledger", demo).status


def test_the_number_of_changes_is_the_commands(car: Any, demo: Path, buildlog: Call) -> None:
    told = json.loads(buildlog("diff", "stage-1", "stage-2", "--ledger", demo, "--json").out)
    assert len(car.diff("stage-1", "stage-2").changes) == len(told["changes"]) > 100


@pytest.mark.parametrize("units", ["us", "metric"])
def test_units_are_those_asked_for(units: Any, demo: Path, buildlog: Call) -> None:
    import buildlog as library

    with library.open(demo, units=units) as car:
        told = buildlog("diff", "stage-1", "stage-2", "--ledger", demo, "--units", units).out
        assert str(car.diff("stage-1", "stage-2")) == told.rstrip("\n")


def test_a_shop_is_what_shop_list_says(demo: Path, buildlog: Call) -> None:
    import buildlog as library

    shop = library.shop(demo.parent)
    told = json.loads(buildlog("shop", "list", demo.parent, "--json").out)
    assert told.pop("format") == "buildlog/shop-list/1"
    assert shop.to_dict() == told
    assert str(shop) == buildlog("shop", "list", demo.parent).out.rstrip("\n")
    checked(shop._repr_html_())


SHOP_QUESTIONS: dict[str, tuple[Callable[[buildlog.Shop], View], list[str]]] = {
    "due": (lambda shop: shop.due(), ["--due"]),
    "find": (
        lambda shop: shop.find("car.power_source=spark-ignition"),
        ["--find", "car.power_source=spark-ignition"],
    ),
    "gains": (lambda shop: shop.gains(), ["--gains"]),
    "faults": (lambda shop: shop.faults(), ["--faults"]),
}  # fmt: skip


@pytest.mark.parametrize("which", SHOP_QUESTIONS)
def test_a_question_to_the_shop_is_the_commands(which: str, demo: Path, buildlog: Call) -> None:
    import buildlog as library

    ask, options = SHOP_QUESTIONS[which]
    view = ask(library.shop(demo.parent))
    told = json.loads(buildlog("shop", "list", demo.parent, *options, "--json").out)
    assert told.pop("format") == f"buildlog/shop-{which}/1"
    assert view.to_dict() == told
    assert str(view) == buildlog("shop", "list", demo.parent, *options).out.rstrip("\n")
    printed = buildlog("shop", "list", demo.parent, *options, "--csv").out.splitlines()
    assert len(view.rows) == len(list(csv.DictReader(printed))) > 0  # type: ignore[attr-defined]
    checked(view._repr_html_())


def test_the_shop_has_every_question_of_the_command(buildlog: Call) -> None:
    """Each option of `shop list` that asks something else has a method of its name."""
    options = set(SHOP_QUESTIONS) | {"csv", "plot", "remote", "patience", "full", "units", "json"}
    told = buildlog("shop", "list", "--help").out
    assert set(re.findall(r"^  --([a-z]+)", told, re.MULTILINE)) == options


class _Checked(HTMLParser):
    """Every element is closed, and none can do anything."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag not in ("script", "iframe", "object", "link", "img", "style")
        assert not any(name.startswith("on") for name, _ in attrs)
        self.open.append(tag)
        self.seen.add(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def checked(html: str) -> set[str]:
    parser = _Checked()
    parser.feed(html)
    assert parser.open == []
    assert parser.seen
    return parser.seen


def test_a_text_from_a_ledger_is_never_markup(demo_copy: Path, buildlog: Call) -> None:
    import buildlog as library

    hostile = '<script>alert(1)</script> & "x"'
    with library.open(demo_copy) as car, car.edit(by="D-07") as work:
        work.set("car.name", hostile)
        work.set("exhaust.note", hostile)
        work.work(hostile)
        work.record(hostile, odometer="89700 mi", notes=hostile)
        newest = car.fresh()
    with newest as car:
        for view in (car.history, car.diff(13, 14), car.margins(), library.shop(demo_copy.parent)):
            html = view._repr_html_()
            checked(html)
            assert "<script" not in html
        assert "&lt;script&gt;" in car.history._repr_html_()
