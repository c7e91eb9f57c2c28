"""Put calls to the program in a copy of the kept ledger, and see what they answer and write."""

from __future__ import annotations

import difflib
import hashlib
import io
import os
import re
import shlex
import shutil
from collections.abc import Iterable, Iterator
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

from tests.golden.answers import Answer, steady
from tests.golden.prepared import prepare
from tests.golden.world import standing_still

BUNDLE = Path(__file__).with_name("demo-0.1.0.bundle")
# Drawn by matplotlib, packed by zlib or made by a browser: the bytes follow those programs'
# versions, and the zip and the bundle of a handover hold such files. They are kept by name alone.
BY_NAME = {".png", ".pdf", ".zip", ".bundle", ".jpg"}
_SVG = re.compile(r"<svg.*?</svg>", re.S)
_LABEL = re.compile(r"<!-- (.*?) -->", re.S)
_PICTURE = re.compile(r"data:[\w/+;-]+;base64,[\w+/=]+")
DRAWN = "drawn by matplotlib"
_LARGE = 120_000  # characters; beyond it a digest stands for the text


def answered(calls: Iterable[str], base: Path) -> Iterator[Answer]:
    """Each call's answer, one after the other, in the folder of a fresh copy of the ledger."""
    place = base / "place"
    place.mkdir(parents=True)
    prepare(place)
    shutil.copy(BUNDLE, place / "demo.bundle")
    with standing_still(place):
        received = call("receive demo.bundle car")
        assert received[0] == 0, received
        os.chdir("car")
        for words in calls:
            yield one(words, place)


def one(words: str, place: Path) -> Answer:
    """What one call answers, and what it changed below `place`."""
    before = state(place)
    status, out, err = call(words)
    after = state(place)
    return Answer(words, status, said(out, place), said(err, place), wrote(before, after))


def call(words: str) -> tuple[int, str, str]:
    """Exit status, standard output and standard error of one call in this process."""
    from buildlog.cli.main import run

    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", newline="\n") for _ in range(2))
    with redirect_stdout(out), redirect_stderr(err):
        try:
            run(shlex.split(words))
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
            found[file.relative_to(place).as_posix()] = _content(file)
    return found


def _content(file: Path) -> str:
    if file.suffix in BY_NAME:
        return "(kept by name)\n"
    data = file.read_bytes()
    try:
        text = data.decode()
    except UnicodeDecodeError:
        return f"sha256 {hashlib.sha256(data).hexdigest()}\n"
    text = steady(_SVG.sub(_drawing, _PICTURE.sub("(picture)", text)))
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
    from dulwich.repo import Repo

    name = (folder / ".git").relative_to(place).as_posix()
    with Repo(str(folder)) as repo:
        named = {ref.decode(): held.decode() for ref, held in repo.refs.as_dict().items()}
    return {name: "".join(f"{ref} {held}\n" for ref, held in sorted(named.items()))}


def wrote(before: State, after: State) -> str:
    """The difference between two states, as unified diffs without context."""
    lines: list[str] = []
    for name in sorted(before.keys() | after.keys()):
        old, new = before.get(name, ""), after.get(name, "")
        if old != new or (name in before) != (name in after):
            mark = "-" if name not in after else "+" if name not in before else "~"
            lines.append(f"{mark} {name}\n")
            pieces = difflib.unified_diff(old.splitlines(True), new.splitlines(True), n=0)
            lines += [
                f"{x.rstrip(chr(10))}\n" for x in pieces if x[:3] not in ("---", "+++", "@@ ")
            ]
    return "".join(lines)
