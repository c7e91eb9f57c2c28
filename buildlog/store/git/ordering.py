"""The order in which objects are written: each after everything that it names.

So whatever is cut short, an object that is there has all it leads to, and the next one who
finds it need not look behind it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from graphlib import TopologicalSorter

from dulwich.objects import Commit, ObjectID, ShaFile, Tag, Tree


def named_first(items: Iterable[ShaFile]) -> Iterator[ShaFile]:
    """The objects, each once, and none before another of them that it names."""
    known = {item.id: item for item in items}
    below = {item.id: [one for one in names(item) if one in known] for item in known.values()}
    return map(known.__getitem__, TopologicalSorter(below).static_order())


def names(item: ShaFile) -> list[ObjectID]:
    """What an object names, except repositories in the repository."""
    if isinstance(item, Tag):
        return [item.object[1]]
    if isinstance(item, Commit):
        return [*item.parents, item.tree]
    if isinstance(item, Tree):
        return [oid for _, mode, oid in item.items() if mode != 0o160000]
    return []


def ancestors(graph: Mapping[str, tuple[str, ...]], *names: str | None) -> set[str]:
    """The commits and everything before them."""
    found: set[str] = set()
    waiting = [name for name in names if name is not None and name in graph]
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting += graph[name]
    return found
