"""What comes due: by calendar, by distance, by counts; told, done, in a calendar."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from pathlib import Path

import pytest
import vobject

from buildlog.errors import InvalidInput
from buildlog.records.car.due import Every, every
from tests.conftest import Call

MILE = 1609.344


@pytest.fixture(autouse=True)
def clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """15 June 2026, nine days after the demo's last entry."""
    day = dt.date(2026, 6, 15)
    for module in ("buildlog.desk.snapshot.snapshot.today",
                   "buildlog.desk.questions.check_all.today"):  # fmt: skip
        monkeypatch.setattr(module, lambda: day)


def ok(buildlog: Call, folder: Path, *arguments: str) -> str:
    done = buildlog(*arguments, at=folder)
    assert done.status == 0, done.err
    return done.out


@pytest.fixture
def car(demo: Path, tmp_path: Path, buildlog: Call) -> Path:
    folder = Path(shutil.copytree(demo, tmp_path / "car"))
    text = (folder / "car.toml").read_text()
    (folder / "car.toml").write_text(text.partition("\n[[due]]")[0])  # others than the demo's own
    for line in (
        ["gear oil", "--every", "5000 mi or 12 months", "--last-on", "2025-08-01",
         "--last-at", "86000 mi"],
        ["extinguisher", "--every", "2 years", "--last-on", "2024-07-01"],
        ["launch bolts", "--every", "20 passes", "--last-on", "2026-05-01"],
        ["belt", "--every", "60000 mi", "--part", "clutch"],
        ["spark plugs", "--every", "12000 mi"],
    ):  # fmt: skip
        ok(buildlog, folder, "due", "add", *line)
    return folder


def listed(buildlog: Call, folder: Path) -> dict[str, dict[str, object]]:
    found = json.loads(ok(buildlog, folder, "due", "list", "--json"))
    assert found["format"] == "buildlog/due-list/1"
    return {one["what"]: one for one in found["due"]}


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("5000 mi", Every(distance=5000 * MILE)),
        ("5000 km or 12 months", Every(distance=5e6, months=12)),
        ("2 years", Every(months=24)),
        ("6 weeks", Every(days=42)),
        ("1 day", Every(days=1)),
        ("20 passes", Every(count=20, counted="passes")),
        ("1 pass", Every(count=1, counted="passes")),
        ("5,000 mi or 12 months", Every(distance=5000 * MILE, months=12)),
        ("5,000 miles", Every(distance=5000 * MILE)),
        ("50 starts, 1 year", Every(months=12, count=50, counted="starts")),
        ("2 heat cycles", Every(count=2, counted="heat cycles")),
    ],
)
def test_intervals_as_they_are_said(text: str, meant: Every) -> None:
    found = every(text)
    assert found.distance == pytest.approx(meant.distance)
    assert (found.months, found.days, found.count, found.counted) == (
        meant.months, meant.days, meant.count, meant.counted)  # fmt: skip


@pytest.mark.parametrize("text", ["5000", "often", "0 months", "5000 mi or 3000 mi", "3 mm", ""])
def test_what_is_no_interval_is_refused(text: str) -> None:
    with pytest.raises(InvalidInput):
        every(text)


def test_the_days_by_hand(car: Path, buildlog: Call) -> None:
    """Entries of the demo: 88,412 mi or less on the first day to 89,541 mi on 6 June 2026."""
    found = listed(buildlog, car)
    history = json.loads(ok(buildlog, car, "history", "--json"))["entries"]
    known = [(dt.date.fromisoformat(e["date"]), e["odometer_km"]) for e in history
             if e["odometer_km"] is not None]  # fmt: skip
    (first, start), (last, end) = min(known), max(known)
    rate = (end - start) / (last - first).days
    oil = found["gear oil"]
    assert oil["rate_km_per_day"] == pytest.approx(rate)
    left = (86000 + 5000) * MILE / 1000 - end
    assert oil["left_km"] == pytest.approx(left)
    by_way = last + dt.timedelta(days=int(left / rate))
    assert oil["on"] == min(by_way, dt.date(2026, 8, 1)).isoformat()
    assert oil["estimated"] == (by_way < dt.date(2026, 8, 1))
    assert found["extinguisher"]["on"] == "2026-07-01"
    assert found["extinguisher"]["state"] == "soon"
    assert found["belt"]["counts_from"].startswith("clutch fitted 2026-")  # type: ignore[attr-defined]
    assert found["spark plugs"]["state"] == "unknown"
    assert found["spark plugs"]["missing"] == ["the odometer when it was last done"]


def test_passes_are_counted_from_readings(car: Path, buildlog: Call) -> None:
    assert listed(buildlog, car)["launch bolts"]["missing"] == ["how many passes since"]
    ok(buildlog, car, "due", "reading", "--passes", "12", "--date", "2026-05-20")
    ok(buildlog, car, "due", "reading", "89600 mi", "--passes", "9", "--date", "2026-06-10")
    found = listed(buildlog, car)["launch bolts"]
    assert (found["left_count"], found["state"]) == (-1, "due")
    assert "launch bolts: due" in ok(buildlog, car, "next")


def test_done_begins_anew_and_is_recorded(car: Path, buildlog: Call) -> None:
    assert "extinguisher: due soon" in ok(buildlog, car, "next")
    said = ok(buildlog, car, "due", "done", "exting", "--date", "2026-06-14", "--by", "D-02")
    assert "due/2026-06-14-extinguisher.toml" in said
    assert listed(buildlog, car)["extinguisher"]["on"] == "2028-06-14"
    ok(buildlog, car, "record", "-m", "extinguisher", "--date", "2026-06-14")
    (car / "due" / "2026-06-14-extinguisher.toml").write_text("format = 1\n")
    done = buildlog("record", "-m", "again", "--date", "2026-06-14", at=car)
    assert done.status == 4
    assert "due/2026-06-14-extinguisher.toml" in done.err


def test_the_shop_sees_it_and_the_calendar_reads_back(
    car: Path, buildlog: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file is read by another library than the one that writes it (RFC 5545)."""
    ok(buildlog, car, "record", "-m", "what comes due", "--date", "2026-06-14")
    out = tmp_path / "due.ics"
    said = ok(buildlog, tmp_path, "shop", "calendar", "due.ics", str(car))
    known = {name: one for name, one in listed(buildlog, car).items() if one["on"]}
    events = vobject.readOne(out.read_text("utf-8")).vevent_list
    assert f"{len(known)} days on 1 car" in said
    told = {event.summary.value: event for event in events}
    assert set(told) == {f"{name}: Marrow Tern 2.6" for name in known}
    for name, one in known.items():
        event = told[f"{name}: Marrow Tern 2.6"]
        assert event.dtstart.value.isoformat() == one["on"]
        assert event.dtend.value == event.dtstart.value + dt.timedelta(days=1)
    text = out.read_text("utf-8").replace("\r\n ", "")
    vin = json.loads(ok(buildlog, car, "report", "--json"))["car"]["vin"]
    assert vin not in text
    assert "D-0" not in text
    first = sorted(event.uid.value for event in events)
    ok(buildlog, tmp_path, "shop", "calendar", "due.ics", str(car), str(car))
    again = vobject.readOne(out.read_text("utf-8")).vevent_list
    assert sorted(event.uid.value for event in again) == first


def test_shop_due_tells_what_is_near(car: Path, buildlog: Call, tmp_path: Path) -> None:
    ok(buildlog, car, "record", "-m", "what comes due", "--date", "2026-06-14")
    found = json.loads(ok(buildlog, tmp_path, "shop", "list", "--due", "--json", str(car)))["due"]
    services = {one["what"]: one["on"] for one in found if one["due"] == "due"}
    assert services["extinguisher"] == "2026-07-01"  # of the past by this computer's clock
    assert "spark plugs" not in services


@pytest.mark.parametrize(
    ("line", "status", "sentence"),
    [
        (["due", "add", "oil", "--every", "often"], 4, "is no interval"),
        (["due", "add", "gear oil", "--every", "1 year"], 4, "comes due already"),
        (["due", "add", "x", "--every", "1 year", "--part", "clutsh"], 4, "is no part"),
        (["due", "done", "brakes"], 3, "nothing that comes due has"),
        (["due", "done", "oil", "--date", "2027-01-01"], 4, "lies ahead"),
        (["due", "reading"], 2, "nothing was read"),
        (["due", "reading", "ninety"], 4, "not a number and a unit"),
        (["shop", "calendar", "x.txt", "."], 2, ".ics"),
        (["shop", "calendar", "nowhere/x.ics", "."], 7, "make the folder"),
    ],
)
def test_bad_input_is_told_and_writes_nothing(
    line: list[str], status: int, sentence: str, car: Path, buildlog: Call
) -> None:
    before = (car / "car.toml").read_bytes(), sorted(car.rglob("*.toml"))
    done = buildlog(*line, at=car)
    assert done.status == status, done.err
    assert sentence in done.err
    assert before == ((car / "car.toml").read_bytes(), sorted(car.rglob("*.toml")))


def test_what_is_counted_reminds_in_next_in_the_shop_and_in_the_booklet(
    car: Path, buildlog: Call, tmp_path: Path
) -> None:
    """Starts, passes and heat cycles, each before, at and past its number."""
    from buildlog.desk.give.booklet_content import content
    from buildlog.desk.snapshot import opening
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.booklet.car import due_words
    from buildlog.report.numbers import Display

    for what, often in (("starter", "50 starts"), ("nuts", "2 heat cycles"), ("disc", "30 passes")):
        ok(buildlog, car, "due", "add", what, "--every", often, "--last-on", "2026-05-01")

    def told() -> tuple[set[str], set[str], dict[str, str]]:
        steps = {one["step"] for one in json.loads(ok(buildlog, car, "next", "--json"))["next"]}
        shop = json.loads(ok(buildlog, tmp_path, "shop", "list", "--due", "--json", str(car)))
        with opening.ledger(car) as ledger:
            found = content(Snapshot(ledger), None).dues
        words = {one.name: due_words(one, Display("us")) for one in found}
        return steps, {one["what"] for one in shop["due"]}, words

    ok(buildlog, car, "due", "reading", "--starts", "40", "--heat-cycles", "1", "--passes", "10",
       "--date", "2026-06-08")  # fmt: skip
    ok(buildlog, car, "record", "-m", "counted", "--date", "2026-06-08")
    steps, shop, words = told()
    assert not {"starter: due", "nuts: due", "disc: due"} & steps
    assert not {"starter", "nuts", "disc"} & shop
    assert words["nuts"] == "every 2 heat cycles; 1 left"
    ok(buildlog, car, "due", "reading", "--starts", "12", "--heat-cycles", "1", "--passes", "25",
       "--date", "2026-06-10")  # fmt: skip
    ok(buildlog, car, "record", "-m", "counted", "--date", "2026-06-10")
    steps, shop, words = told()
    assert {"starter: due", "nuts: due", "disc: due"} <= steps
    assert {"starter", "nuts", "disc"} <= shop
    assert (words["starter"], words["nuts"]) == ("every 50 starts; 2 over",
                                                 "every 2 heat cycles; 0 left")  # fmt: skip
