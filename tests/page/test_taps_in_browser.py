"""How many taps an act takes from the car's page, by touch at 390 x 844, without scrolling where
nothing is said of it; and that each is in the files then."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pytest

from tests.page.served import PNG, Served

BAR = 72  # px at the foot, where the acts stand


@dataclass
class Hand:
    """A thumb that counts: what it taps must lie on the screen, above the bar or in it."""

    tab: Any
    car: str
    taps: int = 0

    def at(self, path: str) -> Hand:
        """At another sheet, nothing tapped yet."""
        self.tab.goto(self.car.partition("/car/")[0] + path)
        self.taps = 0
        return self

    def said(self) -> str:
        """The sentence on top, as it is read aloud."""
        return str(self.tab.locator("h1").inner_text()).replace("\xa0", " ").replace("\n", " ")

    def home(self) -> Hand:
        """At the car's page, nothing tapped yet."""
        self.tab.goto(self.car)
        self.taps = 0
        return self

    def tap(
        self, role: str, name: str | re.Pattern[str], scroll: bool = False, leads: bool = False
    ) -> None:
        """A link, or a button; `leads`: which sends the form, and another page comes."""
        one = self.tab.get_by_role(role, name=name).first
        if scroll:
            one.scroll_into_view_if_needed()
        box = one.bounding_box()
        assert box, name
        assert 0 <= box["y"] <= 844 - box["height"], (name, box)
        in_bar = one.evaluate("e => Boolean(e.closest('.acts'))")
        assert in_bar or box["y"] + 22 < 844 - BAR, (name, box, "under the bar")
        self.taps += 1
        if role == "link" or leads:
            with self.tab.expect_navigation():
                one.tap()
        else:
            one.tap()

    def photo(self, name: str, scroll: bool = False) -> None:
        """A tap that opens the camera; what is done in it is not counted."""
        one = self.tab.locator("label.button", has_text=name).first
        if scroll:
            one.scroll_into_view_if_needed()
        with self.tab.expect_file_chooser() as asked:
            one.tap()
        self.taps += 1
        asked.value.set_files({"name": "a.png", "mimeType": "image/png", "buffer": PNG})

    def saved(self) -> int:
        """The taps so far, once the page says that the last one is saved."""
        self.tab.locator("#saved", has_text=re.compile(r"saved \d\d:\d\d")).wait_for()
        return self.taps


@pytest.fixture
def hand(chromium: Any, shop: Served) -> Iterator[Hand]:
    context = chromium.new_context(
        viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    tab = context.new_page()
    origin = f"http://{shop.serving.name}:{shop.serving.port}"
    tab.goto(f"{origin}/enter?key={shop.serving.devices.start_key()}")
    with tab.expect_navigation(url=re.compile("/$")):
        tab.get_by_role("button").tap()
    yield Hand(tab, f"{origin}/car/demo/")
    context.close()


def test_acts_take_no_more_taps_than_the_sheet_says(hand: Hand, shop: Served) -> None:
    car, tab = shop.folder / "demo", hand.tab

    hand.home().tap("button", re.compile("^done$"))
    assert hand.saved() == 1
    checks = next((car / "checks").glob("*before-dyno.toml"))
    assert re.search(r'key = "extraction".*?result = "pass"', checks.read_text(), re.DOTALL)

    hand.home().tap("link", re.compile("^Tighten"))
    hand.tap("button", re.compile("^Turned 90°, next"), leads=True)
    assert hand.taps == 2
    sheet = next((car / "torque").glob("*head*.sheet.toml"))
    assert re.search(r'number = 2\nstage = 2\nvalue = "90 deg"', sheet.read_text())

    hand.home().tap("link", re.compile("^Add$"))
    hand.tap("link", re.compile("^Odometer"))
    tab.get_by_label("Reading").fill("89566")
    hand.tap("button", "Save reading", leads=True)
    assert hand.taps == 3
    assert "89566 mi" in next((car / "readings").glob("*.toml")).read_text()

    hand.home().tap("link", re.compile("^Add$"))
    hand.photo("Take one")
    hand.tap("button", "Save photo", leads=True)
    assert hand.taps == 3
    assert [path.suffix for path in (car / "attachments").rglob("*.png")] == [".png"]

    hand.home().tap("link", re.compile("^Add$"))
    hand.tap("link", re.compile("^Fault"))
    hand.tap("link", re.compile("^Exhaust"), scroll=True)
    hand.tap("link", re.compile("^Headers"), scroll=True)
    tab.get_by_label("What was seen").fill("ticks when cold")
    hand.tap("button", "Save fault", leads=True)
    assert hand.taps == 5
    assert any("ticks when cold" in path.read_text() for path in (car / "faults").glob("*.toml"))

    hand.home().tap("link", re.compile("^Add$"))
    hand.tap("link", re.compile("^Part"))
    hand.tap("link", re.compile("^Flywheel"), scroll=True)
    tab.get_by_label("Number").fill("TF-270")
    hand.photo("Photo of the label", scroll=True)
    hand.tap("button", "Save part", leads=True)
    assert hand.taps == 5
    assert 'number = "TF-270"' in (car / "car.toml").read_text()

    before = (car / ".git/refs/heads/main").read_text()
    hand.home().tap("link", re.compile(r"^Record \d"))
    tab.get_by_label("Message").fill("flywheel, and what was seen")
    hand.tap("button", re.compile(r"^Record \d"), leads=True)
    assert hand.taps == 2
    assert (car / ".git/refs/heads/main").read_text() != before
    assert len(list((car / "checks").glob("*before-dyno.toml"))) == 1, "half done, stays out"


def which_car_needs_me(hand: Hand, shop: Served) -> None:
    hand.at("/")
    assert "needs somebody now" in hand.said() or "need somebody now" in hand.said()


def write_down_this_bolt(hand: Hand, shop: Served) -> None:
    hand.tap("link", re.compile("^Tighten"))
    hand.tap("button", re.compile("^Turned 90°, next"), leads=True)
    assert "turn bolt 3 of 10" in hand.said()
    sheet = next((shop.folder / "demo/torque").glob("*head*.sheet.toml"))
    assert re.search(r'number = 2\nstage = 2\nvalue = "90 deg"', sheet.read_text())


def item_4_with_a_photo(hand: Hand, shop: Served) -> None:
    hand.tap("link", "Whole list")
    item = hand.tab.locator('form.item[data-what$="/extinguisher"]')
    assert item.locator(".no").inner_text() == "4"
    item.locator("summary").tap()
    with hand.tab.expect_file_chooser() as asked:
        item.locator("label.button").first.tap()
    asked.value.set_files({"name": "a.png", "mimeType": "image/png", "buffer": PNG})
    item.get_by_role("button", name="done", exact=True).tap()
    hand.taps += 3
    hand.saved()
    checks = next((shop.folder / "demo/checks").glob("*before-dyno.toml")).read_text()
    assert re.search(r'key = "extinguisher".*?result = "pass".*?photo = ', checks, re.DOTALL)


def the_odometer(hand: Hand, shop: Served) -> None:
    hand.tap("link", re.compile("^Add$"))
    hand.tap("link", re.compile("^Odometer"))
    hand.tab.get_by_label("Reading").fill("89566")
    hand.tap("button", "Save reading", leads=True)
    assert hand.tab.url == hand.car, "back at the car"
    assert "89566 mi" in next((shop.folder / "demo/readings").glob("*.toml")).read_text()


def something_broke(hand: Hand, shop: Served) -> None:
    hand.tap("link", re.compile("^Add$"))
    hand.tap("link", re.compile("^Fault"))
    hand.tap("link", re.compile("^Exhaust"), scroll=True)
    hand.tap("link", re.compile("^Headers"), scroll=True)
    hand.tab.get_by_label("What was seen").fill("ticks when cold")
    hand.tap("button", "Save fault", leads=True)
    assert "Two faults are open" in hand.said()


def what_the_pulls_gave(hand: Hand, shop: Served) -> None:
    hand.tap("link", "Dyno session", scroll=True)
    assert re.search(r"the newest gave \d+(\.\d+)? ± \d+(\.\d+)? hp", hand.said())


def pulls_that_are_files_still(hand: Hand, shop: Served) -> None:
    """The same where the dyno's files lie in the phone yet: chosen, named, and read."""
    hand.tap("link", "Dyno session", scroll=True)
    hand.tap("link", "Add files")
    files = sorted((shop.folder / "demo/dyno/2026-02-11-baseline").glob("pull-?.csv"))
    with hand.tab.expect_file_chooser() as asked:
        hand.tab.get_by_label("Files", exact=True).tap()
    hand.taps += 1
    asked.value.set_files(files)
    hand.tab.get_by_label("What the session is called").fill("today")
    hand.tap("button", "Add files", leads=True)
    assert hand.tab.get_by_role("alert").count() == 0, hand.tab.get_by_role("alert").inner_text()
    assert re.search(r"\d+(\.\d+)? ± \d+(\.\d+)? hp at the wheels", hand.said())


def show_the_customer(hand: Hand, shop: Served) -> None:
    hand.tap("link", "For the customer", scroll=True)
    with hand.tab.expect_download() as made:
        hand.tap("button", "Make the file")
    assert made.value.suggested_filename.endswith(".html")


def record_it(hand: Hand, shop: Served) -> None:
    head = shop.folder / "demo/.git/refs/heads/main"
    before = head.read_text()
    hand.tap("link", re.compile(r"^Record \d"))
    hand.tab.get_by_label("Message").fill("the day")
    hand.tap("button", re.compile(r"^Record \d"), leads=True)
    assert "entry 17" in hand.tab.locator("body").inner_text().replace("\xa0", " ")
    assert head.read_text() != before


# What somebody at the car asks of the page, by who has never seen it, and the most taps for it;
# typing and the camera's own taps apart.
QUESTIONS: dict[str, tuple[int, Callable[[Hand, Served], None]]] = {
    "which car needs me now": (0, which_car_needs_me),
    "write down this bolt": (2, write_down_this_bolt),
    "this list, item 4, with a photo": (4, item_4_with_a_photo),
    "the odometer": (3, the_odometer),
    "something broke": (5, something_broke),
    "what did today's pulls give": (1, what_the_pulls_gave),
    "the same, its files not added yet": (4, pulls_that_are_files_still),
    "show the customer what was done": (2, show_the_customer),
    "record it": (2, record_it),
}


@pytest.mark.parametrize("question", QUESTIONS)
def test_a_question_is_answered_within_its_taps(
    hand: Hand, shop: Served, question: str, record_property: Callable[[str, object], None]
) -> None:
    """From the car's page (the first from the shop's) to the answer on the screen; the seconds are
    those of a thumb that knows where to tap, and told only: `pytest -s`."""
    most, ask = QUESTIONS[question]
    hand.home()
    begun = time.perf_counter()
    ask(hand, shop)
    seconds = time.perf_counter() - begun
    record_property("seconds", round(seconds, 2))
    print(f"\n{question}: {hand.taps} taps of {most}, {seconds:.2f} s")
    assert hand.taps <= most


def test_without_its_script_every_form_is_a_form(chromium: Any, shop: Served) -> None:
    """What the script does besides is waiting for the server: nothing else needs it."""
    car = shop.folder / "demo"
    context = chromium.new_context(
        viewport={"width": 390, "height": 844}, has_touch=True, java_script_enabled=False
    )
    tab = context.new_page()
    origin = f"http://{shop.serving.name}:{shop.serving.port}"
    tab.goto(f"{origin}/enter?key={shop.serving.devices.start_key()}")
    with tab.expect_navigation(url=re.compile("/$")):
        tab.get_by_role("button").tap()
    hand = Hand(tab, f"{origin}/car/demo/")
    hand.home().tap("button", re.compile("^done$"), leads=True)
    checks = next((car / "checks").glob("*before-dyno.toml")).read_text()
    assert re.search(r'key = "extraction".*?result = "pass"', checks, re.DOTALL)
    hand.home().tap("link", re.compile("^Add$"))
    hand.tap("link", re.compile("^Odometer"))
    tab.get_by_label("Reading").fill("89x66")
    hand.tap("button", "Save reading", leads=True)
    assert "89x66" in tab.get_by_label("Reading").input_value()
    assert tab.locator("[role=alert]").is_visible()
    tab.get_by_label("Reading").fill("89566")
    hand.tap("button", "Save reading", leads=True)
    assert "89566 mi" in next((car / "readings").glob("*.toml")).read_text()
    hand.home().tap("link", re.compile("^Tighten"))
    hand.tap("button", re.compile("^Turned 90°, next"), leads=True)
    assert "bolt 3 of 10" in tab.locator("h1").inner_text()
    before = (car / ".git/refs/heads/main").read_text()
    hand.home().tap("link", re.compile(r"^Record \d"))
    tab.get_by_label("Message").fill("the day")
    hand.tap("button", re.compile(r"^Record \d"), leads=True)
    assert (car / ".git/refs/heads/main").read_text() != before
    context.close()


def test_what_is_refused_is_said_where_it_was_typed(hand: Hand) -> None:
    """And is no question that follows one to other sheets: what was typed still stands there."""
    tab = hand.tab
    hand.home().tap("link", re.compile("^Add$"))
    hand.tap("link", re.compile("^Odometer"))
    tab.get_by_label("Reading").fill("12")
    hand.tap("button", "Save reading")
    tab.get_by_role("alert").wait_for()
    assert "less than" in tab.get_by_role("alert").inner_text()
    assert tab.locator("#waiting-acts").count() == 0
    assert "question" not in tab.locator("#saved").inner_text()
    tab.get_by_label("Note").fill("another instrument")
    hand.tap("button", "Save reading", leads=True)
    assert "saved" in tab.locator("#saved").inner_text()
