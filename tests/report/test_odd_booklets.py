"""The booklet and the sheet of unusual cars: nothing crashes, nothing is empty, no nonsense."""

from __future__ import annotations

import json
import re
import warnings
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest

from buildlog.desk.give.booklet_content import content, newest_stage
from buildlog.desk.snapshot.opening import recorded
from buildlog.report.booklet.assemble import booklet, stage_sheet
from buildlog.report.booklet.content import BookletContent
from buildlog.report.booklet.document import (
    Document,
    PageFigure,
    PageHeading,
    PageTable,
    Para,
    flat,
    plain,
)
from buildlog.report.booklet.html import html
from buildlog.report.booklet.jsonout import content_json
from buildlog.report.booklet.text import text
from buildlog.report.numbers import Display
from tests.histories import history, record
from tests.odd_cars import CARS, HAN, LONG, RIGHT_TO_LEFT, car, made
from tests.report.audit import faults

NONSENSE = re.compile(
    r"\bNone\b(?! is on record)|\bnan\b|\binf\b|\[\]|\{\}|<Quantity|datetime|\.\.\.\."
)
SHOW = Display("metric")
SLOW = [
    pytest.param(name, marks=pytest.mark.long) if name == "hundred-entries" else name
    for name in CARS
]


@pytest.fixture(scope="module", params=SLOW)
def told(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> BookletContent:
    with made(tmp_path_factory.mktemp("odd") / "car", request.param) as ledger:
        return content(recorded(ledger), "Quarry Lane")


@pytest.fixture(scope="module")
def document(told: BookletContent) -> Document:
    with warnings.catch_warnings():
        warnings.simplefilter("error")  # a letter that a font lacks must not disturb anybody
        return booklet(told, SHOW)


class Headings(HTMLParser):
    """The levels of the headings, in order."""

    def __init__(self, markup: str) -> None:
        super().__init__()
        self.levels: list[int] = []
        self.feed(markup)

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if re.fullmatch(r"h[1-6]", tag):
            self.levels.append(int(tag[1]))


def test_no_nonsense_is_said(document: Document) -> None:
    for said in (text(document), re.sub(r"<style>.*?</style>|base64,[^\"]*", "", html(document),
                                        flags=re.DOTALL)):  # fmt: skip
        assert NONSENSE.findall(said) == []


def test_no_section_no_table_and_no_heading_is_empty(document: Document) -> None:
    groups = [list(flat(document.front))]
    for section in document.sections:
        assert section.title.strip()
        assert section.blocks, section.title
        groups.append(list(flat(section.blocks)))
    for blocks in groups:
        for one, following in zip(blocks, (*blocks[1:], None), strict=True):
            if isinstance(one, PageTable):
                assert one.rows, one.caption
                assert all(1 <= len(row) <= len(one.head) for row in one.rows), one.caption
            if isinstance(one, PageHeading):
                assert following is not None, one.text
            if isinstance(one, PageFigure):
                assert len(one.alt) > 20
                assert faults(one.wide) == []
                assert faults(one.narrow) == []


def test_headings_step_down_one_at_a_time(document: Document) -> None:
    levels = Headings(html(document)).levels
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_all_names_that_links_point_to_are_there_once_each(document: Document) -> None:
    markup = html(document)
    names = re.findall(r'\sid="([^"]*)"', markup)
    assert len(names) == len(set(names))
    assert set(re.findall(r'href="#([^"]*)"', markup)) <= set(names)


def test_the_first_page_answers_even_where_nothing_is_known(document: Document) -> None:
    blocks = list(flat(document.front))
    if not isinstance(blocks[0], PageFigure):
        assert isinstance(blocks[0], Para)
        assert plain(blocks[0].content).startswith("No gain can be stated: ")
    heads = [one.text for one in blocks if isinstance(one, PageHeading)]
    assert heads == ["What was done", "Close to a limit", "Faults", "Not checked"]
    assert plain(document.lead).strip()


def test_a_program_can_read_all_of_it(told: BookletContent) -> None:
    json.loads(json.dumps(content_json(told), allow_nan=False))


def of(name: str, folder: Path, *stages: str) -> Document:
    with made(folder / "car", name) as ledger:
        book = recorded(ledger)
        found = content(book, None, stages)
    return stage_sheet(found, SHOW, full=True) if stages else booklet(found, SHOW)


@pytest.mark.parametrize("name", ["only-stated", "one-entry", "corrected", "han"])
def test_the_newest_stages_sheet_says_no_nonsense_either(name: str, tmp_path: Path) -> None:
    with made(tmp_path / "car", name) as ledger:
        book = recorded(ledger)
        found = content(book, None, (newest_stage(book),))
    assert NONSENSE.findall(text(stage_sheet(found, SHOW))) == []


def test_a_stated_value_is_told_as_stated(tmp_path: Path) -> None:
    said = " ".join(text(of("only-stated", tmp_path)).split())
    assert "only what was stated: power 131 hp at the wheel (printout in the glove box)" in said
    assert "never measured" not in said


def test_a_corrected_record_is_no_work_on_the_car(tmp_path: Path) -> None:
    """The clutch was never changed from 380 to 300 N*m: it was written down wrongly."""
    for folder, stages in (("a", ()), ("b", ("seen-again",))):
        (tmp_path / folder).mkdir()
        said = text(of("corrected", tmp_path / folder, *stages))
        assert "Records put right since stage-1: nothing was done to the car here" in said
        assert "Changes made since stage-1" not in said
        assert "Changes found since stage-1, made by others" in said


def test_an_open_fault_stands_on_the_first_page_and_shuts_a_gate(tmp_path: Path) -> None:
    said = " ".join(text(of("faulty", tmp_path)).split())
    assert "One fault is open." in said
    assert "Full load must wait until it is closed" in said
    assert "Before a full-load pull:" in said


@pytest.mark.parametrize(
    ("name", "word"), [("long-names", LONG), ("right-to-left", RIGHT_TO_LEFT), ("han", HAN)]
)
def test_a_name_stands_as_it_was_written(tmp_path: Path, name: str, word: str) -> None:
    document = of(name, tmp_path)
    markup = html(document)
    assert f"<h1>{word}, 1994</h1>" in markup
    assert "<text" in markup, "letters, which the reader's own fonts can show"


def test_a_motorcycle_is_called_one_and_drives_one_wheel(tmp_path: Path) -> None:
    said = " ".join(text(of("motorcycle", tmp_path)).split())
    assert "drives the rear wheel," in said


def test_a_stage_after_an_unmeasured_one_tells_what_both_gave(tmp_path: Path) -> None:
    """Whoever paid for the blower reads of it, and of what blower and calibration gave."""
    said = " ".join(text(of("not-each-measured", tmp_path, "stage-1b")).split())
    assert "Blower fitted. New calibration." in said
    assert "stage-1 was not measured on a dyno: stage-1b is set against baseline" in said
    assert "Predicted and measured, baseline to stage-1b" in said
    assert "Changes made since baseline" in said
    assert "No gain can be stated" not in said


def test_stages_told_together_are_told_once_each(tmp_path: Path) -> None:
    said = " ".join(text(of("not-each-measured", tmp_path, "stage-1", "stage-1b")).split())
    assert "set against baseline" not in said
    assert "Changes made since baseline" in said
    assert "30 more than before" in said


def test_an_unmeasured_stage_is_told_with_the_session_that_measured_it(tmp_path: Path) -> None:
    said = " ".join(text(of("not-each-measured", tmp_path, "stage-1")).split())
    assert "Blower fitted. New calibration." in said
    assert "(stage-1, session 2026-04-02-tuned)" in said
    assert "Predicted and measured, baseline to stage-1 " in said
    assert "Changes made since baseline" in said


def test_an_electric_car_is_called_one_and_misses_no_list_about_fuel(tmp_path: Path) -> None:
    said = " ".join(text(of("electric", tmp_path, "tyres")).split())
    assert "electric, rated 150 kW" in said
    assert "lists were never used: intake, before-dyno" in said
    assert "first-start" not in said
    assert "light-load-check" not in said


# What local codes govern, as it came and as it is: each is stated on the first page of both papers.
GOVERNED = {
    "catalysts taken out": ({"exhaust.catalysts.kind": "original", "exhaust.catalysts.count": 1},
                            {"exhaust.catalysts.kind": "none"}),
    "fewer catalysts": ({"exhaust.catalysts.kind": "original", "exhaust.catalysts.count": 2},
                        {"exhaust.catalysts.kind": "original", "exhaust.catalysts.count": 1}),
    "other catalysts": ({"exhaust.catalysts.kind": "original"},
                        {"exhaust.catalysts.kind": "high-flow"}),
    "an exhaust nobody listened to": ({}, {"exhaust.pipe_diameter": "63 mm"}),
    "a sound level": ({}, {"exhaust.sound_level": "90 dB(A)"}),
    "other tyres": ({"tyres.size": "195/60 R15"}, {"tyres.size": "205/65 R15"}),
    "another final drive": ({"final_drive.ratio": 3.7}, {"final_drive.ratio": 4.1}),
}  # fmt: skip


def papers(folder: Path, came: dict[str, object], now: dict[str, object]) -> list[Document]:
    """The booklet and the newest stage's report of a car that came so and is so."""
    steps = [
        car(came),
        record("intake", kind="found", odometer="12000 km"),
        car({**came, **now, "tyres.pressure": "2.6 bar"}),
        record("work", stage="stage-1"),
    ]
    with history(folder, steps) as ledger:
        book = recorded(ledger)
        whole, stage = content(book, None), content(book, None, ("stage-1",))
    return [booklet(whole, SHOW), stage_sheet(stage, SHOW)]


@pytest.mark.parametrize("what", GOVERNED)
def test_what_local_codes_govern_stands_on_the_first_page(what: str, tmp_path: Path) -> None:
    for one in papers(tmp_path / "car", *GOVERNED[what]):
        said = [plain(block.content) for block in flat(one.front) if isinstance(block, Para)]
        (line,) = [text for text in said if text.startswith("Local codes. ")]
        assert "decided by local codes and a licensed inspection" in line


def test_a_car_as_it_came_says_nothing_of_them(tmp_path: Path) -> None:
    for one in papers(tmp_path / "car", {}, {}):
        said = [plain(block.content) for block in flat(one.front) if isinstance(block, Para)]
        assert not [text for text in said if text.startswith("Local codes. ")]
