"""Files of other loggers into a session, each laid over its pull: all of them, or none."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

from buildlog.analysis.car.written import RecordWith
from buildlog.analysis.pulls.log_agreement import findings, logs_beside, two_sources
from buildlog.analysis.pulls.logs_added import LogsAdded
from buildlog.analysis.pulls.recorded_layout import layout_table
from buildlog.analysis.pulls.session_draft import RawFile, columns
from buildlog.analysis.pulls.sheet import Sheet
from buildlog.analysis.pulls.sheet_work import sheet
from buildlog.desk.acts import working_files
from buildlog.desk.acts.dyno import dyno_intake, sessions
from buildlog.desk.acts.dyno.dyno_intake import ColumnAnswers, Understood
from buildlog.desk.acts.dyno.large_logs import LargeLogs, LogOfPull
from buildlog.desk.acts.dyno.sessions import Place
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError, InvalidInput, NotFound, UsageError
from buildlog.findings import Finding
from buildlog.records.car.configuration import Configuration
from buildlog.records.paths import nearest
from buildlog.records.session import LoggerFile, Session
from buildlog.records.toml import toml_edit
from buildlog.store.disk import outside_files
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.session_files import SESSION
from buildlog.units import parse

Table = dict[str, Any]
_NUMBERED = re.compile(r"[\s_.-]*(?:pull|run|log)?[\s_.-]*\d+$", re.IGNORECASE)
STATE_SHIFT = 'state what is to be added to the log\'s time: --shift "3.7 s"'


@dataclass(frozen=True)
class LogsSaid:
    """What a person says of the files of other loggers.

    `session` and `pull` by name, `shift` what is added to the log's time ("3.7 s"), `source` what
    the logger is called, `maps` what columns hold ("lambda=L").
    """

    session: str | None = None
    pull: str | None = None
    shift: str | None = None
    source: str | None = None
    maps: Sequence[str] = ()
    leave_out: Sequence[str] = ()

    def __post_init__(self) -> None:
        if self.shift is not None:
            try:
                parse(self.shift, ("time",))
            except InvalidInput as error:
                raise InvalidInput(
                    error.what, where=f"--shift {self.shift!r}", hint='--shift "3.7 s"'
                ) from None


def add_logs(
    ledger: Ledger,
    files: Sequence[Path],
    said: LogsSaid,
    operator: dyno_intake.WhoIsAsked | None = None,
) -> LogsAdded:
    """Lay files of other loggers over the pulls of a session, and keep them byte for byte: in it,
    or outside by their digest where they are too large, with the minutes of the pulls in it.

    A file that no shift can be found for is asked about, and refused where there is nobody to ask.
    """
    if not files:
        raise NotFound("no file is named", hint="buildlog dyno log FILE... --session NAME")
    place = _place(ledger, said.session)
    session = sessions.read_session(place.name, place.text or b"")
    known, answers = _understood(files, said, operator)
    paired, how = _paired(known, session, said)
    done = _LogAddition(ledger, place, session, known, paired, how, said, operator).run()
    dyno_intake.remember(known, answers)
    return done


def _place(ledger: Ledger, named: str | None) -> Place:
    """The session that is meant: the one named, else the only one that is not recorded, else the
    only one."""
    held = sorted(p.split("/")[1] for p in ledger.working().files if p.endswith(f"/{SESSION}"))
    if not held:
        raise NotFound(
            "there is no session yet",
            why="a log is laid over a pull, which must be there first",
            hint="buildlog dyno add PULL... --session NAME",
        )
    if named is not None:
        day, rest = sessions.split_name(named)
        full = f"{day}-{rest}" if day and rest else day
        fits = [name for name in held if name == full or (day is None and name[11:] == rest)]
    else:
        recorded = ledger.files(ledger.entries()[-1]) if ledger.entries() else {}
        fits = [name for name in held if f"dyno/{name}/{SESSION}" not in recorded] or held
    if len(fits) == 1:
        return sessions.place_of(ledger, fits[0])
    if named is not None and not fits:
        raise NotFound(f'there is no session "{named}"', hint=nearest(named, held))
    raise UsageError(
        f"which session is meant is open: {', '.join(fits)}", hint=f"--session {fits[-1]}"
    )


def _understood(
    files: Sequence[Path], said: LogsSaid, operator: dyno_intake.WhoIsAsked | None
) -> tuple[list[Understood], ColumnAnswers]:
    given = dyno_intake.take_all(files)
    dyno_intake.refuse_twice(given)
    answers = ColumnAnswers(list(said.maps), tuple(said.leave_out), standard="unknown")
    return dyno_intake.understood(given, answers, operator), answers


# which file belongs to which pull


def source_of(name: str) -> str:
    """What a logger is called by the name of its file.

    >>> source_of("wideband-1.csv"), source_of("obd run 2.txt"), source_of("7.csv")
    ('wideband', 'obd', '7')
    """
    stem = name.rsplit(".", 1)[0]
    return _NUMBERED.sub("", stem).strip(" _.-") or stem


def _paired(
    known: Sequence[Understood], session: Session, said: LogsSaid
) -> tuple[list[LogOfPull], str | None]:
    """Each file with its pulls, and how they were chosen where nobody said it."""
    pulls = [pull.name for pull in session.pull]
    if not pulls:
        raise InvalidInput(
            "the session holds no pull that a log could be laid over",
            hint="buildlog dyno add PULL... --session NAME",
        )
    if said.pull is not None:
        return [_whole(n, _pull_named(said.pull, session)) for n in range(len(known))], None
    if len(pulls) == 1:
        return [_whole(n, pulls[0]) for n in range(len(known))], None
    pairs: list[LogOfPull] = []
    for source, numbers in _by_source(known, said).items():
        pairs += _in_order(known, source, numbers, pulls)
    return pairs, "pulls and logs are paired in their order; --pull FILE says another"


def _whole(number: int, pull: str) -> LogOfPull:
    return LogOfPull(number, pull)


def _pull_named(named: str, session: Session) -> str:
    """The pull of this name, or of this file with or without its ending."""
    plain = named.rsplit("/", 1)[-1].casefold()
    fits = [
        pull.name
        for pull in session.pull
        if plain
        in {pull.name.casefold(), pull.file.casefold(), pull.file.rsplit(".", 1)[0].casefold()}
    ]
    if len(fits) == 1:
        return fits[0]
    names = [pull.name for pull in session.pull]
    if fits:
        raise UsageError(
            f"{named} holds several pulls: {', '.join(fits)}", hint=f'--pull "{fits[0]}"'
        )
    raise NotFound(f'the session has no pull "{named}"', hint=nearest(named, names))


def _by_source(known: Sequence[Understood], said: LogsSaid) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for number, one in enumerate(known):
        found.setdefault(said.source or source_of(one.given.path.name), []).append(number)
    return found


def _in_order(
    known: Sequence[Understood], source: str, numbers: list[int], pulls: list[str]
) -> list[LogOfPull]:
    """As many sweeps as pulls, in one file or one a file: each in its turn."""
    if len(numbers) == len(pulls):
        return [LogOfPull(n, pull) for n, pull in zip(numbers, pulls, strict=True)]
    if len(numbers) == 1:
        around = _around(known[numbers[0]])
        if len(around) == len(pulls):
            return [LogOfPull(numbers[0], p, r) for p, r in zip(pulls, around, strict=True)]
    files = ", ".join(known[n].given.label for n in numbers)
    raise UsageError(
        f"it is not clear to which pull {files} belongs: the session has {', '.join(pulls)}",
        why="one sweep looks like the next",
        hint=f'--pull "{pulls[0]}", one command for each',
    )


def _around(one: Understood) -> list[tuple[int, int]]:
    """The rows of every sweep of a stream, with what lies half-way to the next."""
    rows = [run.rows for run in one.proposal.runs if run.rows]
    if len(rows) < 2:
        return []
    between = [(a[1] + b[0]) // 2 for a, b in pairwise(rows)]
    ends = [*between, one.proposal.rows]
    return list(zip([1, *(edge + 1 for edge in between)], ends, strict=True))


# into the session


@dataclass
class _LogAddition:
    """Logs on their way into a session, once they are understood."""

    ledger: Ledger
    place: Place
    session: Session
    known: list[Understood]
    paired: list[LogOfPull]
    how: str | None
    said: LogsSaid
    operator: dyno_intake.WhoIsAsked | None

    def run(self) -> LogsAdded:
        """Draft, validate, write; of a log too large to enter, the minutes of its pulls."""
        self._refuse_present()
        shift = self.said.shift
        small = [one for one in self.known if not one.given.large]
        files, contents = sessions.raw_files(small, self.place, runs=False)
        entering = dict(zip((n for n, one in enumerate(self.known) if not one.given.large), files,
                            strict=True))  # fmt: skip
        if len(small) < len(self.known):
            large = LargeLogs(self.known, self.place, contents)
            sketched = {**entering, **large.sketched}
            _, result, shift = self._laid(sketched, {**contents, **large.contents}, shift, large)
            cut, minutes = large.cut(self.paired, result)
            entering |= cut
            contents |= minutes
            self.paired = large.placed(self.paired)
        text, result, _ = self._laid(entering, contents, shift)
        for one in self.known:
            if one.given.large:
                outside_files.put(one.given.path)
        working_files.put_session(self.ledger, self.place.name, contents, text, self.place.text)
        return self._added([entering[n] for n in range(len(self.known))], contents, result)

    def _laid(
        self,
        entering: Mapping[int, RawFile],
        contents: Mapping[str, bytes],
        shift: str | None,
        sketches: LargeLogs | None = None,
    ) -> tuple[bytes, Sheet, str | None]:
        """session.toml with the logs, its sheet, and the shift that was stated; whoever is there
        is asked for one where none can be found."""
        while True:
            items = [self._item(pair, entering[pair.file], shift, sketches) for pair in self.paired]
            _name_apart(items, self.session.log)
            text = toml_edit.append_items(self.place.text or b"", "log", items)
            result = self._worked_out(sessions.read_session(self.place.name, text), contents)
            refused = self._refused(result, contents)
            if refused is None:
                return text, result, shift
            shift = self._asked(refused)

    def _refuse_present(self) -> None:
        """InvalidInput if one of the recordings lies beside its pull already."""
        for pair in self.paired:
            given = self.known[pair.file].given
            held = next(
                (one.file for one in self.session.log if one.pull == pair.pull
                 and (one.outside_sha256 == given.digest
                      or self.place.raw.get(one.file) == given.source)), None,
            )  # fmt: skip
            if held:
                raise InvalidInput(
                    f"this log lies beside {pair.pull} already, as {held}",
                    where=str(given.path),
                    hint="name new files only; session.toml says how each is laid over its pull",
                )

    def _item(
        self, pair: LogOfPull, file: RawFile, shift: str | None, sketches: LargeLogs | None
    ) -> Table:
        given = self.known[pair.file].given.path.name
        item: Table = {"file": file.name, "pull": pair.pull}
        item["source"] = self.said.source or source_of(given)
        drawn = sketches.sketches.get(pair.file) if sketches else None
        rows = pair.rows or file.rows
        rows = drawn.of(rows) if drawn and rows else rows
        item |= {"rows": list(rows)} if rows else {}
        item |= {"shift": shift} if shift else {}
        if drawn:
            return item | {"column": list(drawn.columns)}
        if file.outside:
            item |= {"outside_sha256": file.outside[0], "outside_size": file.outside[1]}
        elif file.proposal.layout is not None:
            item["layout"] = layout_table(file.proposal.layout)
        return item | {"column": columns(file.proposal)}

    def _worked_out(self, session: Session, contents: Mapping[str, bytes]) -> Sheet:
        return sheet(
            self.place.name, session, {**self.place.raw, **contents}, self._measured(session)
        )

    def _measured(self, session: Session) -> Configuration:
        book = Snapshot(self.ledger)
        if session.configuration:
            return book.version(session.configuration).configuration
        if self.place.recorded:
            return book.history[self.place.recorded - 1].configuration
        return book.working.configuration

    def _refused(self, result: Sheet, contents: Mapping[str, bytes]) -> Finding | None:
        """Why one of the new files could not be laid over its pull."""
        for curve in (*result.curves, *result.unused):
            for finding in curve.data.log_findings:
                if any(f"({name})" in (finding.where or "") for name in contents):
                    return finding
        return None

    def _asked(self, refused: Finding) -> str:
        """A shift from the operator; InvalidInput where there is none, or no answer."""
        if self.operator is not None:
            self.operator.tell(f"{refused.where}: {refused.text}")
            answer = self.operator.ask("what to add to the log's time, as 3.7 s (Enter: stop)")
            if answer:
                return _shift(answer, self.operator)
        raise InvalidInput(
            refused.text, where=refused.where, why="nothing was written", hint=STATE_SHIFT
        )

    def _added(
        self, entering: list[RawFile], contents: Mapping[str, bytes], result: Sheet
    ) -> LogsAdded:
        new = {(entering[pair.file].name, pair.pull) for pair in self.paired}
        own = tuple(one for one in logs_beside(result) if (one.log.file, one.pull) in new)
        sources = {(one.pull, one.log.source) for one in own}
        doubled = tuple(
            two for two in two_sources(result)
            if (two.pull, two.second) in sources or (two.pull, two.first) in sources
        )  # fmt: skip
        told = [f for one in self.known for f in one.proposal.findings]
        what = self.place.name[11:] or self.place.name
        record = RecordWith(f"other loggers: {what}" if self.place.recorded else what)
        if self.place.recorded:
            record = replace(record, kind="correction", corrects=self.place.recorded)
        return LogsAdded(
            tuple(f"dyno/{self.place.name}/{one}" for one in (*contents, SESSION)), record,
            self.place.name, result.axis, tuple(entering),
            {f.name: one.given.label for f, one in zip(entering, self.known, strict=True)},
            own, doubled, self.how, self.place.recorded,
            findings=(*told, *findings(result)),
        )  # fmt: skip


def _shift(answer: str, operator: dyno_intake.WhoIsAsked) -> str:
    while True:
        try:
            return parse(answer, ("time",)).text
        except BuildlogError as problem:
            operator.tell(str(problem))
            answer = operator.ask("what to add to the log's time, as 3.7 s")


def _name_apart(items: Sequence[Table], there: Sequence[LoggerFile]) -> None:
    """Two loggers beside one pull never go by one name."""
    taken = {(one.pull, one.called) for one in there}
    for item in items:
        plain, number = item["source"], 2
        while (item["pull"], item["source"]) in taken:
            item["source"], number = f"{plain} ({number})", number + 1
        taken.add((item["pull"], item["source"]))
