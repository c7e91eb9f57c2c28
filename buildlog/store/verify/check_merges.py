"""Merges join lines and say nothing themselves: what one holds follows from its two sides.

Where both sides changed one thing differently, a merge may hold either of the two and
nothing else. This is judged by content, whatever program made the merge.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from buildlog.errors import BuildlogError, InvalidInput
from buildlog.findings import Finding
from buildlog.records import leaf_text
from buildlog.records.merge import Conflict
from buildlog.records.paths import same_value
from buildlog.store.git import ledger_files
from buildlog.store.git.repo import Repo
from buildlog.store.join import filemerge, joining
from buildlog.store.join.joining import CAR, Graph
from buildlog.store.trust.keyring import REGISTER, SIGNERS
from buildlog.store.verify.damage_words import altered, fault


def merges(repo: Repo, graph: Graph) -> Iterator[Finding]:
    """Every merge that does not follow from its sides."""
    for name, parents in graph.items():
        if len(parents) < 2:
            continue
        if len(parents) > 2:
            yield altered("merge", f"the merge {name[:8]} joins more than two lines", name)
            continue
        try:
            for text in _faults(repo, graph, name, *parents):
                yield altered("merge", f"the merge {name[:8]} {text}", name)
        except BuildlogError as error:
            yield fault("merge", error, name)


def _faults(repo: Repo, graph: Graph, name: str, one: str, other: str) -> Iterator[str]:
    held = repo.files_of(name)
    sides = [repo.files_of(one), repo.files_of(other)]
    meant = joining.join(repo, graph, one, other)
    free = {clash.path.encode("utf-8", "surrogateescape") for clash in meant.clashes}
    for path in sorted(held.keys() | meant.files.keys()):
        text = path.decode("utf-8", "surrogateescape")
        found = held.get(path)
        if found == meant.files.get(path) or ledger_files.kind_of(text) is None:
            continue
        both = [side[path][1] for side in sides if path in side]
        if found and len(both) == 2 and filemerge.form_of(text):
            yield from _fields(repo, graph, path, found[1], both, one, other)
        elif text in (REGISTER, SIGNERS):
            yield f"does not hold the keys of both sides in {text}"
        elif path not in free or found not in [side.get(path) for side in sides]:
            yield f"changes {text!r} by itself"


def _fields(
    repo: Repo, graph: Graph, path: bytes, found: str, both: list[str], one: str, other: str
) -> Iterator[str]:
    """Each field is the one that follows, or one of the two that clash."""
    name = path.decode("utf-8", "surrogateescape")
    form = filemerge.form_of(name)
    assert form is not None
    before = [repo.files_of(base) for base in joining.bases(graph, one, other)]
    texts = [repo.blob(files[path][1]) for files in before if path in files]
    mine, theirs = (repo.blob(side) for side in both)
    # An older program chose among whole files; only car.toml was always taken apart.
    if found in both and (path != CAR or not _valid(mine, theirs)):
        return
    try:
        _, clashes, meant = filemerge.joined(texts, mine, theirs, None, form)
        held = form.fields(repo.blob(found))
    except InvalidInput:
        if path == CAR:
            raise
        yield f"changes {name!r} by itself"
        return
    undecided: Mapping[str, Conflict] = {clash.path: clash for clash in clashes}
    for field in sorted(held.keys() | meant.keys() | undecided.keys()):
        value, clash = held.get(field), undecided.get(field)
        allowed = [clash.ours, clash.theirs] if clash else [meant.get(field)]
        if not any(same_value(value, one_of) for one_of in allowed):
            yield f"changes {field} in {name} by itself"


def _valid(*texts: bytes) -> bool:
    try:
        return all(leaf_text.fields(text) is not None for text in texts)
    except BuildlogError:
        return False
