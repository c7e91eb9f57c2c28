"""`buildlog shop list`: every car of the shop, what is due, who has a part, gains, faults."""

from __future__ import annotations

import contextlib
import os
import shlex
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from buildlog.cli.common import json_option, say, say_json, units_option

if TYPE_CHECKING:
    from buildlog.desk.questions.shop_index import ShopCar
    from buildlog.report.numbers import Display
    from buildlog.store.disk.index_db import Kept
    from buildlog.store.exchange.fleet import Fetched

_WORTH_A_BAR = 50  # ledgers to read; of gains a tenth, and any remote
_FEW = 6  # ledgers that cannot be read, before --full
_BEHIND = "sync", "the newest entry is on no other computer"
_NO_COPY = "copy", "never synced: on no other computer, as far as is known here"


@click.command("list")
@click.argument(
    "folders", metavar="DIR...", nargs=-1, type=click.Path(path_type=Path, exists=False)
)
@click.option("--find", "find", metavar="PATH=VALUE", help="Who has or had this part or value.")
@click.option("--due", is_flag=True, help="What is due: break-in, tightening, lists, faults, ...")
@click.option("--gains", is_flag=True, help="What each kind of change gave, measured, with spread.")
@click.option("--faults", is_flag=True, help="Faults by part number, with distance at failure.")
@click.option("--csv", "as_csv", is_flag=True, help="Rows for a spreadsheet instead.")
@click.option(
    "--plot", "plot", type=click.Path(path_type=Path),
    help="Write a figure of the gains, and of predicted against measured (PNG, SVG, PDF).",
)  # fmt: skip
@click.option(
    "--remote", "remote", type=click.Path(path_type=Path, dir_okay=False),
    help="A file of git servers' addresses, one a line: their ledgers too.",
)  # fmt: skip
@click.option(
    "--patience", type=click.FloatRange(1, 600), default=30.0, show_default=True,
    help="Seconds a remote may take.",
)  # fmt: skip
@click.option("--full", is_flag=True, help="Nothing cut to the width of a page.")
@units_option
@json_option
def command(
    folders: tuple[Path, ...],
    find: str | None,
    due: bool,
    gains: bool,
    faults: bool,
    as_csv: bool,
    plot: Path | None,
    remote: Path | None,
    patience: float,
    full: bool,
    units: str | None,
    as_json: bool,
) -> None:
    """One line for each car below the folders, what needs attention first.

    \b
    buildlog shop list ~/cars
    buildlog shop list ~/cars --due

    Where it stands and since when, what holds it up, its tightest limit, its last measured
    power. Only what is recorded counts; work not yet recorded is seen by `buildlog next`.
    """
    from buildlog.errors import UsageError
    from buildlog.store.disk.index_db import Kept

    if sum((find is not None, due, gains or plot is not None, faults)) > 1:
        raise UsageError("one question at a time", hint="--find, --due, --gains or --faults")
    if as_csv and as_json:
        raise UsageError("--csv and --json are two forms", hint="give one of them")
    if not folders and remote is None:
        raise UsageError("no folder is named", hint="buildlog shop list DIR...")
    places, unreached = _places(folders, remote, patience)
    with Kept() as kept:
        asked = Asked(folders, places, kept, unreached, units, full, as_csv, as_json)
        if find is not None:
            asked.find(find)
        elif gains or plot is not None:
            asked.gains(plot)
        elif faults:
            asked.faults()
        else:
            asked.standing(due)


class Asked:
    """One question to the whole shop, answered in the form that was asked for."""

    def __init__(
        self, folders: Sequence[Path], places: Sequence[tuple[str, Path]], kept: Kept,
        unreached: Sequence[Fetched],
        units: str | None, full: bool, as_csv: bool, as_json: bool,
    ) -> None:  # fmt: skip
        self.folders = folders
        self.names = [name for name, _ in places]
        self.places = [place for _, place in places]
        self.kept, self.unreached = kept, list(unreached)
        self.units, self.full, self.as_csv, self.as_json = units, full, as_csv, as_json
        self.problems: list[tuple[str, str]] = []  # ledgers that could not be read, and why

    def standing(self, due: bool) -> None:
        """Where each car stands, or what is due."""
        from buildlog.analysis.answers.shop_tables import attention, pressing
        from buildlog.report.as_json.shop_json import car_json, due_json
        from buildlog.report.as_text.shop_text import due_lines, list_lines

        found = [
            (name, self._with_copies(car))
            for name, car in zip(self.names, self._cars("standing"), strict=True)
        ]
        found.sort(key=lambda one: (attention(one[1]), one[0]))
        if due and (self.as_csv or self.as_json):
            items = [
                {"ledger": name, "name": facts["name"], **due_json(item)}
                for name, facts in found
                for item in facts.get("due", ())
            ]
            self._out("shop-due", "due", items)
            return
        if due:
            here = dict(zip(self.names, self.places, strict=True))
            read = [(name, facts) for name, facts in found if not facts.get("problem")]
            say([*due_lines(read, self._shown(read), self.full), *self._not_reached()])
            late = [here[name] for name, facts in read if pressing(facts)]
            self._next("buildlog next --ledger", [p for p in late if (p / "car.toml").exists()][:1])
            return
        self.problems = []  # they have a line of their own
        if self.as_csv or self.as_json:
            self._out("shop-list", "cars", [car_json(name, facts) for name, facts in found])
        else:
            say([*list_lines(found, self._shown(found), self.full), *self._not_reached()])
            self._next("buildlog shop list --due", self.folders)

    def _next(self, command: str, places: Sequence[Path]) -> None:
        """The line that follows, with the folders in it, so that it can be pasted."""
        if places:
            say(
                ["", f"next: {' '.join([command, *(shlex.quote(str(place)) for place in places)])}"]
            )

    def find(self, argument: str) -> None:
        """Who has, or ever had, a value."""
        from buildlog.analysis.answers.shop_facts import sought
        from buildlog.report.as_json.shop_json import hit_json, span_text
        from buildlog.report.as_text.shop_text import find_lines

        wanted = sought(argument)
        hits, read = [], 0
        for folder, car in zip(self.names, self._cars("spans"), strict=True):
            if car.facts is None:
                continue
            read += 1
            name = next((s["text"] for s in reversed(car.facts) if s["path"] == "car.name"), folder)
            hits += [(folder, name, span) for span in car.facts if wanted.fits(span)]
        if self.as_csv or self.as_json:
            self._out("shop-find", "found", [hit_json(*hit) for hit in hits])
            return
        shown = self._display(())
        told = [(folder, name, {**span, "text": span_text(span)}) for folder, name, span in hits]
        say([*find_lines(argument, told, read, shown), *self._not_reached()])

    def gains(self, plot: Path | None) -> None:
        """What each kind of change gave."""
        from buildlog.analysis.answers.shop_tables import gains_table
        from buildlog.desk.questions.shop_index import each_once
        from buildlog.report.as_json.shop_json import gains_json
        from buildlog.report.as_text.shop_text import gains_lines

        stages, left_out = [], []
        for folder, car in zip(self.names, each_once(self._cars("gains")), strict=True):
            if car is not None:
                stages += [(folder, stage) for stage in car.facts["gains"]]
                gone = car.facts["left_out"]
                left_out += [f"{folder}, {one['name']}: {one['problem']}" for one in gone]
        found = gains_table(stages)
        if plot is not None:
            _draw(found, [stage for _, stage in stages], plot)
        if self.as_csv:
            self._out("shop-gains", "stages", [{"ledger": f, **stage} for f, stage in stages])
        elif self.as_json:
            each = [{"ledger": folder, **stage} for folder, stage in stages]
            self._out("shop-gains", "gains", gains_json(found), stages=each, left_out=left_out)
        else:
            wrote = [f"wrote {plot}"] if plot is not None else []
            say([*gains_lines(found, left_out, self.full), *self._not_reached(), *wrote])
            self._next("buildlog shop list --faults", self.folders)

    def faults(self) -> None:
        """Faults by part number."""
        from buildlog.analysis.answers.shop_tables import faults_table
        from buildlog.desk.questions.shop_index import each_once
        from buildlog.report.as_json.shop_json import faults_json
        from buildlog.report.as_text.shop_text import faults_lines

        found = faults_table(
            (folder, fault)
            for folder, car in zip(self.names, each_once(self._cars("faults")), strict=True)
            if car is not None
            for fault in car.facts["faults"]
        )
        if self.as_csv or self.as_json:
            self._out("shop-faults", "faults", faults_json(found))
        else:
            say([*faults_lines(found, self._display(()), self.full), *self._not_reached()])
            self._next("buildlog shop list --due", self.folders)

    # inside

    def _cars(self, what: str) -> list[ShopCar]:
        from buildlog.desk.questions.shop_index import cars
        from buildlog.store.exchange import fleet

        worth = _WORTH_A_BAR // 10 if what == "gains" else _WORTH_A_BAR
        with _bar(len(self.places), "reading the ledgers", worth) as told:
            found = cars(self.places, what, self.kept, told)
        self.problems = [
            (name, car.problem) for name, car in zip(self.names, found, strict=True) if car.problem
        ]
        for car in found:
            if car.problem:
                fleet.forget(car.place)
        return found

    def _with_copies(self, car: ShopCar) -> dict[str, Any]:
        """A car's facts, with what is due because no other copy holds its newest entry."""
        from buildlog.desk.questions.shop_index import on_another_copy
        from buildlog.store.exchange.fleet import is_mirror

        if car.facts is None:
            return {"problem": car.problem, "name": None, "due": [], "holds_up": []}
        facts: dict[str, Any] = dict(car.facts)
        held = is_mirror(car.place) or on_another_copy(car, self.kept)
        if not held:
            code, what = _NO_COPY if held is None else _BEHIND
            item = {"code": code, "what": what, "left": None, "since": facts["date"]}
            facts["due"] = [*facts["due"], item]
        return facts

    def _shown(self, cars: Sequence[tuple[str, dict[str, Any]]]) -> Display:
        return self._display([facts.get("odometer_text") for _, facts in cars])

    def _display(self, odometers: Sequence[str | None]) -> Display:
        from buildlog.desk.snapshot import settings
        from buildlog.report.numbers import Display

        return Display(settings.shown_in(self.units, odometers or self._kept_odometers()))

    def _kept_odometers(self) -> Iterator[str | None]:
        from buildlog.desk.questions.shop_index import kept_odometers

        yield from kept_odometers(self.places, self.kept)

    def _out(self, name: str, key: str, rows: list[dict[str, Any]], **more: Any) -> None:
        if self.as_csv:
            from buildlog.report.as_json.shop_csv import csv_text

            click.echo(csv_text(rows), nl=False)
            if lines := self._not_reached():
                say(lines[1:], err=True)
            return
        gone = [{"name": one.remote.name, "problem": one.problem} for one in self.unreached]
        unread = [{"ledger": place, "problem": problem} for place, problem in self.problems]
        say_json(name, {key: rows, **more, "not_read": unread, "not_reached": gone})

    def _not_reached(self) -> list[str]:
        from buildlog.report.lines import wrap

        few = len(self.problems) if self.full else _FEW
        gone = [f"{name} could not be read: {problem}" for name, problem in self.problems[:few]]
        if len(self.problems) > few:
            gone.append(f"{len(self.problems) - few} more could not be read: --full names them")
        for one in self.unreached:
            older = "; shown as it was fetched before" if one.mirror else ""
            gone.append(f"{one.remote.name} was not reached: {one.problem}{older}")
        return ["", *(line for text in gone for line in wrap(text, 2, 0))] if gone else []


def _places(
    folders: Sequence[Path], remote: Path | None, patience: float
) -> tuple[list[tuple[str, Path]], list[Fetched]]:
    """Every ledger with a short name for it, and the remotes that were not reached."""
    from buildlog.errors import NotFound
    from buildlog.store.exchange import fleet

    found = fleet.below(folders)
    named = list(zip(_short(found), found, strict=True))
    unreached: list[Fetched] = []
    if remote is not None:
        try:
            wanted = fleet.remotes(remote.read_text("utf-8"), str(remote))
        except (OSError, UnicodeDecodeError) as error:
            raise NotFound(f"{remote} cannot be read: {error}", hint="look at --remote") from None
        with _bar(len(wanted), "fetching", 1) as told:
            fetched = fleet.fetch_all(wanted, patience, lambda _: told(1))
        named += [(one.remote.name, one.mirror) for one in fetched if one.mirror]
        unreached = [one for one in fetched if one.problem]
    if not named and not unreached:
        where = ", ".join(map(str, folders))
        raise NotFound(f"no ledger lies in {where}", hint="name the folder that holds the cars")
    return named, unreached


def _short(places: Sequence[Path]) -> list[str]:
    """Paths below the folder that they share, so that two of one name are told apart."""
    if len(places) < 2:
        return [place.name for place in places]
    base = os.path.commonpath([str(place) for place in places])
    return [os.path.relpath(place, base) for place in places]


def _draw(found: Sequence[Any], stages: Sequence[Any], plot: Path) -> None:
    from buildlog.errors import NotFound
    from buildlog.report.pictures.figures import write
    from buildlog.report.pictures.shop_pictures import draw_shop

    if not found:
        raise NotFound(
            "no stage of this shop was measured before and after, like for like",
            hint="buildlog shop list DIR... --gains says why",
        )
    write(draw_shop(found, stages), plot)


@contextlib.contextmanager
def _bar(length: int, label: str, worth: int) -> Iterator[Callable[[int], None]]:
    """A progress bar on a terminal's error stream from `worth` steps on; nothing elsewhere."""
    if length < worth or not sys.stderr.isatty():
        yield lambda _: None
        return
    with click.progressbar(length=length, label=label, file=sys.stderr) as bar:
        yield bar.update
