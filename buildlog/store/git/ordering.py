"""The order in which objects are written: each after everything that it names.

So whatever is cut short, an object that is there has all it leads to, and the next one who
finds it need not look behind it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from dulwich.objects import Commit, ObjectID, ShaFile, Tag, Tree


def named_first(items: Iterable[ShaFile]) -> Iterator[ShaFile]:
    """The objects, each once, and none before another of them that it names."""
    known = {item.id: item for item in items}
    done: set[ObjectID] = set()
    for start in known:
        waiting = [(start, False)]  # not by recursion: a history is thousands deep
        while waiting:
            name, is_open = waiting.pop()
            if is_open:
                yield known[name]
            elif name not in done:
                done.add(name)
                waiting.append((name, True))
                below = (one for one in names(known[name]) if one in known and one not in done)
                waiting += [(one, False) for one in below]


def names(item: ShaFile) -> list[ObjectID]:
    """What an object names, except repositories in the repository."""
    if isinstance(item, Tag):
        return [item.object[1]]
    if isinstance(item, Commit):
        return [*item.parents, item.tree]
    if isinstance(item, Tree):
        return [oid for _, mode, oid in item.items() if mode != 0o160000]
    return []
