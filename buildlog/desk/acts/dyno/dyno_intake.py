"""Raw files as given on the command line: read, understood, asked about."""

from __future__ import annotations

import contextlib
import hashlib
import stat
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Protocol

from buildlog.desk.acts.dyno import kept_maps
from buildlog.errors import (
    BuildlogError,
    DiskError,
    InvalidInput,
    NotFound,
    UsageError,
    in_words,
)  # fmt: skip
from buildlog.rawfiles.cutoff import without_cut_line
from buildlog.rawfiles.layout import RaggedLine
from buildlog.rawfiles.propose import ColumnQuestion, FileProposal, propose
from buildlog.rawfiles.spec import ColumnSpec, parse_map
from buildlog.store.git.ledger_files import LARGEST_FILE

_AS_BEFORE = "as said of such a file before"


@dataclass(frozen=True)
class GivenFile:
    """One file as given: its bytes, or its path where it is too large to enter a ledger."""

    path: Path
    source: bytes | Path
    size: int
    digest: str
    label: str = ""  # its name, with its folder where two files have one name

    @property
    def large(self) -> bool:
        """Whether only its sweeps enter."""
        return isinstance(self.source, Path)


@dataclass
class ColumnAnswers:
    """What the operator said: maps, columns to leave out, questions settled with "neither"."""

    maps: list[str] = field(default_factory=list)
    left_out: tuple[str, ...] = ()
    settled: set[str] = field(default_factory=set)
    standard: str | None = None


@dataclass(frozen=True)
class Understood:
    """A file with what was understood of it; `cut_line` is a last line that was cut off."""

    given: GivenFile
    proposal: FileProposal
    cut_line: int | None = None


def take_all(paths: Sequence[Path]) -> list[GivenFile]:
    """Read all files, each under a label of its own."""
    names = [path.name for path in paths]
    return [
        replace(take(path), label=path.name if names.count(path.name) == 1 else str(path))
        for path in paths
    ]


def take(path: Path) -> GivenFile:
    """Read one file. NotFound, InvalidInput or DiskError says why it cannot be read."""
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise InvalidInput(
                "this is a folder", where=str(path), hint="name the raw files in it: FOLDER/*.csv"
            )
        if not stat.S_ISREG(status.st_mode):
            raise InvalidInput("this is not an ordinary file", where=str(path))
        if status.st_size > LARGEST_FILE:
            with path.open("rb") as stream:
                digest = hashlib.file_digest(stream, "sha256").hexdigest()
            return GivenFile(path, path, status.st_size, digest)
        data = path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        raise NotFound("there is no such file", where=str(path), hint="look at the path") from None
    except OSError as error:
        raise DiskError(f"the file cannot be read: {in_words(error)}", where=str(path)) from None
    return GivenFile(path, data, len(data), hashlib.sha256(data).hexdigest())


def refuse_twice(files: Sequence[GivenFile]) -> None:
    """InvalidInput where two of the files are one recording."""
    seen: dict[str, GivenFile] = {}
    for one in files:
        first = seen.setdefault(one.digest, one)
        if first is not one:
            raise InvalidInput(
                f"{one.label} and {first.label} are the same bytes",
                where=str(one.path),
                why="one recording counted as two pulls would make the scatter look smaller",
                hint="name each recording once",
            )


def understand(files: Sequence[GivenFile], said: ColumnAnswers) -> list[Understood]:
    """What each file holds, with the operator's maps; a map must fit at least one of them."""
    plain = [_understood(one, []) for one in files]
    names = [name for one in plain for name in _names(one.proposal)]
    for text in said.maps:
        parse_map(text, list(dict.fromkeys(names)))
    return [_mapped(one, said) for one in plain]


def _mapped(one: Understood, said: ColumnAnswers) -> Understood:
    """What was said now of a file's columns, and what was kept of a file like it."""
    own = _names(one.proposal)
    maps = [spec for text in said.maps if (spec := _fitting(text, own))]
    kept, kept_out = _kept(own, maps, said)
    again = _understood(one.given, [*maps, *kept]) if maps or kept else one
    before = {spec.name for spec in kept}
    columns = tuple(
        replace(column, channel=None, candidates=(), why="left out as asked")
        if column.name in said.left_out or column.name in kept_out
        else replace(column, why=_AS_BEFORE)
        if column.name in before
        else column
        for column in again.proposal.columns
    )
    return replace(again, proposal=replace(again.proposal, columns=columns))


def _kept(
    own: list[str], maps: Sequence[ColumnSpec], said: ColumnAnswers
) -> tuple[list[ColumnSpec], set[str]]:
    """What was kept and nothing said now contradicts: maps, and columns to leave out."""
    texts, left_out = kept_maps.kept(own)
    specs = [spec for text in texts if (spec := _fitting(text, own))]
    names, channels = {one.name for one in maps}, {one.channel for one in maps}
    taken = names | set(said.left_out)
    still = [one for one in specs if one.name not in taken and one.channel not in channels]
    return still, set(left_out) - names


def remember(files: Sequence[Understood], said: ColumnAnswers) -> None:
    """Keep what was said of the files' columns for the next file like them. That a disk refuses
    it undoes nothing: the file is asked about again."""
    for one in files:
        own = _names(one.proposal)
        maps = [text for text in said.maps if _fitting(text, own)]
        with contextlib.suppress(DiskError):
            kept_maps.keep(own, maps, [name for name in said.left_out if name in own])


def _fitting(text: str, names: list[str]) -> ColumnSpec | None:
    """The map, where this file has the column it names."""
    try:
        return parse_map(text, names)
    except UsageError:
        return None


def _names(proposal: FileProposal) -> list[str]:
    return [column.name for column in proposal.columns]


def _understood(given: GivenFile, maps: Sequence[ColumnSpec]) -> Understood:
    name = given.label
    try:
        return Understood(given, propose(given.source, name, maps))
    except RaggedLine as problem:
        cut = None
        if isinstance(given.source, bytes):
            cut = without_cut_line(given.source, name, problem)
        if cut is None:
            raise
        return Understood(given, propose(cut[0], name, maps), cut[1])


def open_questions(one: Understood, said: ColumnAnswers) -> list[ColumnQuestion]:
    """What only a person can answer, and has not; conditions are another matter."""
    return [
        question
        for question in one.proposal.asked
        if question.kind != "condition"
        and question.text not in said.settled
        and not (question.kind == "standard" and said.standard)
        and not (question.columns and set(question.columns) <= set(said.left_out))
    ]


def refuse_open(files: Sequence[Understood], said: ColumnAnswers) -> None:
    """InvalidInput that lists every open question, each with how to answer it."""
    asked = [
        f"{one.given.label}: {question.text}"
        for one in files
        for question in open_questions(one, said)
    ]
    if asked:
        more = "\n  ".join(dict.fromkeys(asked))
        raise InvalidInput(
            f"what the files hold is not clear, nothing was written\n  {more}",
            hint="answer with --map CHANNEL=COLUMN:UNIT, --leave-out COLUMN, --standard-applied",
        )


def refuse_unknown(files: Sequence[Understood]) -> None:
    """InvalidInput for a file of which no column is understood."""
    for one in files:
        columns = one.proposal.columns
        if columns and all(column.channel is None for column in columns):
            names = ", ".join(f'"{name}"' for name in _names(one.proposal)[:8])
            raise InvalidInput(
                f"none of its columns is known here: {names}",
                where=one.given.label,
                hint="say what they hold: --map power=COLUMN:kW --map engine_speed=COLUMN:rpm",
            )


class WhoIsAsked(Protocol):
    """A person who can be asked while files are added."""

    def ask(self, question: str) -> str:
        """One line; "" leaves it out."""

    def tell(self, text: str) -> None:
        """What an answer led to."""


def understood(
    files: Sequence[GivenFile], said: ColumnAnswers, person: WhoIsAsked | None
) -> list[Understood]:
    """What the files hold: a person is asked what is open; where nobody is, and of what nobody
    knows, they are refused."""
    if person:
        known = ask_open(files, said, person.ask, person.tell)
    else:
        known = understand(files, said)
        refuse_open(known, said)
    refuse_unknown(known)
    return known


def ask_open(
    files: Sequence[GivenFile],
    said: ColumnAnswers,
    ask: Callable[[str], str],
    tell: Callable[[str], None],
) -> list[Understood]:
    """Ask at the terminal until nothing is open. An empty answer leaves the column out."""
    while True:
        known = understand(files, said)
        asked = next(((one, q) for one in known for q in open_questions(one, said)), None)
        if asked is None:
            return known
        one, question = asked
        tell(f"{one.given.label}: {question.text}")
        try:
            _answered(one.proposal, question, said, ask)
        except BuildlogError as problem:
            tell(str(problem))


def _answered(
    proposal: FileProposal, question: ColumnQuestion, said: ColumnAnswers, ask: Callable[[str], str]
) -> None:
    """One answer into what was said; UsageError if it is none."""
    names = _names(proposal)
    if question.kind == "standard":
        said.standard = ask("standard (Enter: unknown)") or "unknown"
        return
    if question.kind == "header":
        answers = {name: ask(f"{name}, as CHANNEL:UNIT (Enter: leave out)") for name in names}
        texts = [_from_answer(name, text) for name, text in answers.items() if text]
        said.settled.add(question.text)
    else:
        texts = _one_column(proposal, question, ask)
        if not texts:
            said.settled.add(question.text)
    for text in texts:
        parse_map(text, names)
    said.maps += texts


def _from_answer(name: str, text: str) -> str:
    channel, _, unit = text.partition(":")
    return f"{channel.strip()}={name}:{unit.strip()}"


def _one_column(
    proposal: FileProposal, question: ColumnQuestion, ask: Callable[[str], str]
) -> list[str]:
    """The map that answers a question about one column; none where it is to be left out."""
    channel, name = question.about, question.columns[0]
    if question.kind == "channel":
        channel = ask(f"{' or '.join(question.choices)} (Enter: leave it out)")
    elif question.kind == "which":
        name = ask("which column (Enter: none)")
    if not channel or not name:
        return []
    known = next((c.unit for c in proposal.columns if c.name == name and c.unit), None)
    unit = known or ask("unit (Enter: leave it out)")
    return [f"{channel}={name}:{unit}"] if unit else []
