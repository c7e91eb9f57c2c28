"""The whole job, short, with a diesel, a carburetted classic, an electric car and a hybrid: not one
question, finding or word of any screen, document or page that does not fit the car."""

from __future__ import annotations

import html
import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.at_the_desk import Desk
from tests.conftest import Call
from tests.four_cars import CARS, LATER, ODD, pull_of

PLAN = {
    "diesel": ["induction.boost.target_gauge=1.8 bar", "exhaust.pipe_diameter=70 mm"],
    "classic": ["exhaust.pipe_diameter=50 mm", "exhaust.headers.kind=long-tube"],
    "electric": ["tyres.size=225/45 R17"],
    "hybrid": ["exhaust.pipe_diameter=55 mm", "tyres.size=205/60 R15"],
}
SCREENS = (
    "next --full", "check --full", "margins --full", "headroom --full", "predict baseline latest",
    "show --full", "show --parts", "diff --full", "diff baseline stage-1 --full", "history",
    "dyno sheet base --full", "dyno sheet after --full", "dyno compare base after",
    "checklist list", "torque list", "torque show", "fault list", "due list", "plan list",
    "plan show better", "report stage-1 --full", "shop list .", "shop list --due .",
)  # fmt: skip
# What is asked and offered before it is said what drives the car and what feeds it.
NO_WORD = re.compile(
    r"What drives it \(.*?\) \[.*?\]|#\s*\[fuel\.injectors\][^\n]*or \[fuel\.carburettors\]"
)


def job(name: str, desk: Desk, base: Path) -> dict[str, str]:
    """One car from its folder to its handover; what every screen and document says."""
    source, fields = CARS[name]
    electric = name == "electric"
    for number in (1, 2, 3):
        (base / f"run-{number}.csv").write_bytes(pull_of(name, number))
        (base / f"after-{number}.csv").write_bytes(pull_of(name, number + 10))
    (base / "log.csv").write_bytes(pull_of(name, 1))
    (base / "joints.csv").write_text("Joint,Qty,Torque [Nm]\nwheels,20,110\n")
    desk("new car", [f"Odd {name}", source], at=base)
    desk(f"set {shlex.join(fields)}")
    desk("checklist start intake", [""] * 30, on="2026-06-01")
    desk("record", ["", "50000 km"], on="2026-06-01")
    asked = ["", ""] if electric else ["", "", "3"]
    desk("dyno add ../run-1.csv ../run-2.csv ../run-3.csv",
         ["base", *asked[1:], "R1", "eddy-brake", "none", *[""] * 8], on="2026-06-02")  # fmt: skip
    desk("record --stage baseline", [""], on="2026-06-02")
    desk.look("checklist show intake")
    desk("plan new better")
    desk(f"plan set better {shlex.join(PLAN[name])} charge[parts]=900 currency=EUR")
    desk("plan quote better --html quote.html", on="2026-06-03")
    desk.look("plan quote better")
    desk.look("plan compare better")
    desk("plan accept better --how 'by mail'", on="2026-06-03")
    desk("plan adopt better")
    desk(f"set {shlex.join(LATER[name])}")
    desk("torque sheet ../joints.csv", on="2026-06-04")
    desk("torque do", ["d"], on="2026-06-04")
    desk("record --odometer '50020 km'", [""], on="2026-06-04")
    for one in desk.told("checklist list")["lists"]:
        if one["name"] != "intake":
            desk(f"checklist start {one['name']}", [""] * 30, on="2026-06-04")
            desk.look(f"checklist show {one['name']}")
    desk("record", [""], on="2026-06-04")
    desk("dyno add ../after-1.csv ../after-2.csv ../after-3.csv", ["after", *[""] * 14],
         on="2026-06-05")  # fmt: skip
    desk("dyno log ../log.csv --pull after-1 --shift '0 s'")
    desk("record --stage stage-1", [""], on="2026-06-05")
    desk("report stage-1 --out report.html")
    desk("due add 'brake fluid' --every '2 years'")
    desk("due reading '50900 km'", on="2026-06-20")
    desk("record", [""], on="2026-06-20")
    desk("check --found --odometer '51000 km'", ["r"] * 30, on="2026-06-21")
    desk("record --kind found", [""], on="2026-06-21")
    desk("fault add 'pulls to the left' --part tyres", on="2026-06-22")
    desk("record", [""], on="2026-06-22")
    for line in SCREENS:
        desk.look(line)
    desk("handover ../given --no-pdf --to 'the next owner' --odometer '51100 km'")
    shown = dict(desk.screens)
    documents = [desk.folder / "quote.html", desk.folder / "report.html",
                 *(base / "given").rglob("*.html"), *(base / "given").rglob("*.txt"),
                 desk.folder / "car.toml"]  # fmt: skip
    for path in documents:
        shown[path.name] = words_of(path.read_text("utf-8"))
    return shown | dict(of_the_page(desk.folder))


def of_the_page(car: Path) -> Iterator[tuple[str, str]]:
    """Every screen of the page."""
    from tests.page.drawn_screens import everything

    for one in everything(car.parent):
        asks_for_an_engine = "=engine" in one.place  # by its address, whatever the car has
        if (one.car != "shop" or one.place == "/") and not asks_for_an_engine:
            yield f"page {one.place}", words_of(one.html)


def words_of(text: str) -> str:
    """What a reader reads of a document."""
    plain = re.sub(r"(?s)<(style|script).*?</\1>|<!--.*?-->", " ", text)
    return html.unescape(re.sub(r"(?s)<[^>]+>", " ", plain))


@pytest.mark.parametrize("name", CARS)
@pytest.mark.long
def test_nothing_is_said_that_does_not_fit(
    name: str, tmp_path: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    with pytest.MonkeyPatch.context() as patch:
        shown = job(name, Desk(tmp_path / "car", buildlog, patch), tmp_path)
    odd = re.compile(rf"[^.\n]{{0,60}}(?:{ODD[name]})[^.\n]{{0,40}}", re.IGNORECASE)
    found = {
        f"{screen[:60]}: {' '.join(hit.split())}"
        for screen, text in shown.items()
        for hit in odd.findall(NO_WORD.sub("", text))
    }
    assert found == set()
