"""Every command that writes, as it is called in a prepared world: one table for all attacks."""

from __future__ import annotations

import datetime as dt
import re
import shlex
from dataclasses import dataclass
from pathlib import Path

from tests.attack.worlds import Said, at_home_in, call, done


@dataclass(frozen=True)
class Act:
    """One call. `at`: the folder it is called in; `touches`: the ledgers whose entries must stand.

    `stood`: what a second call says where the first one had finished; "" where it is simply done
    again.
    """

    command: str
    words: str
    at: str = "car"
    stood: str = ""
    more: tuple[str, ...] = ()  # other ledgers that it touches
    first: str = ""
    makes: str = ""  # a ledger in which somebody goes on afterwards
    slow: bool = False  # takes seconds: fewer of its calls are tried

    @property
    def name(self) -> str:
        """The command and what tells this call from others of it."""
        return f"{self.command} {self.words}".strip()

    def prepare(self, place: Path) -> None:
        """What has to be done in this very place before."""
        at_home_in(place)
        if self.first:
            done(place / self.at, *shlex.split(self.first))

    @property
    def touches(self) -> tuple[str, ...]:
        """The ledgers that are there before, and after."""
        return tuple(one for one in (self.at, *self.more) if one != ".")

    def run(self, place: Path) -> Said:
        """Call it in a copy of the world."""
        at_home_in(place)
        (place / "settings.toml").write_text(
            f'staff = "{place}/staff.toml"\nsigning_key = "{place}/bench-1"\n'
        )
        said = {"{at}": str(place), "{day}": dt.date.today().isoformat()}
        words = [
            re.sub(r"\{\w+\}", lambda one: said[one[0]], word) for word in shlex.split(self.words)
        ]
        return call(place / self.at, *self.command.split(), *words)


_KEY = "--key {at}/bench-1"
ACTS: tuple[Act, ...] = (
    Act("new", "another --name 'Marrow Wren'", ".", stood="is not an empty folder"),
    Act("check", "--found --answers {at}/seen.toml --odometer '88400 mi' --by D-07",
        "shop/early", "there are changes that are not recorded"),
    Act("set", "engine.bore='91 mm'"),
    Act("record", "-m raised --odometer '88400 mi' --stage stage-2", stood="is already entry"),
    Act("record", "-m 'it was 89.9' --corrects 2 --odometer unknown"),
    Act("record", "--approves 2 --approved-by K-01", stood="has approved"),
    Act("diff", "first latest --plot {at}/d.svg", "tern", slow=True),
    Act("dyno add", "{at}/pull.csv --session run --gear 4", stood="in the session already"),
    Act("dyno log", "{at}/wideband.csv --session run", "tern", stood="already"),
    Act("dyno sheet", "baseline --figure {at}/s.svg", "tern", slow=True),
    Act("plan new", "turbo", stood="there is a plan"),
    Act("plan set", "cam engine.bore='92 mm'"),
    Act("plan adopt", "cam"),
    Act("plan quote", "head --html {at}/q.html", "tern", slow=True),
    Act("plan accept", "quoted --how 'by phone' --by D-07", "tern", stood="already"),
    Act("plan drop", "cam", stood="there is no plan"),
    Act("plot", "--out {at}/p.svg", "tern", slow=True),
    Act("checklist start", "intake", stood="is begun and not finished"),
    Act("checklist tick", "noises --list first-start --result pass --by D-07"),  # gone on with
    Act("torque add", "flange --count 4 --torque '22 N*m'"),
    Act("torque sheet", "{at}/joints.csv --title mains"),
    Act("torque do", "head --joint cap --stage 1 --by D-07"),
    Act("fault add", "'smells of fuel'"),
    Act("fault close", "belt --remedy 'new belt' --by D-07", stood="no open fault"),
    Act("work add", "paint --note 'two coats'"),
    Act("waiting add", "'clutch disc' --for part"),
    Act("waiting done", "gasket", stood="it waits for nothing"),
    Act("due add", "belt --every '60000 mi'", stood="comes due already"),
    Act("due done", "oil --odometer '88500 mi'"),
    Act("due reading", "'88600 mi' --source photo"),
    Act("key add", "'bench 3' --public {at}/bench-3.pub " + _KEY, stood="was there before"),
    Act("key rotate", "'bench 4' --to {at}/bench-4 " + _KEY, stood="was there before"),
    Act("key compromised", "'bench 1' --last-good 2 --key {at}/bench-2",
        stood="declared compromised already"),
    Act("key retire", "'bench 1' " + _KEY, stood="not signed by a key in use"),
    Act("attach", "{at}/note.txt", stood="is there already"),
    Act("attach", "--outside {at}/pull.csv", stood="is there already"),
    Act("attach", "--personal {at}/note.txt --folder more", stood="is there already"),
    Act("discard", "belt", stood="nothing that is not recorded"),
    Act("discard", "--back {day}-1", first="discard belt", stood="nothing is kept under"),
    Act("redact", "kept/note.txt --asked-by 'the owner' --why private"),
    Act("report", "stage-1 --out {at}/r.html", "tern", slow=True),
    Act("handover", "--to 'S. Marsh' {at}/out --no-pdf", stood="is there already", slow=True),
    Act("receive", "{at}/given.zip next", ".", stood="is there already", makes="next"),
    Act("receive", "{at}/given.zip next --sign --odometer '88300 mi'", ".", "is there already",
        makes="next"),
    Act("shop list", "--gains {at}/tern --plot {at}/g.svg", ".", slow=True),
    Act("shop calendar", "{at}/due.ics {at}/shop", "."),
    Act("shop copy", "{at}/kept-by-us", "."),
    Act("verify", ""),
    Act("repair", "", "lost", stood="leads to a whole history"),
    Act("sync", "{at}/copy", more=("copy",)),
    Act("sync", "--beside --take ours", "beside", stood="nothing stands beside"),
    Act("pack", "", "tern"),
    Act("demo", "{at}/shown", ".", stood="is there already", slow=True),
)  # fmt: skip
