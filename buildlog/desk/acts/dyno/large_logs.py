"""Logs that are too large to enter a ledger: the minutes of the pulls enter at full rate, and the
whole file stays outside by its digest."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from buildlog.analysis.pulls.log_minutes import LogSketch, Rows, blocks, minutes, sketch
from buildlog.analysis.pulls.session_draft import RawFile
from buildlog.analysis.pulls.sheet import Sheet
from buildlog.desk.acts.dyno.dyno_intake import Understood
from buildlog.desk.acts.dyno.sessions import Place, cut_to
from buildlog.errors import InvalidInput
from buildlog.rawfiles.reduce import MINUTES
from buildlog.store.ledger.session_files import safe_name


@dataclass(frozen=True)
class LogOfPull:
    """A file, by its number, with its pull and, where it holds several runs, its rows."""

    file: int
    pull: str
    rows: Rows | None = None


class LargeLogs:
    """The large ones among some logs, each as a sketch of itself until it is known where its pulls
    lie: `sketched` and `contents` as they would enter, `sketches` by the number of the file."""

    def __init__(self, known: Sequence[Understood], place: Place, taken: Collection[str]) -> None:
        self.known = {n: one for n, one in enumerate(known) if one.given.large}
        self.sketches: dict[int, LogSketch] = {}
        self.sketched: dict[int, RawFile] = {}
        self.contents: dict[str, bytes] = {}
        self._rows: dict[LogOfPull, Rows] = {}
        for number, one in self.known.items():
            name = f"{Path(one.given.path.name).stem[:40]}-minutes.csv"
            safe = safe_name(name, place.name, (*place.raw, *taken, *self.contents))
            self.sketches[number] = drawn = sketch(one.given.source, one.proposal)
            self.sketched[number] = RawFile(safe, one.proposal)
            self.contents[safe] = drawn.data

    def cut(
        self, paired: Sequence[LogOfPull], result: Sheet
    ) -> tuple[dict[int, RawFile], dict[str, bytes]]:
        """Each large log as it enters, by its number, and its bytes, once the sketches are laid."""
        entering: dict[int, RawFile] = {}
        contents: dict[str, bytes] = {}
        for number, one in self.known.items():
            own = [pair for pair in paired if pair.file == number]
            kept, placed = blocks([self._minutes(pair, result) for pair in own])
            self._rows |= dict(zip(own, placed, strict=True))
            name = self.sketched[number].name
            lines = [self.sketches[number].lines(rows) for rows in kept]
            cut, contents[name] = cut_to(one, name, lines, MINUTES)
            entering[number] = replace(cut, runs=False)
        return entering, contents

    def placed(self, paired: Sequence[LogOfPull]) -> list[LogOfPull]:
        """The same pairs, those of large logs with their rows in what entered."""
        return [replace(pair, rows=self._rows.get(pair, pair.rows)) for pair in paired]

    def _minutes(self, pair: LogOfPull, result: Sheet) -> Rows:
        name = self.sketched[pair.file].name
        curves = (*result.curves, *result.unused)
        curve = next((one for one in curves if one.name == pair.pull), None)
        laid = curve and next((log for log in curve.data.logs if log.file == name), None)
        if not curve or not laid:
            raise InvalidInput(
                f"{pair.pull} cannot be read, so nobody knows which minutes of the log are its own",
                where=str(self.known[pair.file].given.path),
                why="nothing was written",
                hint="buildlog dyno sheet says what is wrong with the pull",
            )
        return minutes(self.sketches[pair.file], laid, curve.data.recorded, pair.rows)
