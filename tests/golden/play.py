"""Put calls to the program in a copy of the kept ledger, and see what they answer and write."""

from __future__ import annotations

import difflib
import hashlib
import io
import itertools
import os
import re
import shlex
import shutil
from collections.abc import Iterable, Iterator
from contextlib import redirect_stderr, redirect_stdout
from functools import lru_cache
from pathlib import Path

import pytest

from tests.golden.answers import Answer, steady
from tests.golden.prepared import prepare
from tests.golden.world import standing_still

BUNDLE = Path(__file__).with_name("demo-0.1.0.bundle")
# Drawn by matplotlib, packed by zlib or made by a browser: the bytes follow those programs'
# versions, and the zip and the bundle of a handover hold such files. They are kept by name alone.
BY_NAME = {".png", ".pdf", ".zip", ".bundle"}
_SVG = re.compile(r"<svg.*?</svg>", re.S)
_LABEL = re.compile(r"<!-- (.*?) -->", re.S)
_PICTURE = re.compile(r"data:[\w/+;-]+;base64,[\w+/=]+")
_SETS = re.compile(r"[A-Z_]+=.*", re.S)
DRAWN = "drawn by matplotlib"
_DIGEST = re.compile(r"\b[0-9a-f]{64}\b")
_SIZE = re.compile(r"(Payload-Oxum: )\d+")
_PLACE = re.compile(r"(?<=^refs/remotes/stick-)[0-9a-f]{8}")  # by the folder's whole path
_COPIED = 200  # characters from which a file with the same content as another is a copy
_LARGE = 120_000  # characters; beyond it a digest stands for the text


def answered(calls: Iterable[str], base: Path) -> Iterator[Answer]:
    """Each call's answer, one after the other, in the folder of a fresh copy of the ledger."""
    place = base / "place"
    place.mkdir(parents=True)
    shutil.copy(BUNDLE, place / "demo.bundle")
    with standing_still(place):
        received = call("receive demo.bundle car")
        assert received[0] == 0, received
        prepare(place)
        os.chdir("car")
        before = state(place)
        for words in calls:
            status, out, err = call(words)
            after = state(place)
            yield Answer(words, status, said(out, place), said(err, place), wrote(before, after))
            before = after


def call(words: str) -> tuple[int, str, str]:
    """Exit status, standard output and standard error of one call in this process.

    As in a shell, words like NAME=value before the command set the environment for it alone.
    """
    from buildlog.cli.main import run
    from buildlog.report.numbers import SPOKEN

    SPOKEN.set(None)  # each command is a process of its own
    given = shlex.split(words)
    named = list(itertools.takewhile(_SETS.fullmatch, given))
    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", newline="\n") for _ in range(2))
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out), redirect_stderr(err):
        for word in named:
            patch.setenv(*word.split("=", 1))
        try:
            run(given[len(named) :])
            status = 0
        except SystemExit as end:
            status = int(end.code or 0)
    return status, _text(out), _text(err)


def _text(stream: io.TextIOWrapper) -> str:
    stream.flush()
    held = stream.buffer
    assert isinstance(held, io.BytesIO)
    return held.getvalue().decode("utf-8", "surrogateescape")


def said(text: str, place: Path) -> str:
    """An answer without what is only of this run: its folder, the last digits of long sums."""
    return steady(text.replace(str(place), "PLACE"))


State = dict[str, str]


def state(place: Path) -> State:
    """Every file below as a text that can be compared, and what every repository refers to."""
    found: State = {}
    for folder, below, files in os.walk(place):
        if ".git" in below:
            below.remove(".git")
            found |= _references(Path(folder), place)
        for name in files:
            file = Path(folder, name)
            facts = file.stat()
            found[file.relative_to(place).as_posix()] = _content(
                file, facts.st_size, facts.st_mtime_ns, facts.st_ino
            )
    return found


@lru_cache(maxsize=4096)
def _content(file: Path, *_: int) -> str:
    """What a file holds, as far as it is the same everywhere; read again if its facts differ."""
    if file.suffix in BY_NAME:
        return "(kept by name)\n"
    data = file.read_bytes()
    try:
        text = data.decode()
    except UnicodeDecodeError:
        return f"sha256 {hashlib.sha256(data).hexdigest()}\n"
    text = steady(_SVG.sub(_drawing, _PICTURE.sub("(picture)", text)))
    if "manifest" in file.name or file.name == "bag-info.txt":  # of files that hold drawings
        text = _DIGEST.sub("(digest)", _SIZE.sub(r"\1(size)", text))
    if len(text) > _LARGE:
        return f"sha256 {hashlib.sha256(text.encode()).hexdigest()}, {text.count(chr(10))} lines\n"
    return text


def _drawing(found: re.Match[str]) -> str:
    """A drawing's labels, and a digest that only the same version of matplotlib can repeat."""
    import matplotlib

    labels = "".join(f"{label}\n" for label in _LABEL.findall(found.group()))
    digest = hashlib.sha256(found.group().encode()).hexdigest()
    return f"{labels}{DRAWN} {matplotlib.__version__}: {digest}\n"


def _references(folder: Path, place: Path) -> State:
    """What a repository's names lead to; a handover's tag lists digests of drawings."""
    from dulwich.repo import Repo

    with Repo(str(folder)) as repo:
        named = {ref.decode(): held.decode() for ref, held in repo.refs.as_dict().items()}
    lines = [
        f"{_PLACE.sub('(place)', name)} {'(tag)' if '/handover/' in name else held}\n"
        for name, held in sorted(named.items())
    ]
    return {(folder / ".git").relative_to(place).as_posix(): "".join(lines)}


def wrote(before: State, after: State) -> str:
    """The difference between two states, as unified diffs without context."""
    twins = {text: name for name, text in before.items() if len(text) > _COPIED}
    lines: list[str] = []
    for name in sorted(before.keys() | after.keys()):
        old, new = before.get(name, ""), after.get(name, "")
        if name not in before and new in twins:
            lines.append(f"+ {name} as {twins[new]}\n")
        elif old != new or (name in before) != (name in after):
            mark = "-" if name not in after else "+" if name not in before else "~"
            lines += [f"{mark} {name}\n", *_pieces(old, new)]
    return "".join(lines)


def _pieces(old: str, new: str) -> Iterator[str]:
    for piece in difflib.unified_diff(old.splitlines(), new.splitlines(), n=0, lineterm=""):
        if not piece.startswith(("---", "+++", "@@ ")):
            yield f"{piece}\n"
