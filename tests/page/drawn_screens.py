"""Every screen of the page, drawn once for several cars, for the tests that look at them all."""

from __future__ import annotations

import shutil
from collections.abc import Collection, Iterator
from contextlib import closing
from fnmatch import fnmatch
from pathlib import Path
from typing import NamedTuple

from buildlog.errors import BuildlogError
from buildlog.page.asked import Asked
from buildlog.page.cars import Cars
from buildlog.page.screens import SCREENS, error_screen, screen
from tests.histories import history
from tests.odd_cars import LONG, made, named

HOSTILE = (
    'Marrow Tern of the second series with its options <b onclick="go()">Tern</b> \'&amp; "> '
    "{{ 7*7 }} <script>go()</script>"
)
QUERIES = {
    "/": ("", "word=tern"),
    "set": ("", "word=rated torque"),
    "fault": ("", "system=engine", "part=engine"),
    "parts": ("", "word=a"),
    "lists/*": ("", "stay=fan&open=straps"),
    "dyno/add": ("", "session=*"),
}


class Drawn(NamedTuple):
    """One screen: the car, the place with its query, and the document."""

    car: str
    place: str
    html: str


def shop_of(folder: Path, demo: Path) -> Path:
    """A shop: the demo with much that is not recorded, odd cars, one with HTML in its fields."""
    shutil.copytree(demo, folder / "demo")
    unrecorded(folder / "demo")
    made(folder / "one-entry", "one-entry").close()
    history(folder / "hostile", named(HOSTILE)).close()
    return folder


def unrecorded(car: Path) -> None:
    """A list begun, a fault, a maker's sheet half done, another clutch, and a plan."""
    from buildlog.desk.acts.car_fields import set_fields
    from buildlog.desk.acts.fault_acts import open_fault
    from buildlog.desk.acts.list_items import ItemFound, begin, tick
    from buildlog.desk.acts.plans_made import new_plan, set_plan
    from buildlog.desk.acts.torque_sheets import SheetSaid, tighten, write_sheet
    from buildlog.desk.snapshot.opening import ledger

    with ledger(car) as held:
        begin(held, "before-dyno", by="D-07")
        tick(held, "straps", ItemFound("pass"), by="D-07")
        tick(held, "fan", ItemFound("fail", note="the belt slips"), by="D-07")
        tick(held, "tyre-pressure", ItemFound(values=["26 psi"]), by="D-03")
        open_fault(held, "hiss under load", part="induction.boost", by="D-03")
        joint = {"name": "cylinder head", "count": 10, "thread": "M11x1.5", "grade": "10.9",
                 "stages": ["30 N*m", "90 deg"]}  # fmt: skip
        said = SheetSaid(source="workshop manual")
        write_sheet(held, [joint], f"head {LONG[:60]}", said)
        tighten(held, None, "cylinder head", 1, by="D-07")
        tighten(held, None, "cylinder head", 2, "75 deg", number=1, how="reading", by="D-03")
        set_fields(held, ["clutch.rated_torque=410 N*m", "clutch.part.number=TC-260"])
        new_plan(held, "stage-3")
        more = ["induction.boost.target_gauge=11 psi", "price=4200", "currency=USD"]
        set_plan(held, "stage-3", more)
        new_plan(held, "richer")
        set_plan(held, "richer", ["calibration.lambda_full_load=0.79"])


def everything(shop: Path, only: Collection[str] = ()) -> Iterator[Drawn]:
    """Every screen of the table for every car, those with a name for the names that it has; or
    only those at some places."""
    with closing(Cars(shop)) as cars:
        for key, (module, _) in SCREENS.items():
            for slug in [None] if key.startswith("/") else [*cars.places()]:
                for name in _names(cars, slug, key):
                    for query in QUERIES.get(key, ("",)):
                        place = _place(cars, key, slug, name, query)
                        if place and (not only or any(fnmatch(place, one) for one in only)):
                            yield _drawn(cars, place, module, slug, name)


def _place(cars: Cars, key: str, slug: str | None, name: str | None, query: str) -> str | None:
    """The address; None where the query asks for what the car has not."""
    if query.endswith("=*"):
        newest = next(iter(cars.open(cars.place(slug or "")).session_places), None)
        if newest is None:
            return None
        query = query.replace("*", newest)
    place = key.replace("*", name or "")
    path = place if slug is None else f"/car/{slug}/{place}"
    return f"{path}?{query}" if query else path


def _drawn(cars: Cars, place: str, module: str, slug: str | None, name: str | None) -> Drawn:
    path, _, query = place.partition("?")
    typed = dict(part.split("=") for part in query.split("&") if part)
    asked = Asked(cars, path, slug=slug, name=name, query=typed, person="D-07", right="owner",
                  token="the-token", origin="http://bl.localhost:8137")  # fmt: skip
    try:
        return Drawn(slug or "shop", place, screen(module)(asked))
    except BuildlogError as error:  # said as the server says it: nothing of this car to show
        return Drawn(slug or "shop", place, error_screen.page(asked, 404, error))


def _names(cars: Cars, slug: str | None, key: str) -> list[str | None]:
    """What may be named in the place of the star."""
    if not key.endswith("*"):
        return [None]
    if slug is None:
        return ["clutch torque", "close", "±"]
    book = cars.open(cars.place(slug))
    from buildlog.desk.questions.day_books import faults, parts_now, sheets
    from buildlog.desk.questions.plans import plan_names

    known: dict[str, list[str]] = {
        "dyno/*": list(book.session_places)[-2:],
        "lists/*": ["before-dyno", "intake"],
        "joints/*": [one.name.removesuffix(".sheet") for one in sheets(book.ledger)],
        "parts/*": [one.path for one in parts_now(book)][:2],
        "fault/*": [one.name for one in faults(book)],
        "plans/*": plan_names(book),
        "history/*": [str(len(book.entries))],
    }
    return [*known[key]]
