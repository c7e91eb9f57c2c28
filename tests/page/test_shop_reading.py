"""A shop that was never read: its first sheet does not wait for all of it, and tells how far it is;
and what stands in a car's files and in no entry yet is told of it."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator, Sequence
from contextlib import closing
from html import unescape
from pathlib import Path

import pytest

from buildlog.desk.acts.fault_acts import close_fault, open_fault
from buildlog.desk.questions import shop_index
from buildlog.desk.questions.shop_index import ShopCar
from buildlog.desk.snapshot.opening import ledger
from buildlog.page import shop_reading
from buildlog.page.asked import Asked
from buildlog.page.cars import Cars
from buildlog.page.screens import screen
from tests.histories import history
from tests.odd_cars import made, named


@pytest.fixture(scope="module")
def four(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("four")
    for number in range(1, 5):
        history(folder / f"car-{number}", named(f"Tern {number}")).close()
    return folder


class Gate(threading.Semaphore):
    """Lets as many ledgers be read as it was told; counts those that were."""

    passed = 0


@pytest.fixture
def held_back(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Gate]:
    """An empty index, and ledgers that are read one by one, each when it is let go."""
    monkeypatch.setenv("BUILDLOG_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(shop_reading, "_FEW", 1)
    monkeypatch.setattr(shop_index, "_AT_ONCE", 1)
    gate, piece = Gate(0), shop_index._piece

    def wait(places: Sequence[Path], *more: object) -> list[ShopCar]:
        assert gate.acquire(timeout=60)
        gate.passed += 1
        return piece(places, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(shop_index, "_piece", wait)
    yield gate
    gate.release(100)


def sheet(cars: Cars) -> str:
    return unescape(screen("shop_screen")(Asked(cars, "/", right="owner")))


def said(html: str) -> str:
    found = re.search("<h1>(.*?)</h1>", html)
    assert found
    return found[1].replace("\xa0", " ")


def reading(cars: Cars) -> threading.Thread:
    thread = cars.shop._thread
    assert thread is not None
    return thread


def test_the_first_sheet_tells_how_far_it_is(four: Path, held_back: Gate) -> None:
    with closing(Cars(four)) as cars:
        first = sheet(cars)
        assert said(first) == "0 of 4 cars are read."
        assert 'data-again="yes"' in first
        assert 'href="/car/car-3/"' in first, "any of them can be opened meanwhile"
        held_back.release(2)
        while said(sheet(cars)).startswith(("0 of", "1 of")):
            reading(cars).join(0.05)
        assert said(sheet(cars)).startswith("2 of 4 cars are read; of these")
        held_back.release(2)
        reading(cars).join(60)
        last = sheet(cars)
        assert "four cars" in said(last)
        assert "are read" not in last
        assert "data-again" not in last


def test_a_car_that_is_taken_away_meanwhile_is_not_shown(
    four: Path, held_back: Gate, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its folder is found when the shop is looked over, and gone when the sheet is drawn."""
    with closing(Cars(four)) as cars:
        left = {slug: place for slug, place in cars.places().items() if slug != "car-3"}
        monkeypatch.setattr(cars, "places", lambda: left)
        shown = sheet(cars)
        assert 'href="/car/car-2/"' in shown
        assert "car-3" not in shown
        held_back.release(4)


def test_who_stops_does_not_wait_for_all_of_it(four: Path, held_back: Gate) -> None:
    cars = Cars(four)
    sheet(cars)
    thread = reading(cars)
    closer = threading.Thread(target=cars.close)
    closer.start()
    held_back.release(1)
    closer.join(60)
    assert not thread.is_alive()
    assert held_back.passed <= 1, "what was begun; three were left"


def test_cars_that_cannot_be_read_do_not_keep_it_reading(
    four: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BUILDLOG_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(shop_reading, "_FEW", 1)
    for number in range(3):
        made(tmp_path / f"car-{number}", "one-entry").close()
        for pack in (tmp_path / f"car-{number}/.git/objects").rglob("*.pack"):
            pack.chmod(0o644)
            pack.write_bytes(b"torn")
    with closing(Cars(tmp_path)) as cars:
        sheet(cars)
        reading(cars).join(60)
        last = sheet(cars)
        assert "data-again" not in last
        assert last.count(">cannot be read<") == 3


def test_a_free_car_says_since_when_no_other_computer_has_it(tmp_path: Path) -> None:
    made(tmp_path / "car", "one-entry").close()
    with closing(Cars(tmp_path)) as cars:
        assert re.search(r"no copy known, since \d+ \w+", sheet(cars).replace("\xa0", " "))


def test_a_fault_that_no_entry_has_is_told_as_such(four: Path) -> None:
    with closing(Cars(four)) as cars:
        assert "not recorded yet" not in sheet(cars)
        with ledger(four / "car-2") as car:
            open_fault(car, "hiss under load", by="D-03")
        told = sheet(cars)
        assert re.search(r"Hiss under load: open since .*?, not recorded yet\.", told)
        with ledger(four / "car-2") as car:
            close_fault(car, remedy="clamp", by="D-03")
        assert "not recorded yet" not in sheet(cars)
