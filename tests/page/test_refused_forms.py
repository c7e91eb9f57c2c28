"""What is refused comes back on its own sheet as it was filled in, with what is wrong; and what the
page lets one put right in a session leaves it readable."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from pathlib import Path
from urllib.parse import urlencode

import pytest

from tests.page.drawn_screens import unrecorded
from tests.page.served import PNG, Client, Served, served

# The sheet, the act of its form, what is typed, and what the alert must name.
REFUSED: dict[str, tuple[str, dict[str, str], str]] = {
    "odometer": ("odometer", {"value": "8954x", "unit": "mi", "note": "seen twice"}, "unit"),
    "fault?part=engine": ("fault", {"what": "engine", "symptom": "", "note": "cold"}, "missing"),
    "parts/flywheel?deed=fit": ("part", {"deed": "fit", "number": "", "note": "light"}, "part"),
    "set?word=rated torque": (
        "set",
        {"field:gearbox.rated_torque": "3o5", "unit:gearbox.rated_torque": "N*m"},
        "Write 305",
    ),
    "dyno/add": ("dyno-add", {"session": "today", "place": "Hall 2"}, "no file"),
    "waiting": ("waiting", {"waits": "part", "for": "", "note": "the red one"}, "missing"),
    "work": ("work", {"item": "", "done": "retrimmed"}, "missing"),
    "record": ("record", {"take": "car.toml", "message": "", "stage": "stage-9"}, "missing"),
}


@pytest.fixture(scope="module")
def shop(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("refused") / "ledger"
    shutil.copytree(demo, folder)
    unrecorded(folder)
    with served(folder) as found:
        yield found


@pytest.fixture(scope="module")
def owner(shop: Served) -> Client:
    return shop.owner()


def sent(owner: Client, sheet: str, act: str, fields: dict[str, str]) -> tuple[int, str]:
    """As a browser without the script sends the form of a sheet."""
    asked = owner.at(sheet.replace(" ", "+"))
    hidden = owner.hidden(asked, f"act/{act}")
    answer = owner.post(owner.at(f"act/{act}"), **{**hidden, **fields})
    return answer.status, answer.text


@pytest.mark.parametrize("sheet", REFUSED)
def test_it_comes_back_as_it_was_filled_in(owner: Client, sheet: str) -> None:
    act, fields, told = REFUSED[sheet]
    before = owner.get(owner.at(sheet.replace(" ", "+"))).text
    status, html = sent(owner, sheet, act, fields)
    assert status == 422
    alert = re.search(r'role="alert">(.*?)</p>', html)
    assert alert
    assert told.casefold() in unescape(alert[1]).replace("\xa0", " ").casefold()
    assert f'/act/{act}"' in html
    if act != "record":  # whose sentence counts what is ticked
        assert re.findall("<h1>.*?</h1>", html) == re.findall("<h1>.*?</h1>", before)
    shown = unescape(html)
    for name, typed in fields.items():
        if typed and name not in ("unit", "what", "deed", "waits", "take"):
            assert f'value="{typed}"' in shown or f">{typed}<" in shown, name


@pytest.mark.parametrize(
    ("sheet", "act", "field", "typed"),
    [("odometer", "odometer", "value", "89x66"), ("odometer", "odometer", "value", "8954q"),
     ("set?word=rated torque", "set", "field:gearbox.rated_torque", "3o5"),
     ("lists/before-dyno?open=tyre-pressure", "item", "value", "3o5")],
)  # fmt: skip
def test_what_is_wrong_stands_with_its_field(
    owner: Client, sheet: str, act: str, field: str, typed: str
) -> None:
    """Said once, and tied to the field for who cannot see it: W3C, ARIA 1.2, `aria-invalid` and
    `aria-describedby`."""
    hidden = owner.hidden(owner.at(sheet.replace(" ", "+")), f"act/{act}",
                          '/tyre-pressure"' if act == "item" else "")  # fmt: skip
    units = {"value": {"unit": "mi"}, "field:gearbox.rated_torque":
             {"unit:gearbox.rated_torque": "N*m"}}[field]  # fmt: skip
    more = {"unit": "psi", "answer": "value"} if act == "item" else units
    answer = owner.post(owner.at(f"act/{act}"), **{**hidden, **more, field: typed})
    assert answer.status == 422
    wrong = [one for one in re.findall("<input[^>]*>", answer.text) if "aria-invalid" in one]
    assert len(wrong) == 1
    assert f'name="{field}"' in wrong[0]
    assert f'value="{typed}"' in wrong[0]
    (alert,) = re.findall(r'<p [^>]*role="alert">', answer.text)
    named = re.search(r'aria-describedby="([\w-]+)', wrong[0])
    assert named
    assert f'id="{named[1]}"' in alert


def test_what_was_unticked_stays_so(owner: Client) -> None:
    """Else what was left out would be recorded at the second press."""
    fields = {"take": "car.toml", "message": ""}
    _, html = sent(owner, "record", "record", fields)
    ticks = re.findall(r'name="take" value="(.*?)"( checked)?', html)
    assert [paths for paths, checked in ticks if checked] == ["car.toml"]
    assert "One thing becomes entry 17; three stay out." in html.replace("\xa0", " ")
    assert len(ticks) > 3


def test_a_thing_of_several_files_stays_ticked(owner: Client, shop: Served) -> None:
    """A browser sends the line ends between its files as CR LF (WHATWG, HTML Living Standard, form
    submission; from memory)."""
    photo = owner.upload("photo", [("photo", "a.png", PNG)], caption="the belt")
    assert photo.json["done"] is True
    page = unescape(owner.get(owner.at("record")).text)
    several = next(one for one in re.findall(r'name="take" value="(.*?)"', page, re.DOTALL)
                   if "\n" in one)  # fmt: skip
    _, html = sent(
        owner, "record", "record", {"take": several.replace("\n", "\r\n"), "message": ""}
    )
    ticked = re.findall(r'name="take" value="([^"]*)" checked', unescape(html))
    assert ticked == [several]


def test_a_figure_is_typed_as_a_phone_lets_one(owner: Client, shop: Served) -> None:
    """The pad of some phones has a comma and no point; what may be thousands is asked about."""
    what = {"what": "before-dyno/tyre-pressure", "answer": "value", "unit": "psi"}
    told = owner.act("item", old="", **what, value="31,5").json
    assert told["word"] in ("done", "question"), told
    hidden = owner.hidden(owner.at("lists/before-dyno?open=tyre-pressure"), "act/item",
                          "before-dyno/tyre-pressure")  # fmt: skip
    told = owner.act("item", old=hidden["old"], **what, value="31,5").json
    assert told["done"] is True, told
    check = sorted((shop.folder / "checks").glob("*before-dyno*"))[-1]
    assert '"31.5 psi"' in check.read_text()
    for value, hint in (("89.566", "write 89566"), ("8o", "write 80")):
        told = owner.act("odometer", value=value, unit="mi").json
        assert hint in str(told["hint"]), told
    bolt = owner.hidden(owner.at("joints/" + joint_sheet(shop)), "act/joint", 'id="other"')
    fields = {"what": bolt["what"], "old": bolt["old"], "how": "reading"}
    told = owner.act("joint", **fields, value="9o").json
    assert "write 90" in str(told["hint"]), told


def joint_sheet(shop: Served) -> str:
    return next((shop.folder / "torque").glob("*head*.sheet.toml")).name.removesuffix(".sheet.toml")


def test_a_customers_file_says_the_last_known_odometer_or_none(owner: Client, shop: Served) -> None:
    """Also where the stage's own entries say nothing of it; never that nobody noted it."""
    from buildlog.desk.give.customers_file import stage_told
    from buildlog.report.booklet.front import line
    from buildlog.report.numbers import speaking

    book = shop.serving.cars.open(shop.folder)
    told, show = stage_told(book, "stage-2"), speaking("us")
    assert line(told, show)[0].text == "89,183 mi"
    silent = replace(told, read=None)
    words = "".join(span.text for span in line(silent, show))
    assert words.startswith("VIN ")
    assert "mi on" not in words


def test_hints_name_nothing_that_is_typed_at_a_computer(owner: Client) -> None:
    for sheet, (act, fields, _) in REFUSED.items():
        _, html = sent(owner, sheet, act, fields)
        alert = re.search(r'role="alert">(.*?)</p>', html)
        assert alert
        assert not re.search(r"--[a-z]|buildlog [a-z]", alert[1]), sheet


def session_file(shop: Served) -> Path:
    return shop.folder / "dyno/2026-11-01-again/session.toml"


@pytest.fixture(scope="module")
def again(shop: Served) -> str:
    """A session that is not recorded: the baseline's files once more."""
    place = session_file(shop).parent
    shutil.copytree(next((shop.folder / "dyno").glob("*-baseline")), place)
    text = session_file(shop).read_text("utf-8")
    session_file(shop).write_text(re.sub("(?m)^date = .*", "date = 2026-11-01", text), "utf-8")
    return place.name


def test_a_unit_that_does_not_fit_is_refused_and_stands_in_its_field(
    owner: Client, shop: Served, again: str
) -> None:
    before = session_file(shop).read_bytes()
    status, html = sent(owner, f"dyno/{again}", "dyno-map", {"unit:1": "furlong"})
    assert status == 422
    assert "is no unit of" in html
    assert 'value="furlong"' in html
    assert session_file(shop).read_bytes() == before


def test_a_column_is_left_out(owner: Client, shop: Served, again: str) -> None:
    columns = session_file(shop).read_text("utf-8").count("[[column]]")
    page = owner.get(owner.at(f"dyno/{again}")).text
    names = re.findall(r'<label for="column-(\d+)">(.*?)</label>', page)
    place = next(place for place, name in names if "Road" in name or "AFR" in name)
    status, _ = sent(owner, f"dyno/{again}", "dyno-map", {f"column:{place}": ""})
    assert status == 303
    assert session_file(shop).read_text("utf-8").count("[[column]]") == columns - 1
    assert "cannot be read" not in owner.get(owner.at(f"dyno/{again}")).text


def test_a_session_that_cannot_be_read_is_put_right_where_it_says_so(
    owner: Client, shop: Served, again: str
) -> None:
    good = session_file(shop).read_text("utf-8")
    session_file(shop).write_text(good.replace('unit = "rpm"', 'unit = "furlong"', 1), "utf-8")
    page = owner.get(owner.at(f"dyno/{again}")).text
    assert "cannot be read." in page
    place = re.search(r'name="unit:(\d+)"[^>]*value="furlong"', page)
    assert place
    status, _ = sent(owner, f"dyno/{again}", "dyno-map", {f"unit:{place[1]}": "rpm"})
    assert status == 303
    assert session_file(shop).read_text("utf-8") == good


def test_pulls_beside_a_changed_car_ask_with_what_they_were_made(owner: Client, again: str) -> None:
    """Asked by a tick, which stays as it was where the form comes back."""
    page = owner.get(owner.at("record")).text
    assert 'name="session_is_new" value="yes"><span>The pulls were made with these' in page
    files = f"dyno/{again}/pull-1.csv\ndyno/{again}/session.toml"
    take = next(one for one in re.findall(r'name="take" value="(.*?)"', page, re.DOTALL)
                if again in one) or files  # fmt: skip
    hidden = owner.hidden(owner.at("record"), "act/record")
    both = {**hidden, "take": f"car.toml\n{unescape(take)}", "message": "pulls"}
    answer = owner.post(owner.at("act/record"), **both)
    assert answer.status == 422
    assert "not clear which configuration was measured" in answer.text
    assert "session.toml" not in re.findall(r'role="alert">(.*?)</p>', answer.text)[0]
    back = owner.post(owner.at("act/record"), **{**both, "message": "", "session_is_new": "yes"})
    assert 'name="session_is_new" value="yes" checked' in back.text


def test_a_pull_is_left_out_with_its_reason_only(owner: Client, shop: Served, again: str) -> None:
    pull = sorted(path.name for path in session_file(shop).parent.glob("*.csv"))[0]
    sheet = f"dyno/{again}?pull={pull}"
    status, html = sent(owner, sheet, "pull-unused", {"why": ""})
    assert (status, "why it is left out is missing" in html.casefold()) == (422, True)
    status, _ = sent(owner, sheet, "pull-unused", {"why": "the belt slipped"})
    assert status == 303
    assert 'reason = "the belt slipped"' in session_file(shop).read_text("utf-8")


def test_each_cylinder_has_a_field_of_its_own(owner: Client, shop: Served) -> None:
    """A phone's number pad has neither blank nor semicolon."""
    sheet = owner.at("lists/intake")
    hidden = owner.hidden(sheet, "act/item", "intake/compression")
    page = owner.get(sheet).text
    form = next(one for one in re.findall(r'<form class="item".*?</form>', page, re.DOTALL)
                if "intake/compression" in one)  # fmt: skip
    cylinders = shop.serving.cars.open(shop.folder).working.configuration.engine.cylinders
    assert form.count('name="value"') == cylinders == 6

    def answered(values: list[str], answer: str, **more: str) -> tuple[int, str]:
        fields = {**hidden, "act": more.pop("act"), "answer": answer, **more}
        pairs = [*fields.items(), *(("value", one) for one in values)]
        found = owner.send("POST", owner.at("act/item"), urlencode(pairs))
        return found.status, found.text

    read = ["172", "168", "171", "165", "170", "169"]
    status, html = answered([*read[:2], "", *read[3:]], "done", act="a" * 32)
    assert status == 422
    assert "number 3 has no value" in html.casefold()
    assert re.findall(r'name="value"[^>]*value="(\d*)"', html)[:6] == [*read[:2], "", *read[3:]]
    status, _ = answered(["172", "168", "", "", "", ""], "done", act="b" * 32)
    assert status == 422
    status, _ = answered(["172", "168", "", "", "", ""], "value", act="c" * 32)
    assert status == 303, "what was measured so far"
    old = owner.hidden(sheet, "act/item", "intake/compression")["old"]
    assert answered(read, "done", act="d" * 32, old=old)[0] == 303
    checks = next((shop.folder / "checks").glob("*-intake*.toml")).parent
    newest = max(checks.glob("*intake*.toml"), key=lambda one: one.stat().st_mtime_ns)
    assert 'values = ["172 psi", "168 psi", "171 psi", "165 psi", "170 psi", "169 psi"]' in (
        newest.read_text("utf-8")
    )  # fmt: skip


def test_a_quote_says_the_end_of_the_vin_alone(owner: Client, shop: Served) -> None:
    vin = shop.serving.cars.open(shop.folder).newest.configuration.car.vin or ""
    hidden = owner.hidden(owner.at("plans/stage-3"), "act/quote")
    told = owner.post(owner.at("act/quote"), **hidden)
    assert told.status == 200
    assert vin[-6:] in told.text
    assert vin not in told.text


def test_what_is_open_today_stands_in_a_customers_file_of_an_older_stage(owner: Client) -> None:
    """The fault was found after the stage, and no entry has it yet."""
    page = owner.get(owner.at("customer") + "?stage=stage-1").text
    assert "1 fault is open." in page or "One fault is open." in page
    told = owner.post(owner.at("act/customer"), act="e" * 32, stage="stage-1").text
    assert "hiss under load" in told
    assert "No fault is open" not in told
    assert "Nothing holds up full load" not in told
