"""Every act of the page done in a real Chromium, by its own form, on a phone and on a desk.

That the files are those of the command is compared by `test_same_as_typed.py` and
`test_all_acts_as_typed.py`, act by act; here it is seen that a browser gets there.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from buildlog.page.acts import ACTS
from tests import logger_files
from tests.attack.worlds import done
from tests.page.served import PNG, Served
from tests.page.test_all_acts_as_typed import WRITES_NOTHING
from tests.page.test_same_as_typed import SHEET, files

PHOTO = {"name": "a.png", "mimeType": "image/png", "buffer": PNG}


@dataclass
class Person:
    """Somebody at a browser, by touch or with a mouse; which acts were done, and what each left."""

    tab: Any
    shop: Served
    touch: bool
    acts: list[str] = field(default_factory=list)

    @property
    def car(self) -> Path:
        return self.shop.folder / "demo"

    def at(self, place: str) -> Any:
        """A sheet of the car, or from the top."""
        path = place if place.startswith("/") else f"/car/demo/{place}"
        self.tab.goto(f"http://{self.shop.serving.name}:{self.shop.serving.port}{path}")
        return self.tab

    def press(self, one: Any) -> None:
        one.scroll_into_view_if_needed()
        if self.touch:
            one.tap()
        else:
            one.click()

    def follow(self, one: Any) -> None:
        with self.tab.expect_navigation():
            self.press(one)

    def does(self, kind: str, button: Any) -> None:
        """Press it; the act is answered as done, and the files are others then."""
        before, entries = files(self.shop.folder), self._head()
        with self.tab.expect_response(lambda answer: f"/act/{kind}" in answer.url) as heard:
            self.press(button)
        assert heard.value.status in (200, 303), (kind, self.tab.locator("main").inner_text()[:400])
        self.tab.wait_for_load_state("networkidle")  # the script goes on to a sheet of its own
        self.acts.append(kind)
        in_git = kind in ("record", "approve", "quote", "plan-accept")
        if in_git:
            assert self._head() != entries, kind
        elif kind not in WRITES_NOTHING:
            assert files(self.shop.folder) != before, kind

    def _head(self) -> list[str]:
        """What git holds of names of entries and of notes and plans beside them."""
        found = (self.car / ".git").rglob("*")
        kept = [one for one in found if one.is_file() and "objects" not in one.parts]
        return [f"{one} {one.read_bytes().hex()}" for one in kept if "refs" in one.parts]

    def button(self, name: str | re.Pattern[str]) -> Any:
        return self.tab.get_by_role("button", name=name).first

    def link(self, name: str | re.Pattern[str]) -> Any:
        return self.tab.get_by_role("link", name=name).first

    def fill(self, label: str, text: str) -> None:
        self.tab.get_by_label(label, exact=True).fill(text)


def at_the_list(one: Person) -> None:
    one.at("")
    one.does("item", one.button(re.compile("^done$")))
    one.at("")
    one.does("undo", one.button(re.compile("^Undo")))
    one.at("lists/before-dyno")
    one.does(
        "item", one.tab.locator('form[data-what$="/extraction"] button', has_text="done").first
    )


def at_the_joint(one: Person) -> None:
    one.at("")
    one.follow(one.link(re.compile("^Tighten")))
    one.does("joint", one.button(re.compile("^Turned 90°, next")))
    one.at("joints").locator("#files").set_input_files(
        {"name": "hub.csv", "mimeType": "text/csv", "buffer": SHEET}
    )
    one.fill("What it is of", "hub")
    one.does("sheet-add", one.button("Read sheet"))


def notes_of_the_day(one: Person) -> None:
    one.at("odometer")
    one.fill("Reading", "89566")
    one.does("odometer", one.button("Save reading"))
    one.at("waiting")
    one.fill("Which part, whose word, what work", "a clutch")
    one.does("waiting", one.button("Save wait"))
    one.at("due")
    one.does("due", one.button("Done"))
    one.at("work")
    one.fill("What was done", "paint")
    one.does("work", one.button("Save work"))
    one.at("photo").locator("input[type=file]").first.set_input_files(PHOTO)
    one.does("photo", one.button("Save photo"))


def faults_and_parts(one: Person) -> None:
    one.at("fault?part=engine")
    one.fill("What was seen, heard, smelt or felt", "ticks when cold")
    one.does("fault", one.button("Save fault"))
    name = next((one.car / "faults").glob("*boost*")).stem
    one.at(f"fault/{name}")
    one.fill("What was done about it", "hose clamped")
    one.does("fix", one.button("Close fault"))
    one.at("parts/flywheel")
    one.fill("Number", "TF-270")
    one.does("part", one.button("Save part"))
    one.at("set?word=rated torque")
    one.tab.locator('[name="field:gearbox.rated_torque"]').fill("330")
    one.does("set", one.button("Save fields"))


def at_the_dyno(one: Person) -> None:
    pulls = [{"name": f"run-{n}.csv", "mimeType": "text/csv",
              "buffer": logger_files.pull(n, time=True, rpm=True)} for n in (1, 2)]  # fmt: skip
    one.at("dyno/add").get_by_label("Files", exact=True).set_input_files(pulls)
    one.fill("What the session is called", "today")
    one.does("dyno-add", one.button("Add files"))
    session = f"{dt.date.today()}-today"
    one.at(f"dyno/{session}").locator("#unit-3").fill("hp")
    one.does("dyno-map", one.button("Take them so"))
    one.at(f"dyno/{session}")
    one.follow(one.link("Leave this pull out"))
    one.fill("Why it is left out", "wheel slipped")
    one.does("pull-unused", one.button("Leave it out"))
    wide = logger_files.Logger(10).file(0.4, "time [s],speed [km/h],lambda")
    one.at(f"dyno/add?session={session}").get_by_label("Files of the other logger").set_input_files(
        {"name": "wide.csv", "mimeType": "text/csv", "buffer": wide}
    )
    one.tab.get_by_label("Of which pull").select_option("run-1.csv")
    one.fill("Shift, where it is known", "0.4 s")
    one.does("log-add", one.button("Add files"))


def plans_and_customer(one: Person) -> None:
    one.at("plans/stage-3")
    with one.tab.expect_download():
        one.does("quote", one.button("Quote"))
    one.at("plans/stage-3")
    one.does("plan-accept", one.button("Accepted"))
    one.at("customer")
    with one.tab.expect_download():
        one.does("customer", one.button("Make the file"))
    one.at("customer").locator("#until").fill(f"{dt.date.today() + dt.timedelta(7)}")
    one.does("link", one.button("Make a link"))


def record_and_approve(one: Person) -> None:
    one.at("record").locator("summary", has_text="Take something out").click()
    out = one.tab.locator('form[action$="act/discard"]')
    out.locator("label", has_text="hiss").first.click()
    one.does("discard", one.button("Take out"))
    one.at("record")
    one.press(one.tab.get_by_label("The pulls were made with these changes"))
    one.fill("Message", "the day")
    one.does("record", one.button(re.compile(r"^Record \d")))
    one.at("history/17")
    one.does("approve", one.button(re.compile("^Approve it")))


def a_new_car(one: Person) -> None:
    one.at("/new")
    one.fill("Make, model, version", "Pell Curlew 1.8")
    one.does("new-car", one.button("Begin its ledger"))
    assert any("Pell Curlew" in path.read_text() for path in one.shop.folder.glob("*/car.toml"))


DAY: tuple[Callable[[Person], None], ...] = (
    at_the_list, at_the_joint, notes_of_the_day, faults_and_parts, at_the_dyno, plans_and_customer,
    record_and_approve, a_new_car,
)  # fmt: skip


@pytest.mark.parametrize(
    ("width", "touch"), [(390, True), pytest.param(1280, False, marks=pytest.mark.long)],
    ids=["phone", "desk"],
)  # fmt: skip
def test_each_act_is_done_by_its_own_form(
    chromium: Any, shop: Served, width: int, touch: bool
) -> None:
    context = chromium.new_context(
        viewport={"width": width, "height": 844}, has_touch=touch, is_mobile=touch
    )
    owner = shop.paired("owner", "D-07")
    home = f"http://{shop.serving.name}:{shop.serving.port}"
    context.add_cookies([{"name": owner.cookie_name, "value": owner.secret, "url": home}])
    one = Person(context.new_page(), shop, touch)
    for part in DAY:
        part(one)
    assert set(one.acts) == ACTS.keys()
    context.close()
    done(one.car, "verify")
