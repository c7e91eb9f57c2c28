"""Every act of the page, as a phone sends it in a prepared world: one table for all attacks."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from buildlog.desk.acts.list_items import item_held
from buildlog.desk.snapshot import opening
from buildlog.errors import BuildlogError
from buildlog.page.acts import ACTS, act
from buildlog.page.asked import Asked
from buildlog.page.cars import Cars
from buildlog.page.customer_links import CustomerLinks
from buildlog.page.sent import Sent, SentFile
from tests.attack.worlds import Said, at_home_in

ID, EARLIER = "a" * 32, "1" * 32  # of the act that is cut short; of one that can be undone


@dataclass(frozen=True)
class Tap:
    """One act of the page. `files`: which of the world's files go with it, by their field."""

    kind: str
    fields: Mapping[str, str]
    at: str = "car"
    files: Mapping[str, str] = field(default_factory=dict)
    id: str = ID
    stood: str = ""
    slow: bool = False

    @property
    def name(self) -> str:
        return f"page: {self.kind}"

    @property
    def command(self) -> str:
        return "serve"

    @property
    def touches(self) -> tuple[str, ...]:
        return (self.at,) if self.kind != "new-car" else ()

    def prepare(self, place: Path) -> None:
        """Nothing: what it needs is in every prepared world."""
        at_home_in(place)

    def run(self, place: Path) -> Said:
        """Send it to a copy of the world; the page's word for what came of it."""
        at_home_in(place)
        cars = Cars(place / self.at)
        links = CustomerLinks(place / "links.json")
        slug = next(iter(cars.places()))
        asked = Asked(cars, "", slug, person="D-07", right="owner", links=links, origin="http://x")
        try:
            came = act(self.kind)(asked, self._sent(place))
        except BuildlogError as error:
            return Said(error.exit_status, "", str(error))
        except OSError as error:
            return Said(7, "", str(error))
        finally:
            cars.close()
        done = came.word in ("done", "already")
        return Said(0 if done else 4, came.word, "" if done else came.said)

    def _sent(self, place: Path) -> Sent:
        told = {"{day}": dt.date.today().isoformat(), "{open}": _open(place)}
        fields = {name: [re.sub(r"\{\w+\}", lambda one: told[one[0]], value)]
                  for name, value in self.fields.items()}  # fmt: skip
        held = {name: [SentFile(file, place / file)] for name, file in self.files.items()}
        return Sent({"act": [self.id], **fields}, held)


def _open(place: Path) -> str:
    """What the screen shows of an item that nobody answered."""
    with opening.reader(place / "car") as reader:
        return item_held(reader, None, "noises")


TAPS: tuple[Tap, ...] = (
    Tap("item", {"what": "first-start/noises", "answer": "done", "old": "{open}"}),
    Tap("fault", {"symptom": "smells of fuel"}),
    Tap("fix", {"what": "belt", "remedy": "new belt"}),
    Tap("work", {"item": "paint", "done": "two coats"}),
    Tap("photo", {"of": "engine", "caption": "the gap"}, files={"photo": "gap.png"}),
    Tap("set", {"field:engine.bore": "91 mm"}),
    Tap("part", {"what": "engine", "deed": "swap", "maker": "Tolvane", "number": "E-6"}),
    Tap("joint", {"what": "{day}-head/cap/1/1", "value": "", "how": "tool setting"}),
    Tap("sheet-add", {"title": "mains"}, files={"files": "joints.csv"}),
    Tap("odometer", {"value": "88600", "unit": "mi"}),
    Tap("waiting", {"waits": "part", "for": "head gasket"}),
    Tap("due", {"what": "engine oil", "value": "88600", "unit": "mi"}),
    Tap("undo", {"what": EARLIER}),
    Tap("log-add", {"what": "run"}, "tern", {"files": "wideband.csv"}),
    Tap("link", {"what": "stage-1", "until": "{day}"}),
    Tap("customer", {"stage": "stage-1"}, "tern", slow=True),
    Tap("quote", {"what": "head"}, "tern", slow=True),
    Tap("discard", {"take": "faults/{day}-belt-squeals.toml"}),
    Tap("plan-accept", {"what": "quoted", "how": "by phone"}, "tern"),
    Tap("record", {"message": "raised", "odometer": "88600", "unit": "mi", "take": "car.toml"}),
    Tap("approve", {"message": "raised", "odometer": "88600", "unit": "mi", "take": "car.toml"}),
    Tap(
        "new-car", {"name": "Marrow Wren", "folder": "wren"}, "shop", stood="is not an empty folder"
    ),
    Tap("dyno-add", {"session": "sweeps", "gear": "4"}, files={"files": "pull.csv"}),
    Tap("dyno-map", {"what": "2026-05-14-run", "column:2": "power", "unit:2": "kW"}, "tern"),
    Tap("pull-unused", {"what": "2026-05-14-run/run-1.csv", "why": "lifted early"}, "tern"),
)
MADE_BEFORE = Tap("work", {"item": "seats"}, id=EARLIER)


def kinds() -> set[str]:
    """What the page can do."""
    return set(ACTS)
