"""What a newer buildlog wrote: carried untouched where an entry proves it, an error anywhere else.

Format 1 grows by fields, and each release that adds some raises its revision (`REVISION`; which
field came when: `shared/revisions.json`). An entry says in `Written-by` which revision its program
knew. A field that this program does not know is carried only where the same path and value stand
in an entry of a newer revision, and a file of a newer format only where its bytes do: everywhere
else it is the slip of the pen that it looks like.

Entries are offered as they are read, and looked into when a file is first refused.
"""

from __future__ import annotations

import contextlib
import copy
import hashlib
import json
import re
import threading
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

FORMAT, REVISION = 1, 1
WRITTEN_BY = f"buildlog, format {FORMAT}.{REVISION}"

Path = tuple[str | int, ...]
Source = Callable[[], Iterable[tuple[str, bytes]]]  # name of a model, and the text of such a file
_WRITTEN_BY = re.compile(r".*\bformat ([0-9]{1,4})\.([0-9]{1,4})")
_BARE = re.compile(r"[A-Za-z0-9_-]{1,80}")


def is_newer(written_by: str | None) -> bool:
    """Whether an entry was written by a program that knew a newer revision than this one.

    >>> is_newer(WRITTEN_BY), is_newer("buildlog, format 2.0"), is_newer(None)
    (False, True, False)
    """
    if written_by is None or written_by == WRITTEN_BY:
        return False
    known = _WRITTEN_BY.fullmatch(written_by)
    return known is not None and (int(known[1]), int(known[2])) > (FORMAT, REVISION)


class _Proven:
    """What the newer entries that were read hold."""

    def __init__(self) -> None:
        self._alone = threading.RLock()
        self._waiting: dict[str, Source] = {}
        self._read: set[str] = set()
        self._ledgers: dict[str, Callable[[], object]] = {}
        self._values: set[tuple[str, tuple[str, ...], str]] = set()
        self._files: set[tuple[str, bytes]] = set()

    def offer(self, entry_id: str, source: Source) -> None:
        """The files of a newer entry, to be looked into when somebody asks."""
        with self._alone:
            if entry_id not in self._read:
                self._waiting[entry_id] = source

    def watch(self, ledger: str, look: Callable[[], object]) -> None:
        """How the entries of a ledger that was opened are read, and so offered."""
        with self._alone:
            self._ledgers[ledger] = look

    def holds(self, model: str, path: Path, value: object) -> bool:
        """Whether a newer entry has this value at this path of such a file."""
        self._look()
        return (model, _names(path), as_text(value)) in self._values

    def holds_file(self, model: str, data: bytes) -> bool:
        """Whether a newer entry has a file of exactly these bytes."""
        self._look()
        return (model, hashlib.sha256(data).digest()) in self._files

    def _look(self) -> None:
        with self._alone:
            while self._ledgers:
                with contextlib.suppress(Exception):  # a damaged ledger proves nothing
                    self._ledgers.popitem()[1]()
            for entry_id, source in list(self._waiting.items()):
                del self._waiting[entry_id]
                with contextlib.suppress(Exception):  # a source that is closed is offered again
                    for model, data in source():
                        self._learn(model, data)
                    self._read.add(entry_id)

    def _learn(self, model: str, data: bytes) -> None:
        digest = (model, hashlib.sha256(data).digest())
        if digest in self._files:
            return
        self._files.add(digest)
        with contextlib.suppress(ValueError, RecursionError):  # not TOML, or not text
            for path, value in _everything(tomllib.loads(data.decode("utf-8-sig")), ()):
                self._values.add((model, _names(path), as_text(value)))


_proven = _Proven()
offer, watch, holds, holds_file = _proven.offer, _proven.watch, _proven.holds, _proven.holds_file


def apart(
    model: str, values: Mapping[str, Any], unknown: Sequence[Path]
) -> tuple[dict[str, Any], dict[Path, Any]]:
    """The values without the unknown fields that an entry proves, and these by their places."""
    proven = {}
    for path in unknown:
        value = value_at(values, path)
        bare = all(isinstance(part, int) or _BARE.fullmatch(part) for part in path)
        if bare and holds(model, path, value):
            proven[path] = value
    return without(values, proven), proven


def without(values: Mapping[str, Any], paths: Iterable[Path]) -> dict[str, Any]:
    """A copy without what stands at some places."""
    rest: dict[str, Any] = copy.deepcopy(dict(values))
    for path in sorted(paths, key=_last_first):
        level: Any = rest
        for part in path[:-1]:
            level = level[part]
        del level[path[-1]]
    return rest


def value_at(values: Any, path: Path) -> Any:
    """What stands at a place; LookupError where there is none."""
    for part in path:
        values = values[part]
    return values


def _last_first(path: Path) -> tuple[Any, ...]:
    """Later items of a list go before earlier ones, so that each stands where it was."""
    return tuple(-part if isinstance(part, int) else 0 for part in path)


def _names(path: Path) -> tuple[str, ...]:
    """A path without the places of items: an item may move, and a field stays what it is."""
    return tuple(part for part in path if isinstance(part, str))


def as_text(value: object) -> str:
    """All that a value says, as one text."""
    return json.dumps(value, default=lambda odd: [type(odd).__name__, str(odd)], sort_keys=True)


def _everything(value: Any, path: Path) -> Iterator[tuple[Path, Any]]:
    """Each table, list and value of a file with its place."""
    if path:
        yield path, value
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from _everything(inner, (*path, name))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from _everything(inner, (*path, place))
