"""What is tapped on the page leaves the same files, byte for byte, as what is typed."""

from __future__ import annotations

import datetime as dt
import html
import re
import shutil
from pathlib import Path

import pytest

from buildlog.desk.acts.acting_once import held_at
from buildlog.desk.acts.car_fields import place_of
from buildlog.store.ledger.reader import Reader
from tests.attack.worlds import done
from tests.page.served import PNG, Client, Served, served

BY = "D-07"


def files(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and ".git" not in path.parts
    }


@pytest.fixture
def typed(demo: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo, tmp_path / "typed"))


def timeless(text: str) -> str:
    """Without ids, which hang on the second in which an entry was made."""
    return re.sub(r"[0-9a-f]{40}", "", text)


def act(one: Client, kind: str, **fields: str) -> None:
    told = one.act(kind, **fields)
    assert told.json["word"] == "done", (kind, told.text)


def item(one: Client, key: str, **fields: str) -> None:
    page = one.at(f"lists/before-dyno?open={key}")
    hidden = one.hidden(page, "act/item", f'data-what="before-dyno/{key}"')
    act(one, "item", what=hidden["what"], old=hidden["old"], **fields)


def test_every_act_leaves_the_files_that_the_command_leaves(here: Served, typed: Path) -> None:
    one = here.paired("write", BY)
    item(one, "straps", answer="done")
    item(one, "fan", answer="fault", note="belt loose")
    item(one, "straps", answer="does-not-apply")
    done(typed, "checklist", "start", "before-dyno")
    done(typed, "checklist", "tick", "straps", "--result", "pass", "--by", BY)
    done(typed, "checklist", "tick", "fan", "--fault", "belt loose", "--note", "belt loose",
         "--by", BY)  # fmt: skip
    done(typed, "checklist", "tick", "straps", "--result", "not-applicable", "--by", BY)

    act(one, "fault", symptom="belt squeals", part="induction.belt", codes="P0299", holds="no")
    done(typed, "fault", "add", "belt squeals", "--part", "induction.belt", "--code", "P0299",
         "--no-hold", "--by", BY)  # fmt: skip
    act(one, "fix", what="belt", remedy="new belt")
    done(typed, "fault", "close", "belt", "--remedy", "new belt", "--by", BY)

    act(one, "work", item="paint", done="two coats")
    done(typed, "work", "add", "paint", "--note", "two coats")
    fields = {"field:engine.compression_ratio": "9.4", "field:intake.filter.part.maker": "Tolvane"}
    act(one, "set", **fields)
    done(typed, "set", "engine.compression_ratio=9.4", "intake.filter.part.maker=Tolvane")
    act(one, "part", what="induction.belt", deed="swap", maker="Tolvane", number="K6-2440")
    done(typed, "set", "induction.belt.part.maker=Tolvane", "induction.belt.part.number=K6-2440")

    photo = typed.parent / "phone.png"
    photo.write_bytes(PNG)
    kept = one.upload("photo", [("photo", "image.png", PNG)], caption="header flange, gap")
    assert kept.json["word"] == "done", kept.text
    done(typed, "attach", str(photo), "--caption", "header flange, gap")
    assert files(here.folder) == files(typed)
    (told,) = (path for path in files(typed) if "gap" in path and path.endswith(".caption.toml"))
    assert told.endswith("/header-flange-gap.png.caption.toml")
    assert 'caption = "header flange, gap"' in (typed / told).read_text()
    before = files(here.folder)
    sent = one.upload("photo", [("photo", "image.png", PNG)], caption="Seal: worn", act="5" * 32)
    assert sent.json["word"] == "done"
    assert len(files(here.folder)) == len(before) + 2
    act(one, "undo", what="5" * 32)
    assert files(here.folder) == before


def test_an_entry_of_the_page_is_the_entry_of_the_command(here: Served, typed: Path) -> None:
    one = here.paired("approve", BY)
    act(one, "work", item="paint", done="two coats")
    done(typed, "work", "add", "paint", "--note", "two coats")
    act(one, "approve", message="painted", odometer="89900", unit="mi", take="car.toml")
    done(typed, "record", "-m", "painted", "--odometer", "89900 mi", "--done-by", BY,
         "--approved-by", BY)  # fmt: skip
    here_, there = (done(folder, "show", "latest", "--json") for folder in (here.folder, typed))
    assert timeless(here_) == timeless(there)
    assert files(here.folder) == files(typed)


def test_pulls_of_a_changed_car_are_recorded_with_what_they_were_made(
    here: Served, typed: Path
) -> None:
    one = here.paired("write", BY)
    for folder in (here.folder, typed):
        session = folder / "dyno/2026-11-01-again"
        shutil.copytree(next((folder / "dyno").glob("*-baseline")), session)
        text = (session / "session.toml").read_text("utf-8")
        dated = re.sub("(?m)^date = .*", "date = 2026-11-01", text)
        (session / "session.toml").write_text(dated, "utf-8")
        done(folder, "set", "tyres.pressure=2.6 bar")
    pulls = [path for path in files(typed) if path.startswith("dyno/2026-11-01-again/")]
    take = "\n".join(["car.toml", *pulls])
    act(one, "record", message="again", take=take, session_is_new="yes", odometer="89700",
        unit="mi")  # fmt: skip
    done(typed, "record", "-m", "again", "--session-is-new-configuration", "--odometer",
         "89700 mi", "--done-by", BY)  # fmt: skip
    here_, there = (done(folder, "show", "latest", "--json") for folder in (here.folder, typed))
    assert timeless(here_) == timeless(there)
    assert files(here.folder) == files(typed)


def test_an_entry_that_stands_is_approved_and_put_right(here: Served, typed: Path) -> None:
    one, other = here.paired("approve", BY), here.paired("write", "D-03")
    act(other, "work", item="paint")
    act(other, "record", message="painted", odometer="89900", unit="mi", take="car.toml",
        done_by="D-03, D-09")  # fmt: skip
    number = len(here.serving.cars.open(here.folder).entries)
    act(other, "work", item="door cards")  # stays out of the approval
    assert other.act("approve", what=str(number)).status == 403
    page = one.at(f"history/{number}")
    act(one, "approve", **one.hidden(page, "act/approve"))
    assert "act/approve" not in one.get(page).text, "once is enough"
    assert one.act("approve", what=str(number)).status == 422
    assert "Put it right" in one.get(page).text
    assert (
        f'<option value="{number}" selected>'
        in one.get(f"{one.at('record')}?corrects={number}").text
    )
    act(one, "set", **{"field:engine.compression_ratio": "9.4"})
    act(one, "record", message="was 9.4", take="car.toml", corrects=str(number), odometer="89900",
        unit="mi")  # fmt: skip

    done(typed, "work", "add", "paint")
    done(typed, "record", "-m", "painted", "--odometer", "89900 mi", "--done-by", "D-03, D-09")
    done(typed, "work", "add", "door cards")
    done(typed, "record", "--approves", str(number), "--approved-by", BY)
    done(typed, "set", "engine.compression_ratio=9.4")
    done(typed, "record", "-m", "was 9.4", "--odometer", "89900 mi", "--corrects", str(number),
         "--done-by", BY)  # fmt: skip
    mine, theirs = (done(folder, "history", "--json") for folder in (here.folder, typed))
    assert timeless(mine) == timeless(theirs)
    assert files(here.folder) == files(typed)
    entries = here.serving.cars.open(here.folder).entries
    assert [one.corrects for one in entries[-1:]] == [entries[number - 1].id]
    assert entries[number].approves == entries[number - 1].id
    version = here.serving.cars.open(here.folder).history[number - 1]
    assert (version.done_by, version.approved_by) == ("D-03, D-09", BY)


def test_fields_are_set_as_they_were_seen(here: Served) -> None:
    """Another value since is a question, whichever of several it is; mine is written when I say."""
    one = here.paired("write", BY)
    page = one.get(one.at("set") + "?word=compression").text
    held = re.search(r'name="held:engine.compression_ratio" value="(.*?)"', page)
    assert held
    fields = {"field:engine.compression_ratio": "9.4", "old:engine.compression_ratio": "",
              "held:engine.compression_ratio": html.unescape(held[1])}  # fmt: skip
    done(here.folder, "set", "engine.compression_ratio=9.1")
    asked = one.act("set", **fields)
    assert asked.status == 409
    told = asked.json["question"]
    assert isinstance(told, dict)
    assert told["now"] == "9.1"
    del fields["held:engine.compression_ratio"]
    act(one, "set", **fields, old=told["now"])
    two = {"field:engine.displacement": "2.1 L", "field:intake.filter.part.maker": "Tolvane"}
    with Reader(here.folder) as reader:
        now = {f"held:{path}": held_at(reader, "car.toml", place_of(path))
               for path in ("engine.displacement", "intake.filter.part.maker")}  # fmt: skip
    done(here.folder, "set", "intake.filter.part.maker=Other")
    assert one.act("set", **two, **now).status == 409
    now["held:intake.filter.part.maker"] = '"Other"'
    act(one, "set", **two, **now)
    assert one.act("set", **two, **now).json["word"] == "already"


def test_half_done_things_stay_out_of_an_entry_and_are_recorded_later(here: Served) -> None:
    one = here.paired("write", BY)
    item(one, "straps", answer="done")
    act(one, "work", item="paint")
    act(one, "fault", symptom="belt squeals")
    fault = next(path for path in files(here.folder) if "belt-squeals" in path)
    act(one, "record", message="a fault", take=f"car.toml\n{fault}", odometer="89900", unit="mi")
    assert one.act("record", message="again", take=fault).status == 422
    assert "nothing is ticked" in one.act("record", message="none").text
    rest = [path for path in files(here.folder) if "before-dyno" in path][-1]
    page = one.get(one.at("record")).text
    assert rest in page
    assert fault not in page
    act(one, "record", message="a list", take=rest, odometer="89900", unit="mi")
    assert "Everything is recorded" in one.get(one.at("record")).text


def test_the_last_tap_is_undone_and_only_while_nobody_changed_the_same(here: Served) -> None:
    one = here.paired("write", BY)
    before = files(here.folder)
    told = one.act("fault", "1" * 32, symptom="belt squeals")
    assert told.json["word"] == "done"
    act(one, "undo", what="1" * 32)
    assert files(here.folder) == before

    act(one, "set", **{"field:engine.compression_ratio": "9.4"})
    then = files(here.folder)
    assert one.act("set", "2" * 32, **{"field:engine.compression_ratio": "9.9"}).status == 200
    act(one, "undo", what="2" * 32)
    assert files(here.folder) == then
    assert one.act("set", "3" * 32, **{"field:engine.compression_ratio": "9.7"}).status == 200
    done(here.folder, "set", "engine.compression_ratio=10.1")
    assert one.act("undo", what="3" * 32).status == 409
    item(one, "straps", answer="done")
    listed = files(here.folder)
    hidden = one.hidden(one.at("lists/before-dyno?open=straps"), "act/item", "before-dyno/straps")
    fields = {"what": hidden["what"], "old": hidden["old"], "answer": "fault", "note": "worn"}
    assert one.act("item", "4" * 32, **fields).status == 200
    act(one, "undo", what="4" * 32)
    assert files(here.folder) == listed
    assert one.act("undo", what="f" * 32).status == 422


def test_notes_of_the_day_have_their_files(here: Served) -> None:
    one = here.paired("write", BY)
    done(here.folder, "due", "add", "gear oil", "--every", "5000 mi")
    act(one, "due", what="gear oil", value="90100", unit="mi")
    act(one, "odometer", value="90120", unit="mi")
    assert one.act("odometer", value="12", unit="mi").status == 422
    waits = {"waits": "part", "for": "head gasket", "expected": "2026-12-04"}
    act(one, "waiting", **waits)
    assert "head-gasket" in "".join(files(here.folder))
    act(one, "waiting", done="head-gasket")
    assert one.act("waiting", done="head-gasket").status == 422
    names = [path for path in files(here.folder) if path.startswith(("readings/", "waiting/"))]
    assert len(names) == 3
    assert [path for path in files(here.folder) if path.startswith("due/")]
    act(one, "record", message="notes", take="\n".join(names))


SHEET = b"joint,count,thread,torque,angle\nCylinder head,2,M11,30 N*m,90 deg\n"


def test_a_makers_sheet_is_tapped_through_bolt_by_bolt(here: Served, typed: Path) -> None:
    one = here.paired("write", BY)
    read = one.upload("sheet-add", [("files", "head.csv", SHEET)], title="head")
    assert read.json["word"] == "done", read.text
    name = next(path for path in files(here.folder) if path.endswith("head.sheet.toml"))
    sheet = name.removeprefix("torque/").removesuffix(".sheet.toml")
    for _ in range(4):
        page = one.at(f"joints/{sheet}")
        hidden = one.hidden(page, "act/joint")
        act(one, "joint", what=hidden["what"], old=hidden["old"], value="", how="tool setting")
    raw = typed.parent / "head.csv"
    raw.write_bytes(SHEET)
    done(typed, "torque", "sheet", str(raw), "--title", "head", "--by", BY)
    for number, stage in ((1, 1), (2, 1), (1, 2), (2, 2)):
        done(typed, "torque", "do", sheet, "--joint", "Cylinder head", "--stage", str(stage),
             "--number", str(number), "--by", BY)  # fmt: skip
    assert files(here.folder) == files(typed)
    wrong = one.act("joint", what=f"{sheet}/Cylinder head/9/1", how="reading", value="30 N*m")
    assert wrong.status == 422
    assert one.act("joint", what="nothing", how="reading").status == 422


def test_two_acts_of_one_phone_that_rest_on_each_other(here: Served) -> None:
    """The second says that it follows the first, as a phone does that has not seen its answer."""
    one = here.paired("write", BY)
    hidden = one.hidden(one.at("lists/before-dyno"), "act/item", 'data-what="before-dyno/straps"')
    first = {"what": hidden["what"], "old": hidden["old"], "answer": "fault"}
    second = {"what": hidden["what"], "old": f"after:{'1' * 32}", "answer": "done"}
    assert one.act("item", "2" * 32, **second).status == 409, "the first never came"
    assert one.act("item", "1" * 32, **first).json["word"] == "done"
    assert one.act("item", "3" * 32, **second).json["word"] == "done"
    assert one.act("item", "1" * 32, **first).json["word"] == "done", "a late copy"
    assert one.act("item", "4" * 32, **second).status == 200, "it says so already"
    done(here.folder, "checklist", "tick", "straps", "--result", "fail")
    assert one.act("item", "5" * 32, **second).status == 409


def test_a_shop_of_cars_and_a_new_one(demo: Path, tmp_path: Path) -> None:
    shop = tmp_path / "cars"
    shutil.copytree(demo, shop / "marrow tern")
    shutil.copytree(demo, shop / "old" / "wren")
    with served(shop) as found:
        owner = found.owner()
        assert set(found.serving.cars.places()) == {"marrow-tern", "old-wren"}
        assert owner.get("/").status == 200
        assert owner.get("/car/old-wren/").status == 200
        assert owner.get("/car/none/").status == 404
        told = owner.post("/act/new-car", act="1" * 32, name="Marrow Wren", year="1994")
        place = told.headers.get("location") or told.headers.get("Location")
        assert told.status == 303
        assert place == "/car/marrow-wren/"
        assert owner.get(place).status == 200
        again = owner.post("/act/new-car", act="2" * 32, name="Marrow Wren", year="1994")
        assert again.status == 422
        assert found.paired("write").post("/act/new-car", act="3" * 32, name="x").status == 403


def test_the_customers_file_and_its_link(looked_at: Served) -> None:
    owner, writer = looked_at.owner(), looked_at.paired("write")
    told = owner.post(owner.at("act/customer"), act="1" * 32, stage="stage-2")
    assert told.status == 200
    assert "attachment" in {name.lower(): one for name, one in told.headers.items()}[
        "content-disposition"
    ]  # fmt: skip
    vin = looked_at.serving.cars.open(looked_at.folder).newest.configuration.car.vin or ""
    assert vin[-6:] in told.text
    assert vin not in told.text
    until = str(dt.date.today() + dt.timedelta(days=3))
    assert writer.act("link", what="stage-2", until=until).status == 403
    assert owner.act("link", what="stage-2", until="2020-01-01").status == 422
    made = str(owner.act("link", what="stage-2", until=until).json["said"])
    path = made.partition(f"http://{owner.host}")[2]
    shown = looked_at.stranger().get(path)
    low = {name.lower(): one for name, one in shown.headers.items()}
    assert shown.status == 200
    assert low["referrer-policy"] == "no-referrer"
    assert low["cache-control"] == "no-store"
    assert "script" not in low["content-security-policy"]
    assert looked_at.stranger().get(f"{path}x").status == 404
    kept = next(looked_at.serving.spool.parent.glob("links-*")).read_text()
    assert path.rpartition("/")[2] not in kept


def test_prices_stand_in_the_customers_file_only_where_they_are_ticked(
    built_from_a_quote: Path,
) -> None:
    with served(built_from_a_quote) as found:
        owner = found.owner()
        form = owner.get(owner.at("customer") + "?stage=stage-3").text
        assert 'name="prices" value="yes">' in form, "not ticked beforehand"
        plain = owner.post(owner.at("act/customer"), act="1" * 32, stage="stage-3").text
        told = owner.post(owner.at("act/customer"), act="2" * 32, stage="stage-3", prices="yes")
        for price in ("$1,650", "$2,550", "$4,200"):
            assert price not in plain
            assert price in told.text
        other = owner.get(owner.at("customer") + "?stage=stage-1").text
        assert 'name="prices"' not in other
        assert "no quote of it is in this ledger" in other


@pytest.fixture
def built_from_a_quote(demo_copy: Path) -> Path:
    """A stage 3 that was quoted with its charges, accepted and built."""
    from buildlog.desk.acts.plans_made import adopt_plan, new_plan, set_plan
    from buildlog.desk.acts.promises_kept import accept_plan, make_quote
    from buildlog.desk.acts.record import EntrySaid, record
    from buildlog.desk.snapshot.opening import ledger

    with ledger(demo_copy) as held:
        new_plan(held, "stage-3")
        boost = "induction.boost.target_gauge=9.4 psi"
        set_plan(held, "stage-3", [boost, "calibration.id=T26-005", "currency=USD"])
        set_plan(held, "stage-3", ["charge[clutch]=1650", "charge[fitting, 26 hours]=2550"])
        make_quote(held, "stage-3")
        accept_plan(held, "stage-3", how="in person", by="D-01")
        adopt_plan(held, "stage-3", lambda _: {})
        record(held, EntrySaid("stage 3", stage="stage-3"))
    return demo_copy
